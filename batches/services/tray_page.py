"""What is the story of one tray: its origin, what was seen, what became of its plants?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q

from batches.core.history import Passage
from batches.core.lateness import Outlook
from batches.core.ledger import CHANGE_WORDS, Balance, Change, balance, in_unit
from batches.core.signs import CAUSE_WORDS, SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS, Stage
from batches.models import KeepingChange, Place, PlantMovement, StageTransition, Tray, TrayCheck
from batches.services import standing
from batches.services.days import at_noon, local_day
from batches.services.evidence import gather
from batches.services.keeping import keeping_words


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One thing that happened to the tray, as a sentence.

    ``table`` and ``row_id`` name the row for a strike-out; ``struck_by`` says who struck it out.
    ``not_proved``: the name was tapped at a tablet, without PIN or badge.
    """

    at: datetime
    recorded_at: datetime
    day_only: bool
    kind: str
    words: str
    by: str
    table: str
    row_id: str
    can_strike: bool
    struck_by: str
    note: str = ""
    photos: tuple[str, ...] = ()
    not_proved: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePeriod:
    """A stage of a tray on its line of time; ``unsure_days`` is the interval it began in."""

    stage: Stage
    since: date
    until: date
    not_before: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayStory:
    """Everything the page of a tray shows beyond its stored columns."""

    outlook: Outlook | None
    age_days: int
    periods: tuple[StagePeriod, ...]
    looks: tuple[tuple[date, bool], ...]
    losses: tuple[tuple[date, int], ...]
    book: Balance
    log: tuple[LogEntry, ...]
    parents: tuple[Tray, ...]
    children: tuple[Tray, ...]


def story_of(*, tray: Tray, today: date) -> TrayStory:
    """Return a tray's story; a constant number of queries whatever its history."""
    evidence = gather([tray.pk])
    one = evidence[tray.pk]
    fold = standing.folds(evidence)[tray.pk]
    own = [row.passage for row in one.stated if row.passage.to_stage not in one.picked_into]
    end = tray.ended_on or today
    return TrayStory(
        outlook=fold.outlook,
        age_days=(end - fold.facts.origin).days,
        periods=_periods(tray, own, end=end),
        looks=tuple((look.on, look.glance) for look in one.looks),
        losses=tuple(
            (posting.on, posting.quantity)
            for posting in one.postings
            if posting.kind is Change.LOSS
        ),
        book=balance(one.postings),
        log=log_of(tray=tray),
        parents=tuple(
            Tray.objects.filter(pk__in=one.parent_ids).select_related("bench").order_by("code")
        ),
        children=tuple(
            Tray.objects.filter(parentages__parent=tray).select_related("bench").order_by("code")
        ),
    )


def log_of(*, tray: Tray) -> tuple[LogEntry, ...]:
    """Return what happened to the tray, newest first, struck-out rows among it."""
    looked = [
        local_day(seen_at)
        for seen_at in TrayCheck.objects.standing()
        .filter(tray=tray, glance=False)
        .values_list("seen_at", flat=True)
    ]
    entries = [*_looks(tray), *_passages(tray), *_movements(tray, looked), *_places(tray)]
    entries += _keeping(tray)
    return tuple(sorted(entries, key=lambda entry: (entry.at, entry.kind), reverse=True))


def _periods(tray: Tray, moves: list[Passage], *, end: date) -> tuple[StagePeriod, ...]:
    ordered = sorted(moves, key=lambda move: move.seen_on)
    starts: list[tuple[Stage, date, date | None]] = [
        (Stage(tray.start_stage), tray.started_on, None)
    ]
    starts += [(move.to_stage, move.seen_on, move.not_before) for move in ordered]
    periods = []
    for place, (stage, since, not_before) in enumerate(starts):
        until = starts[place + 1][1] if place + 1 < len(starts) else max(end, since)
        periods.append(
            StagePeriod(stage=stage, since=since, until=max(until, since), not_before=not_before)
        )
    return tuple(periods)


def _struck_by(row: TrayCheck | StageTransition | PlantMovement | Place) -> str:
    strike = getattr(row, "struck_by", None)
    return "" if strike is None else strike.by or "Frondbook"


def _looks(tray: Tray) -> list[LogEntry]:
    rows = (
        TrayCheck.objects.said()
        .filter(tray=tray)
        .select_related("struck_by")
        .prefetch_related("photos")
        .order_by("seen_at", "id")
    )
    known = {tray.start_stage}
    entries = []
    for row in rows:
        # A stage that an earlier look saw is no news at a later one.
        new = row.stage_seen not in known
        known.add(row.stage_seen)
        entries.append((row, new))
    return [
        LogEntry(
            at=row.seen_at,
            recorded_at=row.recorded_at,
            day_only=False,
            kind="look",
            words=look_words(row, unit=tray.unit, new_stage=new),
            by=row.by,
            table="check",
            row_id=str(row.pk),
            can_strike=True,
            struck_by=_struck_by(row),
            note=row.note,
            photos=tuple(str(photo.pk) for photo in row.photos.all()),
            not_proved=bool(row.by) and row.by_verified is False,
        )
        for row, new in entries
    ]


