"""What moved on in a week, what was lost and why, what left, what comes ready, what is to sow?"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q, Sum
from django.db.models.functions import Coalesce

from batches.core.errors import NotUnderstood
from batches.core.stages import ROUTES
from batches.models import (
    Batch,
    PlannedSowing,
    PlantMovement,
    SporeLot,
    StageTransition,
    Taxon,
    Tray,
    TrayCheck,
)
from batches.services.days import day_bounds, week_words
from batches.services.lots import sow_by_of
from batches.services.planned_sowings import sowings_ahead

#: so many weeks from the end of the week are looked ahead for what becomes ready
WEEKS_AHEAD = 4
#: lots are named whose day to be sown by lies so near
SOW_BY_WITHIN = timedelta(days=21)
#: stages in the order of a plant's way, for sorting
_ORDER = {str(stage): place for place, stage in enumerate(dict.fromkeys(
    stage for route in ROUTES.values() for stage in route
))}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedOn:
    """Trays of a fern that came to a stage."""

    taxon: Taxon
    stage: str
    trays: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """What was lost of a fern to a cause: counted by unit, the most first, and trays thrown out."""

    taxon: Taxon
    cause: str
    counted: tuple[tuple[int, str], ...]
    trays: int

    @property
    def all_counted(self) -> int:
        """Everything counted together, for sorting."""
        return sum(many for many, _ in self.counted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pots:
    """Pots of a fern and size; ``uncounted`` of their trays were never counted."""

    taxon: Taxon
    pot_size: str
    pots: int
    trays: int
    uncounted: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeklyNote:
    """A week's note; ``over`` says whether the week is; ``started`` holds batches and trays."""

    first: date
    last: date
    over: bool
    looks: int
    started: tuple[tuple[Taxon, int, int], ...]
    moved_on: tuple[MovedOn, ...]
    lost: tuple[Lost, ...]
    left: tuple[Pots, ...]
    comes_ready: tuple[Pots, ...]
    to_sow: tuple[PlannedSowing, ...]
    lots: tuple[tuple[SporeLot, date], ...]

    @property
    def week(self) -> str:
        """The week as ISO 8601 names it: “2026-W48”."""
        return week_words(self.first)


def week_named(text: str, *, today: date) -> date:
    """Return the Monday of “2026-W48”; of the week of `today` where the text is empty.

    Raises
    ------
    NotUnderstood
        When it names no week, or one that has not begun.
    """
    if not text:
        return today - timedelta(days=today.weekday())
    year, _, week = text.partition("-W")
    try:
        monday = date.fromisocalendar(int(year), int(week), 1)
    except ValueError:
        raise NotUnderstood("That is no week. Write it like 2026-W48.") from None
    if monday > today:
        raise NotUnderstood("That week has not begun yet.")
    return monday


def weekly_note(*, monday: date, today: date) -> WeeklyNote:
    """Return the note of the week that begins on a Monday; a constant number of queries."""
    last = monday + timedelta(days=6)
    taxa = Taxon.objects.in_bulk()
    return WeeklyNote(
        first=monday,
        last=last,
        over=last < today,
        looks=_looks(monday, last),
        started=tuple(
            (taxa[taxon], batches, trays)
            for taxon, batches, trays in Batch.objects.filter(started_on__range=(monday, last))
            .values_list("taxon")
            .annotate(Count("pk", distinct=True), Count("trays"))
            .order_by("taxon__genus", "taxon__species", "taxon")
        ),
        moved_on=_moved_on(monday, last, taxa),
        lost=_lost(monday, last, taxa),
        left=_left(monday, last, taxa),
        comes_ready=_comes_ready(max(today, last + timedelta(days=1)), taxa),
        to_sow=sowings_ahead(today=today),
        lots=_lots(today),
    )


def _looks(monday: date, last: date) -> int:
    return (
        TrayCheck.objects.standing()
        .filter(seen_at__range=(day_bounds(monday)[0], day_bounds(last)[1]))
        .count()
    )


