"""How is a fern named and set up, and how long does it take here in its own days?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import AlreadyTaken, NotUnderstood
from batches.core.lot_age import GREEN_SOW_BY_DAYS, VIABLE_DAYS, sow_by
from batches.core.names import BotanicalName, botanical_name, fern_code
from batches.core.stages import (
    ROUTE_WORDS,
    ROUTES,
    STAGE_WORDS,
    Route,
    Stage,
    default_window,
    next_stage,
)
from batches.models import CodeEntry, OwnWindow, SporeLot, Taxon, Tray
from batches.services.codes import take_own_code
from batches.services.standing import refold
from batches.services.stored_forms import made_before, note_made

#: a stage longer than this is a slip of the pen
MOST_DAYS = 3_650


@dataclass(frozen=True, slots=True, kw_only=True)
class FernFacts:
    """What is set down of a fern beside its name; weeks are ISO weeks, 1 to 53, or None."""

    common_name: str = ""
    spore_kind: str
    form: str = "fern"
    rest_from_week: int | None = None
    rest_to_week: int | None = None
    last_pot_up_week: int | None = None
    tender: bool | None = None
    routes: tuple[str, ...] = ("spore",)
    sow_by_days: int | None = None
    care_line: str = ""
    protection: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowLine:
    """Days from a stage to the next, its own or default; ``look_every`` is None where usual."""

    stage: str
    next_stage: str
    early: float
    usual: float
    late: float
    look_every: int | None
    own: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteWindows:
    """The windows of one route, stage by stage."""

    route: str
    lines: tuple[WindowLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDays:
    """A fern's own days from one stage to the next; ``look_every`` is None to look as usual."""

    route: str
    stage: str
    early: float
    usual: float
    late: float
    look_every: int | None = None


def propose_code(name: BotanicalName) -> str:
    """Return the short code a new fern of this name would get; one query."""
    # A code of any kind may stand in the way: the register knows them all.
    stem = fern_code(name).partition("-")[0]
    taken = CodeEntry.objects.filter(folded__startswith=stem.casefold())
    codes = taken.values_list("code", flat=True)
    return fern_code(name, taken=frozenset(code.upper() for code in codes))


def name_fern(
    *,
    name: BotanicalName,
    facts: FernFacts,
    now: datetime,
    own_code: str = "",
    record_id: UUID | None = None,
) -> Taxon:
    """Store a new fern; its code is proposed from its name unless one is brought.

    Parameters
    ----------
    record_id : UUID, optional
        Made where the form was filled in; sent again with it, nothing is stored twice.

    Raises
    ------
    AlreadyTaken
        When a fern of that name is here already, or the code is taken.
    BadCode, NotUnderstood
        When the code cannot be one, or a fact makes no sense.
    """
    columns = _columns(name, facts)
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="taxon")
        if again:
            return Taxon.objects.get(code=again)
        _require_new_name(name)
        code = take_own_code(code=own_code.strip() or propose_code(name), kind="taxon")
        note_made(record_id=record_id, kind="taxon", code=code, now=now)
        return Taxon.objects.create(code=code, **columns)


def change_fern(*, taxon: Taxon, name: BotanicalName, facts: FernFacts, now: datetime) -> Taxon:
    """Store a fern's name and facts anew; the dates of its trays and lots follow in one go.

    Its code stays: labels carry it. Errors as `name_fern`.
    """
    columns = _columns(name, facts)
    with transaction.atomic():
        _require_new_name(name, but=taxon)
        before = Taxon.objects.select_for_update().get(pk=taxon.pk)
        Taxon.objects.filter(pk=taxon.pk).update(**columns)
        after = Taxon.objects.get(pk=taxon.pk)
        _follow_sow_by(before, after)
        refold(trays=_trays_of(after), recorded_at=now)
    return after


