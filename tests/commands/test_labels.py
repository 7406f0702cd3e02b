"""Does the command print the labels of trays and batches, and can every code be read again?"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from batches.core.codes import read_code
from batches.labels import STOCKS, stock_named
from batches.models import LabelPrint, SporeLot, Tray
from batches.services.batch_start import Trays
from batches.services.own_settings import set_own
from batches.services.sowing import sow_spores
from tests.factories import NOW, TODAY, LaidOutTrayFactory, SporeLotFactory, TrayFactory
from tests.labels.paper import PRINTER, is_blank, labels, pages, read_codes, with_ink_gain, words

pytestmark = [PRINTER, pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

ADDRESS = "http://hollowmere-office.local:8000"


def run(*typed: str | Path) -> str:
    out = io.StringIO()
    call_command("labels", *map(str, typed), stdout=out)
    return out.getvalue()


def printed(*typed: str | Path) -> dict[str, float]:
    found: dict[str, float] = json.loads(run(*typed, "--json"))
    assert found.keys() == {"labels", "sheets", "seconds"}
    return found


@pytest.fixture
def output(tmp_path: Path) -> Path:
    return tmp_path / "labels.pdf"


@pytest.fixture
def batch(now):
    """A batch as the program makes it: five trays with codes that were given out."""
    lot: SporeLot = SporeLotFactory()
    sown = sow_spores(
        lot=lot,
        on=date(2026, 3, 30),
        trays=Trays(how_many=5, container="covered tray"),
        by="Bryn Hale",
        now=now,
    )
    set_own(name="label_address", value=ADDRESS)
    return sown.batch


def codes_on(pdf: Path, stock: str, *, dpi: int, gain: bool = False) -> Iterator[list[str]]:
    """Yield what a reader finds on each label that is not blank, as a printer makes it."""
    paper = stock_named(stock)
    for page in pages(pdf, dpi=dpi):
        for label in labels(page, paper, dpi=dpi):
            if not is_blank(label):
                yield read_codes(with_ink_gain(label) if gain else label)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", sorted(STOCKS))
def test_every_qr_of_a_batch_reads_back_as_its_tray(batch, output, stock, dpi):
    """Read by a program of its own, in one bit, also with a dot of ink gain."""
    found = printed("--stock", stock, "--batch", batch.code, "--output", output)
    trays = sorted(batch.trays.values_list("code", flat=True))
    assert all(read_code(code).fits for code in trays)
    wanted = [[f"{ADDRESS}/t/{code}"] for code in trays]
    assert found["labels"] == len(wanted) == 5
    for gain in (False, True):
        read = list(codes_on(output, stock, dpi=dpi, gain=gain))
        # A host may stand in capitals on small stock (it means the same, RFC 3986 6.2.2.1).
        assert [[_host_low(text) for text in one] for one in read] == wanted


def _host_low(text: str) -> str:
    head, _, code = text.partition("/t/") if "/t/" in text else text.partition("/T/")
    return f"{head.lower()}/t/{code}"


def test_several_flags_and_one_flag_with_many_codes_mean_the_same(output):
    one, two, three = (TrayFactory(code=code).code for code in ("A-1", "A-2", "A-3"))
    together = printed("--stock", "a4-24", "--tray", one, two, three, "--output", output)
    first = words(output)
    apart = printed(
        "--stock", "a4-24", "--tray", one, "--tray", two, three, "--output", output
    )  # fmt: skip
    assert (together["labels"], apart["labels"]) == (3, 3)
    assert words(output) == first


def test_a_code_is_looked_up_exactly_and_then_whatever_its_case(output):
    TrayFactory(code="Aa-1")
    run("--stock", "a4-24", "--tray", "AA-1", "--output", output)
    assert "Aa-1" in words(output)
    assert LabelPrint.objects.get().codes == "Aa-1"
    TrayFactory(code="aa-1")
    run("--stock", "a4-24", "--tray", "aa-1", "--output", output)
    assert "aa-1" in words(output)
    with pytest.raises(CommandError, match="differ only in capitals"):
        run("--stock", "a4-24", "--tray", "AA-1", "--output", output)


def test_the_trays_are_labelled_from_today_on_and_the_print_is_in_the_log(output):
    one = TrayFactory(label_printed_on=None)
    waiting = LaidOutTrayFactory(batch=one.batch)
    run("--stock", "a4-65", "--batch", one.batch.code.lower(), "--output", output)
    one.refresh_from_db()
    waiting.refresh_from_db()
    assert (one.label_printed_on, waiting.label_printed_on) == (TODAY, TODAY)
    log = LabelPrint.objects.get()
    assert (log.labels, log.stock, log.by) == (2, "a4-65", "command line")
    assert log.printed_at == NOW


def test_copies_and_the_first_free_label(output):
    code = TrayFactory().code
    found = printed(
        "--stock", "a4-24", "--tray", code, "--copies", "3", "--start-at", "23",
        "--output", output,
    )  # fmt: skip
    assert (found["labels"], found["sheets"]) == (3, 2)
    first, second = pages(output, dpi=72)
    paper = stock_named("a4-24")
    inked = [not is_blank(label) for label in labels(first, paper, dpi=72)]
    assert [place + 1 for place, ink in enumerate(inked) if ink] == [23, 24]
    assert not is_blank(labels(second, paper, dpi=72)[0])


def test_singles_accept_a_first_label_and_ignore_it(output):
    found = printed(
        "--stock", "single-100x25", "--tray", TrayFactory().code, "--start-at", "7",
        "--output", output,
    )  # fmt: skip
    assert (found["labels"], found["sheets"]) == (1, 1)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (["--stock", "a4-24", "--tray", "NOTHING"], "no tray's code"),
        (["--stock", "a4-24", "--tray", "26W14-073-05-A"], "check letter"),
        (["--stock", "a4-24", "--batch", "NOTHING"], "Nothing here carries"),
        (["--stock", "a5-1", "--tray", "T"], "no label stock “a5-1”.*a4-24"),
        (["--stock", "a4-24", "--tray", "T", "--start-at", "25"], "no label 25"),
        (["--stock", "a4-24", "--tray", "T", "--copies", "0"], "at least 1"),
        (["--stock", "a4-24", "--tray", "LOT-1"], "a lot's code and no tray's"),
        (["--stock", "a4-24", "--batch", "EMPTY"], "no standing trays"),
    ],
)
def test_what_cannot_be_printed_is_told_in_words_and_nothing_is_noted(output, typed, told):
    TrayFactory(code="T", label_printed_on=None)
    SporeLotFactory(code="LOT-1")
    TrayFactory(batch__code="EMPTY", end="cleared", ended_on=TODAY)
    with pytest.raises(CommandError, match=told):
        run(*typed, "--output", output)
    assert not output.exists()
    assert not LabelPrint.objects.exists()
    assert Tray.objects.get(code="T").label_printed_on is None


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(CommandError, match="no folder"):
        run(
            "--stock", "a4-24", "--tray", TrayFactory().code,
            "--output", tmp_path / "gone" / "labels.pdf",
        )  # fmt: skip