def _moved_on(monday: date, last: date, taxa: dict[int, Taxon]) -> tuple[MovedOn, ...]:
    rows = (
        StageTransition.objects.standing()
        .filter(seen_on__range=(monday, last))
        .values_list("tray__batch__taxon", "to_stage", "from_stage")
        .annotate(trays=Count("tray", distinct=True))
        .order_by()
    )
    trays: defaultdict[tuple[int, str], int] = defaultdict(int)
    for taxon, stage, before, many in rows:
        if _ORDER[stage] > _ORDER[before]:  # going back is a correction
            trays[taxon, stage] += many
    found = [
        MovedOn(taxon=taxa[taxon], stage=stage, trays=many)
        for (taxon, stage), many in trays.items()
    ]
    return tuple(sorted(found, key=lambda one: (_ORDER[one.stage], one.taxon.name.text)))


def _lost(monday: date, last: date, taxa: dict[int, Taxon]) -> tuple[Lost, ...]:
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="loss", on__range=(monday, last))
        .values_list("tray__batch__taxon", "cause", "tray__unit")
        .annotate(many=Sum("quantity"))
        .order_by()
    )
    counted: defaultdict[tuple[int, str], Counter[str]] = defaultdict(Counter)
    for taxon, cause, unit, many in rows:
        counted[taxon, cause or "unknown"][unit] += many
    thrown = (
        Tray.objects.filter(end="discarded", ended_on__range=(monday, last))
        .values_list("batch__taxon", "end_cause")
        .annotate(many=Count("pk"))
        .order_by()
    )
    trays: Counter[tuple[int, str]] = Counter()
    for taxon, cause, many in thrown:
        trays[taxon, cause or "unknown"] += many
    found = [
        Lost(
            taxon=taxa[key[0]],
            cause=key[1],
            counted=tuple((many, unit) for unit, many in counted[key].most_common()),
            trays=trays[key],
        )
        for key in {*counted, *trays}
    ]
    return tuple(sorted(found, key=lambda one: (-one.all_counted, one.taxon.name.text, one.cause)))


def _left(monday: date, last: date, taxa: dict[int, Taxon]) -> tuple[Pots, ...]:
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="dispatch", on__range=(monday, last))
        .values_list("tray__batch__taxon", "tray__pot_size")
        .annotate(pots=Sum("quantity"), trays=Count("tray", distinct=True))
        .order_by("tray__batch__taxon__genus", "tray__batch__taxon__species", "tray__pot_size")
    )
    return tuple(
        Pots(taxon=taxa[taxon], pot_size=size, pots=pots, trays=trays)
        for taxon, size, pots, trays in rows
    )


def _comes_ready(first: date, taxa: dict[int, Taxon]) -> tuple[Pots, ...]:
    last = first + timedelta(weeks=WEEKS_AHEAD) - timedelta(days=1)
    rows = (
        Tray.objects.active()
        .filter(stage="potted_up", control=False, expected_on__range=(first, last))
        .values_list("batch__taxon", "pot_size")
        .annotate(
            pots=Coalesce(Sum("alive"), 0),
            trays=Count("pk"),
            uncounted=Count("pk", filter=Q(alive__isnull=True)),
        )
        .order_by("batch__taxon__genus", "batch__taxon__species", "pot_size")
    )
    return tuple(
        Pots(taxon=taxa[taxon], pot_size=size, pots=pots, trays=trays, uncounted=uncounted)
        for taxon, size, pots, trays, uncounted in rows
    )


def _lots(today: date) -> tuple[tuple[SporeLot, date], ...]:
    lots = SporeLot.objects.in_store().select_related("taxon")
    near = [(lot, sow_by_of(lot)) for lot in lots]
    return tuple(
        sorted(
            ((lot, by) for lot, by in near if today <= by <= today + SOW_BY_WITHIN),
            key=lambda pair: (pair[1], pair[0].code),
        )
    )
