"""How long do stages take: curves with their brackets, ferns side by side?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from batches.charts.figure import BAND, BLUE, FROND, INK, SOFT, VERMILLION, Figure, Traces, figure
from batches.core.stages import STAGE_FACTS
from batches.services.stage_time_lines import TimesLine
from batches.services.stage_times import StageTimes


def stage_curve(times: StageTimes) -> Figure:
    """Draw the share of trays moved on by each day: brackets as boxes, the smooth curve over them.

    Inside a bracket nobody looked; the truth passes somewhere through its box.
    """
    estimate = times.estimate
    last = max([estimate.late_after_days * 1.3, *_ends(times)])
    boxes: Traces = []
    moved = 0.0
    for bracket in estimate.curve:
        right = bracket.by if math.isfinite(bracket.by) else last
        boxes.append(
            {
                "type": "rect",
                "x0": bracket.after,
                "x1": right,
                "y0": moved,
                "y1": moved + bracket.share,
                "line": {"width": 1, "color": FROND},
                "fillcolor": BAND if math.isfinite(bracket.by) else "rgba(0,0,0,0)",
            }
        )
        moved += bracket.share
    days = [last * step / 80 for step in range(81)]
    draws = estimate.draws()
    smooth = [
        float(((1 - draws.stalled) * (1 - draws.moving_left(day))).mean()) if day else 0.0
        for day in days
    ]
    sign = STAGE_FACTS[times.next_stage].sign
    marks = [
        ("expected", estimate.expected_days, "dash"),
        ("late after", estimate.late_after_days, "dot"),
    ]
    data: Traces = [
        {
            "type": "scatter",
            "mode": "lines",
            "x": days,
            "y": smooth,
            "name": "curve used for dates",
            "line": {"color": BLUE, "width": 3},
            "hovertemplate": "day %{x:.0f}: %{y:.0%}<extra></extra>",
        },
        {
            "type": "scatter",
            "mode": "markers",
            "x": [None],
            "y": [None],
            "name": "seen between two looks",
            "marker": {
                "symbol": "square",
                "size": 14,
                "color": BAND,
                "line": {"width": 1, "color": FROND},
            },
        },
        *[
            {
                "type": "scatter",
                "mode": "lines",
                "x": [day, day],
                "y": [0, 1],
                "name": f"{word} (day {day:.0f})",
                "line": {"color": INK, "width": 1.5, "dash": dash},
                "hoverinfo": "name",
            }
            for word, day, dash in marks
        ],
    ]
    return figure(
        data,
        x="days in the stage",
        y=f"trays with {sign}",
        height=380,
        shapes=boxes,
        yaxis={"range": [0, 1.02], "tickformat": ".0%"},
        xaxis={"range": [0, last]},
    )


def _ends(times: StageTimes) -> list[float]:
    return [
        end
        for bracket in times.estimate.curve
        for end in (bracket.after, bracket.by)
        if math.isfinite(end)
    ]


def stage_ranges(lines: Sequence[TimesLine]) -> Figure:
    """Draw, fern by fern, a line from the expected to the late day of one stage."""
    names = [line.times.taxon.code for line in lines]
    expected = [line.times.estimate.expected_days for line in lines]
    late = [line.times.estimate.late_after_days for line in lines]
    spans: dict[str, list[Any]] = {"x": [], "y": []}
    for name, one, other in zip(names, expected, late, strict=True):
        spans["x"] += [one, other, None]
        spans["y"] += [name, name, None]
    data: Traces = [
        {
            "type": "scatter",
            "mode": "lines",
            **spans,
            "line": {"color": SOFT, "width": 2},
            "showlegend": False,
            "hoverinfo": "skip",
        },
        {
            "type": "scatter",
            "mode": "markers",
            "x": expected,
            "y": names,
            "name": "expected",
            "marker": {"color": FROND, "size": 12},
            "hovertemplate": "%{y}: day %{x:.0f}<extra></extra>",
        },
        {
            "type": "scatter",
            "mode": "markers",
            "x": late,
            "y": names,
            "name": "late after",
            "marker": {"color": VERMILLION, "size": 12, "symbol": "diamond"},
            "hovertemplate": "%{y}: day %{x:.0f}<extra></extra>",
        },
    ]
    return figure(
        data,
        x="days in the stage",
        y="",
        height=110 + 26 * len(names),
        yaxis={"autorange": "reversed", "type": "category"},
        xaxis={"rangemode": "tozero"},
    )
