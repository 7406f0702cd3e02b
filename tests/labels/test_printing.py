"""Does asking for labels give the labels, or a sentence that says why not?"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import pytest

from batches.labels import LabelRefused, first_sheet_pdf, print_labels
from batches.labels.printing import MOST_LABELS
from batches.labels.stocks import STOCKS
from tests.labels.examples import every_kind, label, pot, tray
from tests.labels.paper import (
    PRINTER,
    ink_box,
    is_blank,
    labels,
    pages,
    read_codes,
    run,
    unpacked,
    words,
)

SHEET = STOCKS["a4-24"]
SINGLE = STOCKS["single-100x25"]


@PRINTER
def test_labels_start_at_any_free_place_of_a_used_sheet(tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    rows = [tray(number) for number in range(1, 6)]
    result = print_labels(rows, SHEET, start_at=22, output=output)
    assert (result.labels, result.sheets) == (5, 2)
    first, second = (labels(page, SHEET, dpi=300) for page in pages(output, dpi=300))
    assert [is_blank(place) for place in first] == [True] * 21 + [False] * 3
    assert [is_blank(place) for place in second] == [False] * 2 + [True] * 22
    read = [read_codes(place) for place in (*first[21:], *second[:2])]
    assert read == [[row.url] for row in rows]


@PRINTER
def test_copies_follow_each_other(tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    result = print_labels([pot(1), pot(2)], SINGLE, copies=2, start_at=99, output=output)
    assert (result.labels, result.sheets) == (4, 4)
    said = run("pdftotext", output, "-")
    assert said.count("26W14-001-K") == said.count("26W14-002-K") == 2
    assert said.rindex("26W14-001-K") < said.index("26W14-002-K")


@PRINTER
def test_a_shift_moves_the_print(tmp_path: Path) -> None:
    from dataclasses import replace

    boxes = []
    for shift in (0.0, 2.0):
        output = tmp_path / f"{shift}.pdf"
        print_labels([pot(1)], replace(SHEET, offset_x=shift, offset_y=shift), output=output)
        boxes.append(ink_box(pages(output, dpi=254)[0]))
    assert all(15 <= after - before <= 25 for before, after in zip(*boxes, strict=True))


@PRINTER
def test_the_lower_third_of_a_stick_in_label_stays_blank(tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    stock = STOCKS["stick-in-25x127"]
    print_labels(every_kind(), stock, output=output)
    for page in pages(output, dpi=300):
        assert ink_box(page)[3] <= stock.usable_height / 25.4 * 300 + 1


@PRINTER
@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
def test_the_blank_edge_of_every_label_stays_blank(stock, tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    rows = [*every_kind(), tray(5, name=(("x" * 300, True),))]
    print_labels(rows, stock, output=output)
    cut = [one for page in pages(output, dpi=300) for one in labels(page, stock, dpi=300)]
    edge_x, edge_y = (inset / 25.4 * 300 for inset in (stock.inset_x, stock.inset_y))
    for label_ in cut[: len(rows)]:
        left, top, right, bottom = ink_box(label_)
        assert left >= edge_x - 3
        assert right <= label_.width - edge_x + 3
        assert top >= edge_y - 3
        assert bottom <= label_.height - edge_y + 3


@PRINTER
def test_the_words_can_be_selected_and_the_botanical_part_is_italic(tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    print_labels([tray(3)], SHEET, output=output)
    said = words(output)
    for part in ("Dryopteris affinis", "'Crispa Gracilis'", "(wk 14)", "lot 26L-012-R · tray 3"):
        assert part in said
    # pdftohtml marks what is set in a slanted font.
    marked = run("pdftohtml", "-xml", "-stdout", "-i", output)
    assert "<i><b>Dryopteris affinis</b></i>" in marked.replace("<b><i>", "<i><b>").replace(
        "</i></b>", "</b></i>"
    )
    assert "<b>&#39;Crispa Gracilis&#39;</b>" in marked.replace("'", "&#39;")


HOSTILE = [
    "<script>alert(1)</script>",
    "<img src='file:///etc/hostname'>",
    "<link rel=attachment href='file:///etc/hostname'>",
    "{{7*7}} {% include '/etc/hostname' %}",
    "</p></body><body onload=x>",
    "url(file:///etc/hostname) @import 'http://127.0.0.1:9/x';",
    "&lt;b&gt; &amp; &#0; %s %d {0}",
    ") Tj ET Q /Im1 Do (",
    "\\) (( \\\\ \\n endstream endobj",
]


@PRINTER
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_words_and_nothing_else(name: str, tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    row = pot(1, name=((name, True),), common_name=name, care_line=name, extra_lines=(name,))
    print_labels([row], SHEET, output=output)
    packed = words(output).replace(" ", "")
    assert "".join(name.split()) in packed.replace("’", "'")
    assert "0 embedded files" in run("pdfdetach", "-list", output)
    assert len(run("pdfimages", "-list", output).splitlines()) == 2
    inside = unpacked(output.read_bytes())
    for sign in (b"/URI", b"/JavaScript", b"/Annot", b"/EmbeddedFile", b"/Launch"):
        assert sign not in inside
    assert read_codes(labels(pages(output, dpi=300)[0], SHEET, dpi=300)[0]) == [row.url]


@PRINTER
@pytest.mark.parametrize(
    ("name", "noted"),
    [
        ("x" * 10_000, True),
        ("fern " * 2_000, True),
        ("🌿🌿🌿", True),
        ("שרך מצוי", False),
        ("سرخس", False),
        ("蕨類植物", False),
        ("\u202eevil\u202c", False),
        ("Z\u0351\u0352a\u0353lgo", False),
        ("\ud800 half a letter", False),
        ("﷽" * 50, True),
    ],
)
def test_an_odd_name_prints_and_leaves_the_qr_alone(name: str, noted: bool, tmp_path: Path) -> None:
    for stock in (SHEET, STOCKS["a4-65"]):
        output = tmp_path / f"{stock.name}.pdf"
        row = tray(3, name=((name, True),), lot_code="26L-012-R")
        result = print_labels([row], stock, output=output)
        assert any("name" in note for note in result.notes) == noted
        (page,) = pages(output, dpi=203)
        assert read_codes(labels(page, stock, dpi=203)[0]) == [row.url]
        assert "3-26W14-073-K" in words(output)


@PRINTER
def test_a_preview_is_the_first_sheet_and_no_more(tmp_path: Path) -> None:
    # The last label decides on the type of all, so the first sheet must know of it.
    last = tray(61, code="61-26W14-073-K-WITH-A-LONGER-QR", extra_lines=("a line more",))
    rows = [*(tray(number) for number in range(60)), last]
    file = tmp_path / "first.pdf"
    file.write_bytes(first_sheet_pdf(rows, SHEET, copies=2, start_at=3))
    assert len(pages(file, dpi=50)) == 1
    whole = tmp_path / "whole.pdf"
    print_labels(rows, SHEET, copies=2, start_at=3, output=whole)
    assert run("pdftotext", "-bbox", file, "-") == run("pdftotext", "-bbox", "-l", "1", whole, "-")
    file.write_bytes(first_sheet_pdf(rows, SINGLE))
    assert len(pages(file, dpi=50)) == 1


@PRINTER
def test_nothing_of_a_job_is_left_in_the_temporary_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    (tmp_path / "temporary").mkdir()
    print_labels([pot(1)], SHEET, output=tmp_path / "labels.pdf")
    assert list((tmp_path / "temporary").iterdir()) == []
    assert [file.name for file in tmp_path.iterdir() if file.is_file()] == ["labels.pdf"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"rows": []}, "nothing to print"),
        ({"copies": 0}, "at least 1"),
        ({"copies": MOST_LABELS + 1}, "at least 1|too many"),
        ({"rows": [pot(1)] * 300, "copies": 300}, "too many"),
        ({"start_at": 0}, "labels 1 to 24"),
        ({"start_at": 25}, "labels 1 to 24"),
        ({"rows": [label(code="no code")]}, "cannot be printed as a code"),
    ],
)
def test_what_cannot_be_printed_is_refused_before_anything_starts(
    change: dict[str, Any], says: str, tmp_path: Path
) -> None:
    job: dict[str, Any] = {
        "rows": [pot(1)],
        "stock": SHEET,
        "output": tmp_path / "labels.pdf",
        **change,
    }
    with pytest.raises(LabelRefused, match=says):
        print_labels(**job)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(LabelRefused, match="There is no folder"):
        print_labels([pot(1)], SHEET, output=tmp_path / "missing" / "labels.pdf")
