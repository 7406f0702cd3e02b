"""Do lines come back from WeasyPrint one by one, in order, and as text only?"""

from __future__ import annotations

import io
import re

from batches.labels.pdf_file import PdfFile
from batches.labels.rows import Runs
from batches.labels.typesetting import LineKey, Set, Typesetter
from tests.labels.paper import PRINTER

pytestmark = PRINTER


def lines(*texts: str | Runs, size: float = 10, bold: bool = False) -> list[LineKey]:
    runs: list[Runs] = [((one, False),) if isinstance(one, str) else one for one in texts]
    return [LineKey(line=one, bold=bold, size=size) for one in runs]


def typeset(keys: list[LineKey]) -> list[Set]:
    strips, _ = Typesetter(PdfFile(io.BytesIO())).set_lines(keys)
    return [strips[key] for key in keys]


def glyphs(one: Set) -> str:
    orders = b"".join(orders for _, _, orders in one.pieces)
    return "".join(part.decode() for part in re.findall(rb"<([0-9a-f]+)>", orders))


def fonts(one: Set) -> list[bytes]:
    return re.findall(rb"/(\S+) \S+ Tf", b"".join(orders for _, _, orders in one.pieces))


def test_each_line_is_itself_whatever_stands_beside_it() -> None:
    alone = [glyphs(typeset(lines(text))[0]) for text in ("fern", "moss", "fern two")]
    together = [glyphs(one) for one in typeset(lines("fern", "moss", "fern two"))]
    assert together == alone
    assert len(set(together)) == 3


def test_hundreds_of_lines_keep_their_order() -> None:
    texts = [f"line {number}" for number in range(700)]
    first, *_, last = typeset(lines(*texts))
    assert glyphs(first) == glyphs(typeset(lines("line 0"))[0])
    assert glyphs(last) == glyphs(typeset(lines("line 699"))[0])


def test_italic_and_bold_are_cuts_of_their_own() -> None:
    mixed: Runs = (("Osmunda", True), (" 'Crispa'", False))
    upright, heavy = typeset(lines("Osmunda"))[0], typeset(lines("Osmunda", bold=True))[0]
    assert len(set(fonts(typeset(lines(mixed))[0]))) == 2
    assert fonts(upright) != fonts(heavy)


def test_every_line_names_its_font_itself() -> None:
    for one in typeset(lines("one", "two", "three")):
        assert len(fonts(one)) == 1


def test_baselines_lie_where_the_layout_puts_them() -> None:
    # Ascent 0.95 and descent 0.29 of the font's own tables, in a line box of 1.15.
    for size in (5.0, 10.0, 24.5):
        ((_, y, _),) = typeset(lines("x", size=size))[0].pieces
        assert abs(y - size * (0.95 + (1.15 - 1.24) / 2)) < 0.1


def test_markup_in_a_name_is_text() -> None:
    hostile = "<img src=file:///etc/hostname>&amp;"
    assert len(glyphs(typeset(lines(hostile))[0])) == 4 * len(hostile)


def test_a_line_of_another_script_comes_back_too() -> None:
    strips = typeset(lines("שרך", "Щитовник", "蕨", "plain"))
    assert len(strips) == 4
    assert all(one.pieces for one in strips)
