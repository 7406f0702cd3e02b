"""How many plants come through, and what were the others lost to?"""

from __future__ import annotations

from collections.abc import Sequence

from batches.charts.figure import FILLS, FROND, INK, PATTERNS, Figure, Traces, figure, in_words
from batches.services.survival_groups import GroupRate, MonthLosses

#: causes with a colour of their own
MOST_CAUSES = 5


def survival_bars(rates: Sequence[GroupRate]) -> Figure:
    """Draw each share that came through as a bar with its 95 % interval."""
    shown = [rate for rate in rates if rate.estimate.rate is not None]
    names = [in_words(rate.label) for rate in shown]
    shares = [rate.estimate.rate or 0.0 for rate in shown]
    above = [max(rate.estimate.high - share, 0) for rate, share in zip(shown, shares, strict=True)]
    below = [max(share - rate.estimate.low, 0) for rate, share in zip(shown, shares, strict=True)]
    data: Traces = [
        {
            "type": "bar",
            "orientation": "h",
            "x": shares,
            "y": names,
            "name": "came through",
            "marker": {"color": FROND},
            "error_x": {
                "type": "data",
                "symmetric": False,
                "array": above,
                "arrayminus": below,
                "color": INK,
                "thickness": 2,
                "width": 6,
            },
            "hovertemplate": "%{y}: %{x:.0%}<extra></extra>",
        }
    ]
    return figure(
        data,
        x="share that came through, with the range it may lie in",
        y="",
        height=110 + 30 * len(names),
        showlegend=False,
        xaxis={"tickformat": ".0%", "rangemode": "tozero"},
        yaxis={"autorange": "reversed", "type": "category"},
    )


def losses_by_month(months: Sequence[MonthLosses]) -> Figure:
    """Draw the plants lost each month, stacked by cause."""
    sums: dict[str, int] = {}
    for month in months:
        for cause, plants in month.by_cause.items():
            sums[cause] = sums.get(cause, 0) + plants
    causes = sorted(sums, key=lambda cause: (-sums[cause], cause))[:MOST_CAUSES]
    named = [(cause, [month.by_cause.get(cause, 0) for month in months]) for cause in causes]
    if len(sums) > len(causes):
        rest = [month.total - sum(month.by_cause.get(c, 0) for c in causes) for month in months]
        named.append(("all others", rest))
    data: Traces = [
        {
            "type": "bar",
            "name": cause,
            "x": [in_words(month.label) for month in months],
            "y": plants,
            "marker": {
                "color": FILLS[place % len(FILLS)],
                "line": {"color": INK, "width": 1},
                "pattern": {
                    "shape": PATTERNS[place % len(PATTERNS)],
                    "fgcolor": INK,
                    "fillmode": "overlay",
                    "size": 6,
                },
            },
            "hovertemplate": "%{x}, %{fullData.name}: %{y}<extra></extra>",
        }
        for place, (cause, plants) in enumerate(named)
    ]
    return figure(
        data, x="", y="plants lost", height=380, barmode="stack", xaxis={"type": "category"}
    )
