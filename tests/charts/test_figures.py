"""Does every figure hold the numbers of its table, and nothing that is told by colour alone?"""

from __future__ import annotations

import html
import json
import math
from datetime import timedelta

import pytest
from django.utils import translation

from batches.charts.plants import MOST_CAUSES, losses_by_month, survival_bars
from batches.charts.pots import forecast_fan, trays_needed
from batches.charts.stage_times import stage_curve, stage_ranges
from batches.core.forecast import Band
from batches.core.intervals import StageInterval
from batches.core.stages import Stage
from batches.core.survival import TrayPassage, default_rate_prior, estimate_survival
from batches.services.stage_time_lines import times_lines
from batches.services.survival_groups import GroupRate, MonthLosses
from tests.factories import TODAY, BatchFactory, TrayCheckFactory, TrayFactory, at


def traces(figure):
    return {trace.get("name"): trace for trace in figure["data"]}


def rate(group: str, entered: int, moved: int) -> GroupRate:
    passages = [TrayPassage(plants_in=entered, plants_out=moved)] * 4
    return GroupRate(
        group=group,
        from_stage=Stage.PRICKED_OUT,
        to_stage=Stage.POTTED_UP,
        estimate=estimate_survival(passages, prior=default_rate_prior(Stage.PRICKED_OUT)),
    )


def test_bars_reach_their_share_and_whiskers_the_ends_of_the_range():
    some = [rate("A", 80, 60), rate("B", 50, 50)]
    (bars,) = survival_bars(some)["data"]
    assert list(bars["x"]) == [0.75, 1.0]
    for place, one in enumerate(some):
        above, below = bars["error_x"]["array"][place], bars["error_x"]["arrayminus"][place]
        assert bars["x"][place] + above == pytest.approx(max(one.estimate.high, bars["x"][place]))
        assert bars["x"][place] - below == pytest.approx(one.estimate.low)


def test_what_people_wrote_is_text_and_no_markup_in_a_drawing():
    name = "<a href='https://a.example'>peat</a> & <b>bark</b>"
    (bars,) = survival_bars([rate(name, 80, 60)])["data"]
    assert len(bars["y"]) == 1
    assert "<" not in bars["y"][0]
    assert html.unescape(bars["y"][0]).startswith(name)
    month = MonthLosses(label="Jun 2026", by_cause={name: 3})
    (losses,) = losses_by_month([month])["data"]
    assert (html.unescape(losses["name"]), "<" in losses["name"]) == (name, False)
    assert losses["hovertemplate"].endswith("<extra></extra>")


def test_a_group_without_plants_has_no_bar():
    empty = GroupRate(
        group="C",
        from_stage=Stage.PRICKED_OUT,
        to_stage=Stage.POTTED_UP,
        estimate=estimate_survival([], prior=default_rate_prior(Stage.PRICKED_OUT)),
    )
    (bars,) = survival_bars([empty])["data"]
    assert list(bars["x"]) == []


def test_losses_add_up_and_rare_causes_are_taken_together():
    causes = {f"cause {number}": number + 1 for number in range(9)}
    months = [
        MonthLosses(label="Oct 2026", by_cause=causes),
        MonthLosses(label="Nov 2026", by_cause={}),
    ]
    data = losses_by_month(months)["data"]
    assert len(data) == MOST_CAUSES + 1
    assert [sum(trace["y"][place] for trace in data) for place in (0, 1)] == [45, 0]
    assert data[-1]["name"] == "all others"
    # Told apart without colour, too: each has a pattern of its own.
    assert len({trace["marker"]["pattern"]["shape"] for trace in data}) == len(data)


def test_the_fan_lies_between_low_and_high_and_says_no_jargon():
    bands = [Band(low=0, likely=10, high=30), Band(low=5, likely=20, high=44)]
    found = forecast_fan(["2026-W49", "2026-W50"], bands)
    shown = traces(found)
    assert set(shown) == {"low", "likely", "high"}
    assert list(shown["likely"]["y"]) == [10, 20]
    assert len({trace["line"].get("dash", "solid") for trace in found["data"]}) == 3
    assert "p50" not in json.dumps(found)


def test_the_knee_is_a_line_over_days():
    found = trays_needed(["2026-12-01", "2027-01-01"], [12, 20])
    assert found["layout"]["xaxis"]["type"] == "date"
    assert list(found["data"][0]["y"]) == [12, 20]


@pytest.mark.django_db
def test_the_curve_draws_each_bracket_and_the_days_of_the_table():
    start = TODAY - timedelta(days=60)
    batch = BatchFactory(started_on=start)
    trays = []
    for green in (14, 21, 21, None):
        tray = TrayFactory(batch=batch, started_on=start, stage_seen_on=start)
        for day in range(7, 29, 7):
            seen = "gametophyte" if green and day >= green else ""
            TrayCheckFactory(tray=tray, seen_at=at(start + timedelta(days=day)), stage_seen=seen)
        trays.append(tray)
    from batches.services import standing
    from tests.factories import NOW

    standing.refold(trays=trays, recorded_at=NOW)
    lines = [line for line in times_lines(on=TODAY) if line.times.stage is Stage.SOWN]
    (line,) = lines
    found = stage_curve(line.times)
    estimate = line.times.estimate
    boxes = found["layout"]["shapes"]
    assert [(box["x0"], box["y1"] - box["y0"]) for box in boxes] == [
        (one.after, pytest.approx(one.share)) for one in estimate.curve
    ]
    assert f"expected (day {estimate.expected_days:.0f})" in traces(found)
    assert all(math.isfinite(box["x1"]) for box in boxes)
    json.dumps(found, allow_nan=False)
    ranges = stage_ranges(lines)
    assert list(traces(ranges)["late after"]["x"]) == [estimate.late_after_days]


def test_rows_without_anything_seen_still_make_a_curve():
    from batches.core.durations import estimate_stage
    from batches.core.stages import Route, Window
    from batches.models import Taxon
    from batches.services.stage_times import StageTimes

    window = Window(early=10, usual=28, late=90)
    rows = (StageInterval(left=5, ending="waiting"),) * 3
    times = StageTimes(
        taxon=Taxon(code="X", genus="Dryopteris"), route=Route.SPORE, stage=Stage.SOWN,
        next_stage=Stage.GAMETOPHYTE, window=window, estimate=estimate_stage(rows, window=window),
        rows=rows,
    )  # fmt: skip
    json.dumps(stage_curve(times), allow_nan=False)


def test_a_drawing_is_written_in_the_readers_language_with_its_marks():
    bands = [Band(low=0, likely=1_200, high=2_400)]
    with translation.override("de"):
        fan, later = forecast_fan(["2026-W49"], bands), trays_needed(["2026-12-01"], [3])
        (bars,) = survival_bars([rate("A", 80, 60)])["data"]
    assert set(traces(fan)) == {"hoch", "niedrig", "wahrscheinlich"}
    assert fan["layout"]["yaxis"]["title"]["text"] == "insgesamt verkaufsfertige Töpfe"
    assert all("Töpfe" in trace["hovertemplate"] for trace in fan["data"])
    assert (fan["layout"]["separators"], later["layout"]["separators"]) == (",.", ",.")
    assert later["layout"]["xaxis"]["tickformat"] == "%d.%m.%Y"
    assert list(bars["y"]) == ["A, pikiert"]
    in_english = forecast_fan(["2026-W49"], bands)
    assert set(traces(in_english)) == {"high", "low", "likely"}
    assert in_english["layout"]["separators"] == ".,"
