"""What does a bench tablet have to know for the day, when it may be offline from now on?

Everything that the bench page shows comes from here in one piece: people, words, places and the
trays in the order of the round. The number of queries does not grow with the trays.
"""

from __future__ import annotations

import hashlib
import json
from datetime import date, datetime
from typing import Any

from django.db.models import OuterRef, Subquery

from batches.core.signs import CAUSE_WORDS, SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS, Stage, stages_seen_next
from batches.models import Bench, CheckPhoto, House, Person, Tray, TrayCheck
from batches.services.generation import current_generation
from batches.services.holds import held_now
from batches.services.language import LANGUAGES, said
from batches.services.overdue import DueLine, overdue_lines
from batches.services.own_settings import own_setting
from batches.services.shut_places import ShutPlaces, shut_places


def bench_day(*, today: date, now: datetime) -> dict[str, Any]:
    """Return the day as plain words and numbers that JSON can hold, without the time of asking."""
    shut = shut_places(on=today, now=now)
    return {
        "generation": current_generation(),
        "nursery": own_setting("nursery_name"),
        "idle_minutes": own_setting("bench_idle_minutes"),
        "pin_needed": own_setting("bench_pin_needed"),
        "people": _people(),
        "stages": {str(stage): word for stage, word in STAGE_WORDS.items()},
        "signs": [{"word": str(sign), "label": SIGN_WORDS[sign]} for sign in Sign],
        "causes": [{"word": word, "label": label} for word, label in CAUSE_WORDS.items()],
        "bench_names": {
            bench.code: f"{bench.house}, {bench}"
            for bench in Bench.objects.select_related("house").in_walking_order()
        },
        "shut": _shut(shut),
        "trays": _trays(today=today, now=now, shut=shut),
    }


def fingerprint(day: dict[str, Any]) -> str:
    """Return the name of a day's content: equal for equal days."""
    text = json.dumps(day, sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def day_said(day: dict[str, Any], *, language: str) -> dict[str, Any]:
    """Return the day with its words in a language; names and codes stay as they are."""
    if language == next(iter(LANGUAGES)):
        return day
    known: dict[str, str] = {}

    def words(text: str) -> str:
        # Thousands of trays share few sentences.
        if text not in known:
            known[text] = "; ".join(said(piece, language=language) for piece in text.split("; "))
        return known[text]

    def labelled(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [row | {"label": words(row["label"])} for row in rows]

    return day | {
        "stages": {stage: words(word) for stage, word in day["stages"].items()},
        "signs": labelled(day["signs"]),
        "causes": labelled(day["causes"]),
        "shut": [one | {"why": words(one["why"])} for one in day["shut"]],
        "trays": [
            tray | {name: words(tray[name]) for name in ("stage_label", "last_words", "why")}
            for tray in day["trays"]
        ],
    }


def _people() -> list[dict[str, Any]]:
    found = Person.objects.filter(is_active=True).order_by("name")
    return [{"name": person.name, "pin": bool(person.pin_hash)} for person in found]


def _shut(shut: ShutPlaces) -> list[dict[str, Any]]:
    names = dict(House.objects.values_list("code", "name"))
    return [
        {
            "house": names.get(code) or code,
            "until": place.until.isoformat(),
            "why": f"treated with {place.product}",
        }
        for code, place in shut.shut.items()
    ]


def _trays(*, today: date, now: datetime, shut: ShutPlaces) -> list[dict[str, Any]]:
    reasons: dict[str, DueLine] = {}
    for line in overdue_lines(on=today, today=today, now=now):
        if line.tray is not None:
            reasons.setdefault(line.tray, line)
    held = dict(held_now().order_by("-recorded_at").values_list("tray", "reason"))
    looks = _last_looks()
    photos = _last_photos()
    return [
        _tray(tray, reasons.get(tray.code), looks.get(tray.pk), photos.get(tray.pk), shut, today)
        | {"held": held.get(tray.pk, "")}
        for tray in Tray.objects.active().with_fern().in_walking_order()
    ]


def _last_looks() -> dict[int, TrayCheck]:
    """Return the last standing look of every tray that stands, by the tray's id; one query."""
    last = (
        TrayCheck.objects.standing()
        .filter(tray=OuterRef("pk"))
        .order_by("-seen_at", "-device_seq", "-id")
        .values("id")[:1]
    )
    wanted = Tray.objects.active().annotate(last=Subquery(last)).values("last")
    return {look.tray_id: look for look in TrayCheck.objects.filter(pk__in=wanted)}


def _last_photos() -> dict[int, str]:
    """Return the address of the last small photo of every tray that stands; one query."""
    rows = (
        CheckPhoto.objects.filter(
            check_row__tray__ended_on__isnull=True, check_row__struck_by__isnull=True
        )
        .order_by("check_row__seen_at", "recorded_at")
        .values_list("check_row__tray_id", "id")
    )
    return {tray_id: f"/photos/{photo_id}/small/" for tray_id, photo_id in rows}


def _tray(
    tray: Tray,
    line: DueLine | None,
    look: TrayCheck | None,
    photo: str | None,
    shut: ShutPlaces,
    today: date,
) -> dict[str, Any]:
    name = tray.batch.taxon.name
    stage = Stage(tray.stage)
    behind = shut.of(tray)
    return {
        "code": tray.code,
        "fern": name.text,
        "fern_html": name.html,
        "bench": None if tray.bench is None else tray.bench.code,
        "row": tray.row,
        "column": tray.column,
        "stage": str(stage),
        "stage_label": STAGE_WORDS[stage],
        "route": str(tray.route),
        "next_stages": [str(one) for one in stages_seen_next(tray.route, stage)],
        "unit": tray.unit,
        "alive": tray.alive,
        "capacity": tray.cells,
        "last_look": _iso(tray.last_look_on),
        "last_by": "" if look is None else look.by,
        "last_words": _words(tray, look),
        "signs": [str(sign) for sign in Sign if sign in tray.signs],
        "due_on": _iso(tray.due_on),
        "late": tray.is_late_in_stage(today),
        "why": "" if line is None else line.reason,
        "cover": tray.cover,
        "isolated": tray.isolated,
        "control": tray.control,
        "shut_until": None if behind is None else behind.until.isoformat(),
        "unlabelled": tray.label_printed_on is None,
        "photo": photo,
    }


def _words(tray: Tray, look: TrayCheck | None) -> str:
    """Return a look in few words: “mould; about 84 patches”; empty without one."""
    if look is None:
        return ""
    if look.glance:
        return "all well at a glance"
    words = [SIGN_WORDS[sign] for sign in Sign if sign in look.sign_set]
    if look.count is not None:
        words.append(f"{'about ' if look.about else ''}{look.count} {tray.unit}")
    return "; ".join(words) or "nothing new"


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
