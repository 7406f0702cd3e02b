"""How are a fern's stage times said, and which of them differ from the days they are set by?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction

from batches.core.competing import Fate, fates
from batches.core.errors import NotPossibleNow
from batches.core.intervals import StageInterval
from batches.core.origins_apart import origins_apart
from batches.core.stages import ROUTE_WORDS, STAGE_FACTS, Route, Stage
from batches.models import OwnWindow, Taxon
from batches.services.ferns import OwnDays, require_days
from batches.services.stage_times import StageTimes, intervals_by_origin, stage_times

#: the usual day of a window is off when half of the trays were through so much sooner or later
OFF_BY = 1.25


@dataclass(frozen=True, slots=True, kw_only=True)
class TimesLine:
    """One fern's times of one stage, in words; ``fate`` is what had become of the trays last.

    ``origins`` says that two of its origins part, empty where none do or all ferns were asked for;
    ``adopt`` holds the days that would fit this fern (early, usual, late) where its window does
    not, else None.
    """

    times: StageTimes
    sentence: str
    fate: Fate | None
    origins: str
    adopt: tuple[int, int, int] | None


def times_lines(*, on: date, taxon: Taxon | None = None) -> tuple[TimesLine, ...]:
    """Return a line for every fern and stage that a tray was in by a day."""
    rows = {} if taxon is None else intervals_by_origin(on=on, taxon=taxon)
    return tuple(
        _line(times, rows.get((times.taxon.pk, times.route, times.stage), {}))
        for times in stage_times(on=on, taxon=taxon)
    )


def in_one_sentence(lines: Sequence[TimesLine]) -> str:
    """Say in one sentence how long a fern takes here, raised the way most of its trays are."""
    routes = {line.times.route for line in lines}
    route = max(
        routes, key=lambda one: sum(x.times.estimate.trays for x in lines if x.times.route == one)
    )
    steps = [
        f"{line.times.estimate.expected_days:.0f} to {STAGE_FACTS[line.times.next_stage].sign}"
        for line in lines
        if line.times.route == route
    ]
    days = sum(line.times.estimate.expected_days for line in lines if line.times.route == route)
    trays = max(line.times.estimate.trays for line in lines if line.times.route == route)
    raised = "Bought in" if route is Route.BOUGHT_IN else f"Raised from {ROUTE_WORDS[route]}"
    known = "a tray" if trays == 1 else f"up to {trays} trays a stage"
    return (
        f"{raised}, it takes some {days:.0f} days here, stage by stage "
        f"{', then '.join(steps)} ({known})."
    )


def adopt_days(*, taxon: Taxon, route: Route, stage: Stage, on: date) -> OwnDays:
    """Make what the nursery's own trays took the fern's own days of that stage.

    Raises
    ------
    NotPossibleNow
        When its days fit already, or too few of its trays have moved on.
    """
    for times in stage_times(on=on, taxon=taxon):
        days = _days_that_fit(times)
        if (times.route, times.stage) == (route, stage) and days is not None:
            break
    else:
        raise NotPossibleNow(
            f"There are no other days to adopt for {taxon.code} in this stage: its days fit, or "
            "too few of its trays have moved on. Nothing was changed."
        )
    early, usual, late = days
    own = OwnDays(route=str(route), stage=str(stage), early=early, usual=usual, late=late)
    require_days(own)
    with transaction.atomic():
        OwnWindow.objects.update_or_create(
            taxon=taxon,
            route=str(route),
            stage=str(stage),
            defaults={"early": early, "usual": usual, "late": late},
        )
        Taxon.objects.filter(pk=taxon.pk).update(fit_due=True)
    return own


def _line(times: StageTimes, by_origin: Mapping[str, Sequence[StageInterval]]) -> TimesLine:
    fate = fates(times.rows)
    return TimesLine(
        times=times,
        sentence=_sentence(times),
        fate=fate[-1] if fate else None,
        origins=_origins(by_origin),
        adopt=_days_that_fit(times),
    )


def _origins(by_origin: Mapping[str, Sequence[StageInterval]]) -> str:
    known = {origin: rows for origin, rows in by_origin.items() if origin}
    apart = origins_apart(known)
    if apart is None:
        return ""
    return (
        f"Its origins differ: half of the trays of {apart.sooner} were through by day "
        f"{apart.sooner_day:.0f}, of {apart.later} by day {apart.later_day:.0f}. Its dates go by "
        "all of them together."
    )


def _sentence(times: StageTimes) -> str:
    estimate = times.estimate
    sign = STAGE_FACTS[times.next_stage].sign
    days = f"day {estimate.expected_days:.0f}"
    said = (
        f"Half of the trays that get there have {sign} by {days}, nine in ten by day "
        f"{estimate.late_after_days:.0f}."
    )
    if estimate.stalled_share >= 0.05:
        said += f" About {estimate.stalled_share:.0%} never get there."
    if not estimate.rests_on_own:
        said += f" It rests on {estimate.basis}."
    return said


def _days_that_fit(times: StageTimes) -> tuple[int, int, int] | None:
    """Return early, usual and late of its own trays, where the window's usual day is off."""
    estimate, usual = times.estimate, times.window.usual
    if not estimate.rests_on_own or estimate.median_low is None or estimate.median_high is None:
        return None
    # By what the looks themselves bracket, and by the curve that dates go by.
    sooner = max(estimate.median_high, estimate.expected_days) * OFF_BY < usual
    later = min(estimate.median_low, estimate.expected_days) > usual * OFF_BY
    if not (sooner or later):
        return None
    draws = estimate.draws()
    days = [max(1, round(draws.quantile(share))) for share in (0.1, 0.5, 0.9)]
    early, middle, late = days[0], max(days[1], days[0]), max(days[2], days[0] + 1)
    return early, min(middle, late), late
