"""What stands where: the benches in walking order, each with its places and trays?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from batches.core.lateness import stage_rest
from batches.core.rest import in_weeks
from batches.core.signs import SIGN_WORDS, TROUBLES, Sign
from batches.core.stages import STAGE_WORDS, Stage
from batches.models import Batch, Bench, House, Tray
from batches.services.holds import held_now
from batches.services.laid_out import LaidOutAhead
from batches.services.map_filters import HELD, SUSPECT, Filters
from batches.services.shared_rows import with_shared
from batches.services.shut_places import ShutPlaces, shut_places
from batches.services.suspicion import all_trays_under_suspicion

#: states of a cell, the most pressing first; each has a shape and a word (look.md)
STATES = ("shut", "held", "isolated", "late", "trouble", "due", "unlabelled", "resting", "well")

#: characters of a code of one's own that a cell has room for
LONGEST_SHOWN = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One tray on the map: what it is called there, and in ``words`` how it stands.

    ``troubles`` are words, that it may hold a rogue fern among them.
    """

    code: str
    short: str
    glyph: str
    state: str
    words: str
    row: int | None
    column: int | None
    fits: bool
    troubles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPlan:
    """A bench: ``places[row][column]`` holds the trays there (usually one), 1-based keys.

    ``loose`` stand on the bench without a row and column, or outside its drawn size; ``laid_out``
    are codes to be filled out of its trays, which stand nowhere yet.
    """

    code: str
    name: str
    rows: int
    columns: int
    places: dict[tuple[int, int], tuple[Cell, ...]]
    loose: tuple[Cell, ...]
    trays: int
    free: int
    shut_until: datetime | None
    laid_out: tuple[LaidOutAhead, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HousePlan:
    """A house with its benches in walking order."""

    code: str
    name: str
    benches: tuple[BenchPlan, ...]
    shut_until: datetime | None
    frost_free: bool = False


def house_plans(
    *,
    today: date,
    now: datetime,
    filters: Filters,
    benches: Sequence[Bench],
    laid_out: Iterable[LaidOutAhead] = (),
) -> tuple[HousePlan, ...]:
    """Return these benches by house, in their order, whatever the number of trays in few queries.

    ``benches`` come with their houses; ``laid_out`` are codes that were given out for places.
    """
    shut = shut_places(on=today, now=now)
    suspects = frozenset(all_trays_under_suspicion().values_list("pk", flat=True))
    held = frozenset(held_now().values_list("tray", flat=True))
    trays: defaultdict[int, list[Tray]] = defaultdict(list)
    by_pk = {bench.pk: bench for bench in benches}
    on_map = Tray.objects.active().filter(bench__in=by_pk).order_by("row", "column", "code")
    for tray in with_shared(on_map, batch=Batch.objects.select_related("taxon")):
        tray.bench = by_pk[tray.bench_id or 0]
        trays[tray.bench_id or 0].append(tray)
    ahead: defaultdict[int, list[LaidOutAhead]] = defaultdict(list)
    for group in laid_out:
        if group.bench is not None and filters.shows(group):
            ahead[group.bench.pk].append(group)
    grouped: dict[int, list[BenchPlan]] = {}
    houses: dict[int, House] = {}
    for bench in benches:
        plan = _plan(
            bench, trays[bench.pk], today=today, shut=shut, filters=filters, suspects=suspects,
            held=held, laid_out=ahead[bench.pk],
        )  # fmt: skip
        grouped.setdefault(bench.house_id, []).append(plan)
        houses[bench.house_id] = bench.house
    return tuple(
        HousePlan(
            code=houses[pk].code,
            name=houses[pk].name,
            benches=tuple(plans),
            shut_until=_until(shut, houses[pk].code),
            frost_free=houses[pk].frost_free,
        )
        for pk, plans in grouped.items()
    )


def cell_of(
    tray: Tray,
    *,
    today: date,
    shut: ShutPlaces,
    filters: Filters | None = None,
    suspects: frozenset[int] = frozenset(),
    held: frozenset[int] = frozenset(),
) -> Cell:
    """Return one tray as it shows on the map; no query when it was fetched with its fern.

    ``suspects`` are ids of trays that may hold a rogue fern: they show as trouble;
    ``held`` are ids of trays of which nothing may leave.
    """
    state = state_of(tray, today=today, shut=shut)
    suspect = tray.pk in suspects
    if tray.pk in held and STATES.index(state) > STATES.index(HELD):
        state = HELD
    if suspect and STATES.index(state) > STATES.index("trouble"):
        state = "trouble"
    stage = Stage(tray.stage)
    glyph = "control" if tray.control else str(stage)
    seen = tray.signs & TROUBLES
    troubles = [SIGN_WORDS[sign] for sign in Sign if sign in seen] if seen else []
    if suspect and Sign.ROGUE_FERN not in tray.signs:
        troubles.append("under suspicion: rogue fern")
    kept_back = "held: nothing of it leaves" if tray.pk in held else ""
    words = [STAGE_WORDS[stage], tray.batch.taxon.code, _state_words(tray, state, today)]
    return Cell(
        code=tray.code,
        short=short_code(tray.code),
        glyph=glyph,
        state=state,
        words=", ".join(word for word in (*words, *troubles, kept_back) if word),
        troubles=tuple(troubles),
        row=tray.row,
        column=tray.column,
        fits=filters is None
        or _fits(tray, filters, today=today, marks={SUSPECT: suspect, HELD: tray.pk in held}),
    )


def state_of(tray: Tray, *, today: date, shut: ShutPlaces) -> str:
    """Return the most pressing state of a tray, one of `STATES`."""
    if shut.covers(tray):
        return "shut"
    if tray.isolated:
        return "isolated"
    if is_late(tray, today=today):
        return "late"
    if tray.signs & TROUBLES:
        return "trouble"
    if tray.due_on is not None and tray.due_on <= today:
        return "due"
    if tray.label_printed_on is None:
        return "unlabelled"
    rest = stage_rest(Stage(tray.stage), tray.batch.taxon.rest_weeks)
    return "resting" if in_weeks(today, rest) else "well"


def is_late(tray: Tray, *, today: date) -> bool:
    """Tell whether a tray shows as late: in its stage, or undecided past its time."""
    undecided = tray.decide_on is not None and tray.decide_on <= today
    return undecided or tray.is_late_in_stage(today)


def suspects_among(trays: Iterable[Tray]) -> frozenset[int]:
    """Return the ids of those of some trays that may hold a rogue fern; two queries."""
    some = all_trays_under_suspicion().filter(pk__in=[tray.pk for tray in trays])
    return frozenset(some.values_list("pk", flat=True))


def short_code(code: str) -> str:
    """Return a code as it stands in a cell, in two lines: ``26W14 073-05``.

    The check letter of a given-out code is left away; of a long code of one's own, its end shows
    (`LONGEST_SHOWN` characters).
    """
    parts = code.split("-")
    if len(parts) == 4:
        return f"{parts[0]} {parts[1]}-{parts[2]}"
    return code if len(code) <= 8 else f"{code[-LONGEST_SHOWN:-8]} {code[-8:]}"


def _plan(
    bench: Bench,
    trays: Iterable[Tray],
    *,
    today: date,
    shut: ShutPlaces,
    filters: Filters,
    suspects: frozenset[int],
    laid_out: Iterable[LaidOutAhead],
    held: frozenset[int],
) -> BenchPlan:
    rows, columns = bench.rows or 0, bench.columns or 0
    places: defaultdict[tuple[int, int], list[Cell]] = defaultdict(list)
    loose: list[Cell] = []
    count = 0
    for tray in trays:
        count += 1
        cell = cell_of(tray, today=today, shut=shut, filters=filters, suspects=suspects, held=held)
        if tray.row and tray.column and tray.row <= rows and tray.column <= columns:
            places[tray.row, tray.column].append(cell)
        else:
            loose.append(cell)
    return BenchPlan(
        code=bench.code,
        name=bench.name,
        rows=rows,
        columns=columns,
        places={place: tuple(cells) for place, cells in places.items()},
        loose=tuple(loose),
        trays=count,
        free=rows * columns - len(places),
        shut_until=_until(shut, bench.code),
        laid_out=tuple(laid_out),
    )


def _until(shut: ShutPlaces, code: str) -> datetime | None:
    return shut.shut[code].until if code in shut.shut else None


def _fits(tray: Tray, filters: Filters, *, today: date, marks: dict[str, bool]) -> bool:
    shows = marks.get(filters.sign, filters.sign in tray.signs)
    return (
        (not filters.fern or tray.batch.taxon.code == filters.fern)
        and (not filters.batch or tray.batch.code == filters.batch)
        and (not filters.sign or shows)
        and (not filters.late or is_late(tray, today=today))
    )


def _state_words(tray: Tray, state: str, today: date) -> str:
    if state == "late" and tray.late_on is not None and tray.late_on <= today:
        return f"late {(today - tray.late_on).days} days"
    return {"well": "", "due": "look due", "shut": "shut after a treatment", "held": ""}.get(
        state, state
    )
