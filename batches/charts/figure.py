"""How does every drawing look, and is it one that the chart script can draw?

A figure is plain data, checked by plotly, that a page hands to its own chart script
(static/js/chart.js). A drawing never stands alone: the page has its numbers as a table first.
Colours are those of the look (Okabe and Ito 2002); what a colour says, a dash, a mark or a
pattern says too.
"""

from __future__ import annotations

from html import escape
from typing import Any

from django.utils.formats import get_format
from django.utils.translation import get_language

from batches.services.language import said

Figure = dict[str, Any]
Traces = list[dict[str, Any]]

INK, SOFT, HAIR = "#1b1f1c", "#47504a", "#d5dbd6"
FROND, BLUE, ORANGE, SKY, VERMILLION = "#17502f", "#0072b2", "#e69f00", "#56b4e9", "#d55e00"
BAND = "rgba(23, 80, 47, 0.18)"
FILLS = (FROND, ORANGE, SKY, VERMILLION, "#cc79a7", "#f0e442", "#009e73", "#0072b2")
PATTERNS = ("", "/", "\\", "x", "-", "|", "+", ".")


def figure(data: Traces, *, x: str, y: str, height: int, **layout: Any) -> Figure:
    """Return a checked figure with titled axes on plain paper, in the reader's language."""
    import plotly.graph_objects as go

    axis = {"gridcolor": HAIR, "linecolor": INK, "zerolinecolor": HAIR, "automargin": True}
    font = {"family": "Atkinson, Arial, sans-serif", "size": 15, "color": INK}
    drawn = go.Figure(
        {
            "data": [_in_language(trace) for trace in data],
            "layout": {
                "template": None,
                "font": font,
                "height": height,
                "margin": {"l": 56, "r": 16, "t": 16, "b": 56},
                "paper_bgcolor": "rgba(0,0,0,0)",
                "plot_bgcolor": "#ffffff",
                "hovermode": "closest",
                "dragmode": False,
                "separators": get_format("DECIMAL_SEPARATOR") + get_format("THOUSAND_SEPARATOR"),
                "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
                **layout,
                "xaxis": {**axis, "title": {"text": in_words(x)}, **layout.get("xaxis", {})},
                "yaxis": {**axis, "title": {"text": in_words(y)}, **layout.get("yaxis", {})},
            },
        }
    )
    found: Figure = drawn.to_dict()
    return found


def in_words(text: str) -> str:
    """Return a text of a drawing as the reader's language says it.

    The library reads a little markup in any text, links among it: what people wrote stays text.
    """
    return escape(said(text, language=get_language() or ""), quote=False)


def _in_language(trace: dict[str, Any]) -> dict[str, Any]:
    words = {"name": in_words(trace["name"])} if "name" in trace else {}
    if "hovertemplate" in trace:  # our own, with the library's own marks in it
        words["hovertemplate"] = said(trace["hovertemplate"], language=get_language() or "")
    return trace | words
