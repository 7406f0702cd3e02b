"""How is a bench drawn: rows and columns of cells with glyph and state?

A house holds thousands of cells; building them as strings is some fourteen times quicker than a
template loop (figures: `make bench`), and they are drawn per bench.
"""

from __future__ import annotations

from django import template
from django.templatetags.static import static
from django.urls import reverse
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from batches.services.bench_map import BenchPlan, Cell
from batches.templatetags.frond import in_words

register = template.Library()
_CODE_HERE = "CODE-HERE"


def place_id(bench: str, row: int, column: int) -> str:
    """Return the id of a place on the page."""
    return f"place-{bench}-{row}-{column}"


@register.simple_tag
def bench_rows(plan: BenchPlan) -> SafeString:
    """Return the rows of a bench's table, one cell a place."""
    href = reverse("batches:tray", args=[_CODE_HERE])
    sprite = static("glyphs/sprite.svg")
    lines = []
    for row in range(1, plan.rows + 1):
        cells = "".join(
            f"<td>{_place(plan, row, column, href=href, sprite=sprite)}</td>"
            for column in range(1, plan.columns + 1)
        )
        lines.append(f'<tr><th scope="row">{row}</th>{cells}</tr>')
    return mark_safe("".join(lines))  # noqa: S308 - every text in a cell is escaped


@register.simple_tag
def loose_cell(cell: Cell) -> SafeString:
    """Return the cell of a tray that stands on a bench without a row and column."""
    return mark_safe(  # noqa: S308 - every text in a cell is escaped
        tray_cell(
            cell,
            element_id="",
            href=reverse("batches:tray", args=[_CODE_HERE]),
            sprite=static("glyphs/sprite.svg"),
        )
    )


def place_html(plan: BenchPlan, row: int, column: int) -> str:
    """Return one place of a bench, for swapping it alone after a move."""
    href = reverse("batches:tray", args=[_CODE_HERE])
    return _place(plan, row, column, href=href, sprite=static("glyphs/sprite.svg"))


def _place(plan: BenchPlan, row: int, column: int, *, href: str, sprite: str) -> str:
    here = place_id(escape(plan.code), row, column)
    cells = plan.places.get((row, column), ())
    if not cells:
        free = f"free place, {plan.code}, row {row}, column {column}"
        # No stop of the Tab key: the script reaches it by the arrow keys; nothing else needs it.
        return (
            f'<button class="cell free" type="button" tabindex="-1" id="{here}" '
            f'data-bench="{escape(plan.code)}" data-row="{row}" data-column="{column}" '
            f'aria-label="{escape(in_words(free))}"></button>'
        )
    return tray_cell(cells[0], element_id=here, href=href, sprite=sprite, more=len(cells) - 1)


def _words_of(cell: Cell) -> str:
    """Return what a cell says, piece by piece in the reader's language."""
    return ", ".join(in_words(piece) for piece in cell.words.split(", "))


def tray_cell(cell: Cell, *, element_id: str, href: str, sprite: str, more: int = 0) -> str:
    """Return a tray's cell: a link to its page that the script opens as a card."""
    code = escape(cell.code)
    faded = "" if cell.fits else " faded"
    known = f' id="{element_id}"' if element_id else ""
    state = "" if cell.state == "well" else f' data-state="{cell.state}"'
    stacked = f" +{more}" if more else ""
    words = escape(_words_of(cell))
    return (
        f'<a class="cell{faded}"{known}{state} href="{href.replace(_CODE_HERE, code)}" '
        f'data-tray="{code}" data-revision="{cell.revision}" aria-label="{words}">'
        f'<svg class="glyph" aria-hidden="true"><use href="{sprite}#glyph-{cell.glyph}"/></svg>'
        f"<span>{escape(cell.short)}{stacked}</span></a>"
    )
