"""How is a bench drawn: rows and columns of cells with glyph and state?

A house holds thousands of cells; building them as strings is some fourteen times quicker than a
template loop (figures: `make bench`), and they are drawn per bench. What a cell can be asked by
where it stands, or by its link, it does not say again: that would double the page's weight.
"""

from __future__ import annotations

from dataclasses import dataclass

# Of texts alone: the site's own `escape` also asks whether each is marked as safe.
from html import escape

from django import template
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

from batches.services.bench_map import LONGEST_SHOWN, BenchPlan, Cell
from batches.services.language import catalogue_of
from batches.templatetags.frond import in_words

register = template.Library()
_CODE_HERE = "CODE-HERE"


@dataclass(frozen=True, slots=True)
class _Page:
    """What all cells of a page share: a tray's address before and behind its code."""

    before: str
    behind: str
    translated: bool


def _page() -> _Page:
    before, behind = reverse("batches:tray", args=[_CODE_HERE]).split(_CODE_HERE)
    return _Page(
        before=before,
        behind=behind,
        translated=bool(catalogue_of(get_language() or "")),
    )


@register.simple_tag
def bench_rows(plan: BenchPlan) -> SafeString:
    """Return the rows of a bench's table, one cell a place."""
    page = _page()
    lines = []
    for row in range(1, plan.rows + 1):
        cells = "</td><td>".join(
            _place(plan, row, column, page) for column in range(1, plan.columns + 1)
        )
        lines.append(f'<tr><th scope="row">{row}</th><td>{cells}</td></tr>')
    return mark_safe("".join(lines))  # noqa: S308 - every text in a cell is escaped


@register.simple_tag
def loose_cell(cell: Cell) -> SafeString:
    """Return the cell of a tray that stands on a bench without a row and column."""
    return mark_safe(tray_cell(cell, _page()))  # noqa: S308 - every text in a cell is escaped


def place_html(plan: BenchPlan, row: int, column: int) -> str:
    """Return one place of a bench, for swapping it alone after a move."""
    return _place(plan, row, column, _page())


def _place(plan: BenchPlan, row: int, column: int, page: _Page) -> str:
    cells = plan.places.get((row, column), ())
    if not cells:
        free = f"free place, {plan.code}, row {row}, column {column}"
        # No stop of the Tab key: the script reaches it by the arrow keys; nothing else needs it.
        return (
            '<button class="cell free" type="button" tabindex="-1" '
            f'aria-label="{escape(in_words(free))}"></button>'
        )
    return tray_cell(cells[0], page, more=len(cells) - 1)


def _words_of(cell: Cell) -> str:
    """Return what a cell says, piece by piece in the reader's language."""
    return ", ".join(in_words(piece) for piece in cell.words.split(", "))


def tray_cell(cell: Cell, page: _Page, *, more: int = 0) -> str:
    """Return a tray's cell: a link to its page that the script opens as a card.

    It is called by what it shows, the drawing in words; by its whole code where that is cut.
    """
    code, short = escape(cell.code), escape(cell.short)
    words = escape(_words_of(cell) if page.translated else cell.words)
    faded = "" if cell.fits else " faded"
    if len(cell.code) > LONGEST_SHOWN:
        words = f"{code}, {words}"
    state = "" if cell.state == "well" else f' data-state="{cell.state}"'
    stacked = f" +{more}" if more else ""
    return (
        f'<a class="cell{faded}"{state} href="{page.before}{code}{page.behind}">'
        f'<svg class="glyph" role="img" aria-label="{words}">'
        f'<use href="#glyph-{cell.glyph}"/></svg>'
        f"<span>{short}{stacked}</span></a>"
    )