def look_words(row: TrayCheck, *, unit: str, new_stage: bool = True) -> str:
    """Return a look as a sentence: “First frond seen, about 84 plants, mould.”."""
    if row.glance:
        return "Looked over at a glance, all well."
    seen = []
    if row.stage_seen and new_stage:
        seen.append(f"{STAGE_WORDS[Stage(row.stage_seen)]} seen")
    if row.count is not None:
        seen.append(f"{'about ' if row.about else ''}{row.count} {unit}")
    seen += [SIGN_WORDS[sign] for sign in Sign if sign in row.sign_set]
    if row.opened:
        seen.append("opened")
    words = ", ".join(seen) or "looked, nothing new"
    return f"{words[:1].upper()}{words[1:]}."


def _passages(tray: Tray) -> list[LogEntry]:
    rows = StageTransition.objects.said().filter(tray=tray).select_related("struck_by")
    return [
        LogEntry(
            at=at_noon(row.seen_on) + timedelta(minutes=1),
            recorded_at=row.recorded_at,
            day_only=True,
            kind="stage",
            words=_passage_words(row),
            by=row.by or "read from the looks",
            table="transition",
            row_id=str(row.pk),
            can_strike=not row.derived,
            struck_by=_struck_by(row),
        )
        for row in rows
        # A derived row that its looks no longer prove is of no use to a reader.
        if not (row.derived and _struck_by(row))
    ]


def _passage_words(row: StageTransition) -> str:
    stage = STAGE_WORDS[Stage(row.to_stage)]
    if row.not_before is None or (row.seen_on - row.not_before).days <= 1:
        return f"Now {stage}."
    return f"Now {stage}: since some day after {row.not_before.day} {row.not_before:%b %Y}."


def _last_before(day: date, looked: Sequence[date]) -> date | None:
    """Return the day of the last close look before a day; None when nobody had looked."""
    return max((on for on in looked if on < day), default=None)


def _movements(tray: Tray, looked: Sequence[date]) -> list[LogEntry]:
    rows = (
        PlantMovement.objects.said()
        .filter(Q(tray=tray) | Q(to_tray=tray))
        .select_related("struck_by", "tray", "to_tray")
    )
    return [
        LogEntry(
            at=at_noon(row.on),
            recorded_at=row.recorded_at,
            day_only=True,
            kind="loss" if row.kind == "loss" else "count",
            words=movement_words(row, seen_from=tray, looked_on=_last_before(row.on, looked)),
            by=row.by,
            table="movement",
            row_id=str(row.pk),
            can_strike=True,
            struck_by=_struck_by(row),
        )
        for row in rows
    ]


def movement_words(row: PlantMovement, *, seen_from: Tray, looked_on: date | None = None) -> str:
    """Return a row of the stock book as a sentence, in the units of both trays.

    A loss lies between the look that found it and the close look before, ``looked_on``.
    """
    gone = in_unit(row.quantity, row.tray.unit)
    if row.kind == "out" and row.to_tray is not None:
        there = in_unit(row.arrived_there, row.to_tray.unit)
        if row.to_tray_id == seen_from.pk:
            return f"{there} came from {row.tray.code} ({gone} left it)."
        return f"{gone} moved to {row.to_tray.code} ({there} arrived)."
    if row.kind == "loss":
        words = f"{gone} lost: {CAUSE_WORDS.get(row.cause, 'no cause noted')}"
        return f"{words}{_between(looked_on, row.on)}."
    if row.kind == "dispatch":
        return f"{gone} dispatched to {row.recipient or 'somebody not noted'}."
    if row.kind == "recount":
        return f"Recount: {row.quantity:+d} {row.tray.unit} against the stock book."
    return f"{gone} {CHANGE_WORDS[Change(row.kind)]}."


def _between(first: date | None, last: date) -> str:
    """Return “, between 3 and 10 Jun 2026”; empty where the day itself is known."""
    if first is None or (last - first).days <= 1:
        return ""
    same_month = (first.year, first.month) == (last.year, last.month)
    year = "" if first.year == last.year else f" {first.year}"
    begin = f"{first.day}" if same_month else f"{first.day} {first:%b}{year}"
    return f", between {begin} and {last.day} {last:%b %Y}"


def _places(tray: Tray) -> list[LogEntry]:
    rows = Place.objects.said().filter(tray=tray).select_related("struck_by", "bench")
    return [
        LogEntry(
            at=at_noon(row.on) - timedelta(minutes=1),
            recorded_at=row.recorded_at,
            day_only=True,
            kind="place",
            words=_place_words(row),
            by=row.by,
            table="place",
            row_id=str(row.pk),
            can_strike=True,
            struck_by=_struck_by(row),
        )
        for row in rows
    ]


def _place_words(row: Place) -> str:
    if row.bench is None:
        return "Taken off its bench."
    spot = f", row {row.row}, column {row.column}" if row.row and row.column else ""
    return f"Set on {row.bench.code}{spot}."


def _keeping(tray: Tray) -> list[LogEntry]:
    return [
        LogEntry(
            at=row.recorded_at,
            recorded_at=row.recorded_at,
            day_only=False,
            kind="keeping",
            words=keeping_words(row),
            by=row.by,
            table="",
            row_id=str(row.pk),
            can_strike=False,
            struck_by="",
        )
        for row in KeepingChange.objects.filter(tray=tray)
    ]
