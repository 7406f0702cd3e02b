"""What from the bench contradicts the records, and how was it settled?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from batches.core.errors import NotPossibleNow
from batches.core.signs import CAUSE_WORDS, SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS
from batches.models import ToSettle
from batches.services.change_notes import note_change
from batches.services.sync_items import SKEW_TOLD, said_by_device, text_of

_SETTLED_SHOWN = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """Something that waits, or was settled, in words.

    ``told_at`` is what the tablet's clock said, where it was more than five minutes off; ``can``
    says whether anything but leaving it out is left to do.
    """

    row: ToSettle
    words: str
    told_at: datetime | None
    not_proved: bool
    can: bool


def waiting_to_be_settled() -> list[Matter]:
    """Return what waits, the oldest first."""
    return _matters(
        ToSettle.objects.open().select_related("tray", "device").order_by("recorded_at", "at")[:500]
    )


def settled_lately() -> list[Matter]:
    """Return what somebody settled, the latest first."""
    rows = ToSettle.objects.filter(settled_at__isnull=False).exclude(settled_by="")
    return _matters(rows.select_related("tray", "device").order_by("-settled_at")[:_SETTLED_SHOWN])


def settle(*, item_id: UUID, how: str, by: str, now: datetime) -> ToSettle:
    """Note how something was settled; it and what was sent stay readable.

    Raises
    ------
    NotPossibleNow
        When it was settled before, or never waited.
    """
    rows = ToSettle.objects.open().filter(pk=item_id)
    with transaction.atomic():
        if not rows.update(settled_at=now, settled_by=by[:80], settled_how=how.strip()[:200]):
            raise NotPossibleNow("This was settled already. Nothing was changed.")
        note_change(what="settled", now=now, by=by, about=str(item_id), after=how)
    return ToSettle.objects.get(pk=item_id)


def words_of_item(raw: dict[str, Any]) -> str:
    """Return what a tablet's item says as a sentence, however odd it is."""
    kind = raw.get("kind")
    if kind == "strike_out":
        words = "a look or a picking struck out"
    elif kind == "move":
        place = [f"to bench {_short(raw.get('bench'))}"]
        place += [f"{name} {_short(raw[name])}" for name in ("row", "column") if raw.get(name)]
        words = ", ".join(place)
    elif kind in {"prick_out", "pot_up"}:
        words = _picking_words(raw)
    else:
        words = ", ".join(_look_words(raw)) or "looked, nothing new"
    return f"{words[:1].upper()}{words[1:]}."


def _matters(rows: Iterable[ToSettle]) -> list[Matter]:
    found = []
    for row in rows:
        said = said_by_device(row.item)
        off = said is not None and row.at is not None and abs(said - row.at) > SKEW_TOLD
        found.append(
            Matter(
                row=row,
                words=words_of_item(row.item),
                told_at=said if off else None,
                not_proved=row.item.get("by_verified") is False,
                can=row.item.get("kind") != "strike_out",
            )
        )
    return found


def _look_words(raw: dict[str, Any]) -> Iterable[str]:
    stages = {str(stage): word for stage, word in STAGE_WORDS.items()}
    if raw.get("stage_seen"):
        word = text_of(raw["stage_seen"])
        yield f"{stages.get(word, _short(word))} seen"
    if raw.get("count") is not None:
        yield f"{'about ' if raw.get('about') else ''}{_short(raw['count'])} alive"
    for loss in _dicts(raw.get("losses")):
        cause = text_of(loss.get("cause"))
        why = CAUSE_WORDS.get(cause, _short(cause)) or "no cause noted"
        yield f"{_short(loss.get('quantity'))} lost ({why})"
    signs = raw.get("signs")
    for word in signs if isinstance(signs, list) else ():
        yield SIGN_WORDS[Sign(word)] if word in set(Sign) else _short(word)
    if raw.get("note"):
        yield f"“{text_of(raw['note'])[:200]}”"


def _picking_words(raw: dict[str, Any]) -> str:
    done = "pricked out" if raw.get("kind") == "prick_out" else "potted up"
    into = [
        f"{_short(one.get('quantity'))} into {_short(one.get('code')) or 'a new tray'}"
        for one in _dicts(raw.get("trays"))
    ]
    return f"{_short(raw.get('quantity'))} left and were {done}: {', '.join(into) or 'nowhere'}"


def _dicts(value: object) -> list[dict[str, Any]]:
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def _short(value: object) -> str:
    return text_of(value)[:40]