def windows_of(*, taxon: Taxon) -> tuple[RouteWindows, ...]:
    """Return the windows of every route the fern is raised by, stage by stage; one query."""
    own = {(row.route, row.stage): row for row in taxon.own_windows.all()}
    return tuple(
        RouteWindows(route=str(route), lines=tuple(_lines(taxon, route, own)))
        for route in Route
        if route in taxon.raised_by or any(key[0] == route for key in own)
    )


def keep_own_days(*, taxon: Taxon, days: Sequence[OwnDays], now: datetime) -> int:
    """Store the fern's own days, all at once; a stage not named goes back to the default days.

    The dates of its trays follow. Returns how many stages have days of their own now.

    Raises
    ------
    NotUnderstood
        When days are not in order or out of range, or a route knows no such stage; nothing is
        stored then.
    """
    for one in days:
        require_days(one)
    wanted = {(one.route, one.stage): one for one in days}
    with transaction.atomic():
        OwnWindow.objects.filter(taxon=taxon).delete()
        OwnWindow.objects.bulk_create(
            OwnWindow(
                taxon=taxon,
                route=one.route,
                stage=one.stage,
                early=one.early,
                usual=one.usual,
                late=one.late,
                look_every=one.look_every,
            )
            for one in wanted.values()
        )
        refold(trays=_trays_of(taxon), recorded_at=now)
    return len(wanted)


def sow_by_days_of(taxon: Taxon) -> int:
    """Return within how many days of collecting its spores are sown: its own, else the default."""
    if taxon.sow_by_days is not None:
        return taxon.sow_by_days
    return GREEN_SOW_BY_DAYS if taxon.spore_kind == "green" else VIABLE_DAYS


def _columns(name: BotanicalName, facts: FernFacts) -> dict[str, object]:
    _require_facts(facts)
    tidy = botanical_name(
        genus=name.genus,
        species=name.species,
        infra_rank=name.infra_rank,
        infra_epithet=name.infra_epithet,
        group=name.group,
        cultivar=name.cultivar,
        hybrid=name.hybrid,
    )
    return {
        "genus": tidy.genus,
        "species": tidy.species,
        "infra_rank": tidy.infra_rank,
        "infra_epithet": tidy.infra_epithet,
        "group": tidy.group,
        "cultivar": tidy.cultivar,
        "hybrid": tidy.hybrid,
        "common_name": facts.common_name.strip(),
        "spore_kind": facts.spore_kind,
        "form": facts.form,
        "rest_from_week": facts.rest_from_week,
        "rest_to_week": facts.rest_to_week,
        "last_pot_up_week": facts.last_pot_up_week,
        "tender": facts.tender,
        "routes": " ".join(str(route) for route in Route if route in facts.routes),
        "sow_by_days": facts.sow_by_days,
        "care_line": " ".join(facts.care_line.split()),
        "protection": facts.protection.strip(),
        "notes": facts.notes.strip(),
    }


def _require_facts(facts: FernFacts) -> None:
    if facts.spore_kind not in {"green", "not_green"}:
        raise NotUnderstood("Say whether its spores are green.", field="spore_kind")
    if facts.form not in {"fern", "tree_fern"}:
        raise NotUnderstood("It is a fern or a tree fern.", field="form")
    unknown = [route for route in facts.routes if route not in set(Route)]
    if unknown or not facts.routes:
        words = ", ".join(ROUTE_WORDS.values())
        raise NotUnderstood(f"Say what it is raised from: {words}.", field="routes")
    rest = (facts.rest_from_week, facts.rest_to_week)
    require_weeks(*rest, fields=("rest_from_week", "rest_to_week"))
    if rest[0] is not None and rest[1] is not None and (rest[1] - rest[0]) % 53 >= 51:
        raise NotUnderstood(
            "It would rest all year and never move on. Nothing was stored; leave both weeks empty "
            "for a fern without a rest.",
            field="rest_to_week",
        )
    require_week(facts.last_pot_up_week, field="last_pot_up_week")
    if facts.sow_by_days is not None and not 1 <= facts.sow_by_days <= MOST_DAYS:
        raise NotUnderstood(f"Days to sow within are 1 to {MOST_DAYS:,}.", field="sow_by_days")


