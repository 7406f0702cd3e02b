"""Can any name, note or other text pull a file or a network address into a PDF?

Every text that people or files may bring is set to markup and addresses that would fetch something,
and every PDF is made. Nothing may call the listener on loopback, no word of the file may appear.
"""

from __future__ import annotations

import socket
import tempfile
import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.urls import reverse

from batches.labels import print_labels
from batches.labels.rows import LabelRow
from batches.labels.stocks import STOCKS
from batches.models import CodeCounter, CodeEntry, Person, PlannedSowing, Treatment, guards
from batches.services.holds import hold_trays
from batches.services.own_settings import KNOWN, own_setting, set_own
from batches.services.passports import Printed, note_issued
from tests.browser.addresses import NOT_VISITED
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    OrderFactory,
    PlantMovementFactory,
    SourceFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
)
from tests.labels.examples import lot, passport, pot
from tests.labels.paper import PRINTER, unpacked, words

pytestmark = [PRINTER, pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
SECRET = "sesame-under-the-doormat"
#: PDFs that hold nothing but a stock's own measures and example labels
OF_STOCKS = {"label-stock-calibration", "label-stock-test"}
#: the labels' own PDF is tried below, text by text
OF_LABELS = {"labels-run-pdf"}


@dataclass
class Bait:
    """A file and a listener that nobody should reach; ``texts`` would reach for them."""

    file: Path
    url: str
    calls: list[str]

    @property
    def texts(self) -> tuple[str, ...]:
        file = self.file.as_uri()
        return (
            f"<img src={self.url}/a>",
            f"<img src={file}>",
            f"<style>@import url({self.url}/b);</style>",
            f"<link rel=attachment href={file}>",
            f"<link rel=stylesheet href={self.url}/c>",
            f"<object data={file}></object>",
            f"<svg><image href={self.url}/d /></svg>",
            f"</td><p style='background:url({self.url}/e)'>",
            f"{{% include '{self.file}' %}}",
            f"url({self.url}/f)",
            f"<a href={self.url}/g>x</a>",
        )


@pytest.fixture
def short_folder() -> Iterator[Path]:
    """A folder whose name leaves room in columns of 80 letters."""
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


@pytest.fixture
def bait(short_folder: Path) -> Iterator[Bait]:
    file = short_folder / "s"
    file.write_text(SECRET)
    server = socket.create_server(("127.0.0.1", 0))
    server.settimeout(0.05)
    calls: list[str] = []
    ended = threading.Event()

    def accept() -> None:
        while not ended.is_set():
            try:
                caller, _ = server.accept()
            except TimeoutError:
                continue
            calls.append(caller.recv(200).decode(errors="replace"))
            caller.close()

    thread = threading.Thread(target=accept)
    thread.start()
    yield Bait(file=file, url=f"http://127.0.0.1:{server.getsockname()[1]}", calls=calls)
    ended.set()
    thread.join()
    server.close()


def a_nursery() -> tuple[str, str]:
    """Make something of everything that is printed; give a tray's code and its batch's."""
    source = SourceFactory(kind="purchase", supplier="x", passport="x", locality="x")
    bench = BenchFactory(name="x")
    one = TrayFactory(
        batch__spore_lot=SporeLotFactory(source=source, taxon=source.taxon, collected_by="x"),
        bench=bench, counted=5, look_due_on=TODAY, due_on=TODAY, pot_size="x", stage="ready",
    )  # fmt: skip
    TrayCheckFactory(tray=one, note="x", seen_at=NOW - timedelta(days=1), signs="mould")
    PlantMovementFactory(tray=one, kind="dispatch", quantity=2, recipient="x")
    OrderFactory(taxon=one.batch.taxon, customer="x", pot_size="x")
    Treatment.objects.create(
        done_at=NOW, product="x", rate="x", place_or_trays="x", operator="x", recorded_at=NOW
    )
    PlannedSowing.objects.create(
        taxon=TaxonFactory(), trays=2, sow_on=TODAY, why="x", planned_by="x", planned_at=NOW
    )
    hold_trays(codes=[one.code], reason="x", traced_from="x", by="x", now=NOW)
    set_own(name="passport_form", value="EU")
    issued = Printed(form="EU", title="x", a="x", b="x", c=one.code, d="x", e="x", labels=1)
    note_issued(printed=[issued], run=uuid4(),
                by="x", now=NOW)  # fmt: skip
    return one.code, one.batch.code


def poison(texts: tuple[str, ...]) -> int:
    """Set every free text that is stored to one of the texts in turn; return how many were set.

    Codes, words out of a list, hashes and what carries codes stay: pages are found by them.
    """
    kept = {
        "code", "code_stem", "c", "mothers", "place_or_trays", "signs", "last_signs", "routes",
        "cause", "end_cause", "hash",
    }  # fmt: skip
    turn = 0
    guards.drop_guards(connection)
    Person.objects.filter(role="manager").update(name=texts[0])
    for model in apps.get_app_config("batches").get_models():
        if model in (Person, CodeEntry, CodeCounter):
            continue
        for field in model._meta.get_fields():
            if not isinstance(field, (models.CharField, models.TextField)):
                continue
            free = not field.choices and not field.unique and not field.name.endswith("_hash")
            if not free or field.name in kept:
                continue
            most = field.max_length or 4_000
            fit = [text for text in texts if len(text) <= most] or [texts[0][:most]]
            if most < 9 or not model._default_manager.exists():
                continue
            # A word out of a list that the database itself knows is no free text.
            with suppress(IntegrityError), transaction.atomic():
                model._default_manager.update(**{field.name: fit[turn % len(fit)]})
                turn += 1
    for name, (usual, _) in KNOWN.items():
        if isinstance(usual, str) and name not in {"label_address", "language", "passport_form"}:
            set_own(name=name, value=texts[turn % len(texts)])
    guards.create_guards(connection)
    return turn


def prints(tray: str, batch: str) -> dict[str, str]:
    """Return the address of every PDF that is no label, by name."""
    whole = {
        "batch-card": reverse("batches:batch-card", args=[batch]),
        "trace-print": reverse("batches:trace-print", args=[tray]),
        "trace-print-asked": reverse("batches:trace-print-asked") + f"?bench={BENCH}",
    }
    names = {name for name, why in NOT_VISITED.items() if why.startswith("a PDF")}
    names -= OF_STOCKS | OF_LABELS
    return {name: whole.get(name) or reverse(f"batches:{name}") for name in sorted(names)}


BENCH = "BAIT-1"


@pytest.mark.parametrize("turned", range(0, 11, 5))
def test_nothing_people_write_fetches_anything(manager, tmp_path, bait, turned, transactional_db):
    tray, batch = a_nursery()
    bench = BenchFactory(code=BENCH)
    TrayFactory(bench=bench, batch__code="BAIT-2")
    texts = bait.texts[turned:] + bait.texts[:turned]
    assert poison(texts) > 25
    assert own_setting("nursery_name") in texts
    addresses = prints(tray, batch)
    assert len(addresses) >= 10
    for name, address in addresses.items():
        answer = manager.get(address)
        assert answer["Content-Type"] == "application/pdf", (name, answer)
        inside = unpacked(answer.content)
        for word in (b"/EmbeddedFile", b"/Subtype /Image", b"/URI", b"/FileAttachment", b"/GoToR"):
            assert word not in inside, (name, word)
        file = tmp_path / f"{name}.pdf"
        file.write_bytes(answer.content)
        assert SECRET not in words(file), name
    assert bait.calls == []


def test_nothing_on_a_label_fetches_anything(tmp_path, bait):
    plain = [pot(73, passport=passport(), extra_lines=("x",)), lot()]
    rows = []
    for row in plain:
        for number, text in enumerate(bait.texts):
            free = {
                field.name: text[:30] if field.name == "price" else text
                for field in fields(LabelRow)
                if isinstance(getattr(row, field.name), str)
                and field.name not in {"kind", "code", "url"}
            }
            runs = ((text, True), (text, False))
            code = f"B{number}"
            rows.append(
                replace(
                    row, code=code, url=f"http://a.example/t/{code}", name_runs=runs,
                    extra_lines=(text,), passport=None, **free,
                )
            )  # fmt: skip
    for stock in STOCKS.values():
        output = tmp_path / f"{stock.name}.pdf"
        print_labels(rows, stock, output=output)
        inside = unpacked(output.read_bytes())
        assert b"/URI" not in inside
        assert b"/EmbeddedFile" not in inside
        assert SECRET not in words(output)
    assert bait.calls == []
