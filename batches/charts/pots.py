"""What becomes ready, and what must be sown for it?"""

from __future__ import annotations

from collections.abc import Sequence

from batches.charts.figure import BAND, BLUE, FROND, Figure, Traces, figure, in_words
from batches.core.forecast import Band


def forecast_fan(labels: Sequence[str], bands: Sequence[Band]) -> Figure:
    """Draw pots ready in all by the end of each week: likely, between low and high."""
    low, high = [band.low for band in bands], [band.high for band in bands]
    data: Traces = [
        {
            "type": "scatter",
            "mode": "lines",
            "x": labels,
            "y": high,
            "name": "high",
            "line": {"color": FROND, "width": 1, "dash": "dot"},
        },
        {
            "type": "scatter",
            "mode": "lines",
            "x": labels,
            "y": low,
            "name": "low",
            "fill": "tonexty",
            "fillcolor": BAND,
            "line": {"color": FROND, "width": 1, "dash": "dash"},
        },
        {
            "type": "scatter",
            "mode": "lines+markers",
            "x": labels,
            "y": [band.likely for band in bands],
            "name": "likely",
            "line": {"color": BLUE, "width": 3},
            "marker": {"size": 6},
        },
    ]
    for trace in data:
        trace["hovertemplate"] = "%{x}: %{y:.0f} pots<extra>%{fullData.name}</extra>"
    return figure(
        data,
        x="by the end of the week",
        y="pots ready in all",
        height=380,
        xaxis={"type": "category", "nticks": 14},
        yaxis={"rangemode": "tozero"},
    )


def trays_needed(days: Sequence[str], trays: Sequence[int]) -> Figure:
    """Draw how later sowings need more trays."""
    day = in_words("%d %b %Y")
    data: Traces = [
        {
            "type": "scatter",
            "mode": "lines+markers",
            "x": days,
            "y": trays,
            "name": "trays",
            "line": {"color": FROND, "width": 3},
            "marker": {"size": 8},
            "hovertemplate": "sown %{x}: %{y} trays<extra></extra>",
        }
    ]
    return figure(
        data,
        x="day of sowing",
        y="trays needed",
        height=340,
        showlegend=False,
        yaxis={"rangemode": "tozero"},
        xaxis={"type": "date", "tickformat": day, "hoverformat": day},
    )