def require_week(week: int | None, *, field: str) -> None:
    """Raise `NotUnderstood` when a number is no week of a year."""
    if week is not None and not 1 <= week <= 53:
        raise NotUnderstood(
            f"There is no week {week}: weeks of the year run from 1 to 53.", field=field
        )


def require_weeks(first: int | None, last: int | None, *, fields: tuple[str, str]) -> None:
    """Raise `NotUnderstood` when one end of a span of weeks is missing or no week.

    A span may run over New Year: weeks 44 to 10.
    """
    require_week(first, field=fields[0])
    require_week(last, field=fields[1])
    if (first is None) != (last is None):
        missing = fields[0] if first is None else fields[1]
        raise NotUnderstood("A span of weeks needs its first and its last week.", field=missing)


def _require_new_name(name: BotanicalName, *, but: Taxon | None = None) -> None:
    alike = Taxon.objects.filter(genus__iexact=name.genus)
    if but is not None:
        alike = alike.exclude(pk=but.pk)
    for other in alike:
        if other.name.text.casefold() == name.text.casefold():
            raise AlreadyTaken(
                f"{other.name.text} is here already, as {other.code}. Nothing was stored.",
                field="genus",
            )


def _follow_sow_by(before: Taxon, after: Taxon) -> None:
    """Move the sow-by of lots in store along, where it was reckoned and not set by hand."""
    if sow_by_days_of(before) == sow_by_days_of(after):
        return
    moved = []
    for lot in SporeLot.objects.in_store().filter(taxon=after):
        if lot.sow_by in (None, _reckoned(lot, before)):
            lot.sow_by = _reckoned(lot, after)
            moved.append(lot)
    SporeLot.objects.bulk_update(moved, ["sow_by"], batch_size=200)


def _reckoned(lot: SporeLot, taxon: Taxon) -> date:
    return sow_by(
        spore_kind=taxon.spore_kind, collected_on=lot.collected_on, own_days=taxon.sow_by_days
    )


def _trays_of(taxon: Taxon) -> Sequence[Tray]:
    return list(Tray.objects.active().filter(batch__taxon=taxon))


def _lines(taxon: Taxon, route: Route, own: dict[tuple[str, str], OwnWindow]) -> list[WindowLine]:
    lines = []
    for stage in ROUTES[route]:
        ahead = next_stage(route, stage)
        mine = own.get((str(route), str(stage)))
        window = mine or default_window(route, stage, taxon.kind)
        if ahead is None or window is None:
            continue
        lines.append(
            WindowLine(
                stage=str(stage),
                next_stage=str(ahead),
                early=window.early,
                usual=window.usual,
                late=window.late,
                look_every=None if mine is None else mine.look_every,
                own=mine is not None,
            )
        )
    return lines


def require_days(days: OwnDays) -> None:
    """Raise `NotUnderstood` when a fern's own days of one stage make no sense."""
    known = days.route in set(Route) and days.stage in ROUTES[Route(days.route)]
    if not known or next_stage(Route(days.route), Stage(days.stage)) is None:
        raise NotUnderstood("From that stage nothing is waited for.", field="stage")
    word = STAGE_WORDS[Stage(days.stage)]
    if not 0 < days.early <= days.usual <= days.late <= MOST_DAYS:
        raise NotUnderstood(
            f"From {word} on: early, usual and late are days above 0 in rising order, at most "
            f"{MOST_DAYS:,}. Nothing was stored.",
            field="early",
        )
    if days.look_every is not None and not 1 <= days.look_every <= 365:
        raise NotUnderstood("A look is every 1 to 365 days.", field="look_every")
