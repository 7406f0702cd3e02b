"""Is the German complete for the pages that are marked: base, Today, tray, map, sowing, picking?"""

from __future__ import annotations

import html
import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from batches.models import Person
from batches.services.language import catalogue_of
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    SporeLotFactory,
    TrayCheckFactory,
    TrayFactory,
)

TEMPLATES = Path(settings.BASE_DIR) / "templates"
MARKED = sorted(
    path.relative_to(TEMPLATES).as_posix()
    for path in TEMPLATES.rglob("*.html")
    if "{% translate" in path.read_text(encoding="utf-8")
)
_TRANSLATED = re.compile(
    r"""\{% translate (?:"((?:[^"\\]|\\.)*)"|'((?:[^'\\]|\\.)*)')(?: context ["'](\w+)["'])?"""
)
#: words that no German sentence holds
ENGLISH = re.compile(
    r"\b(the|is|are|of|and|with|from|look|looks|looked|tray|trays|since|not|to|by|for|its|any|"
    r"days|here|when|which|last|lost|moved|opened|seen|plants|patches|late|due|ready|week)\b",
    re.IGNORECASE,
)


def test_the_pages_of_the_bench_are_marked() -> None:
    for folder in ("today", "tray", "bench_map", "sow", "picking", "form", "look_over"):
        assert any(f"/{folder}/" in name for name in MARKED), folder
    assert "_base.html" in MARKED


@pytest.mark.parametrize("name", MARKED)
def test_every_marked_text_has_its_german(name: str) -> None:
    text = (TEMPLATES / name).read_text(encoding="utf-8")
    marked = {
        f"{context}\x04{one or other}" if context else one or other
        for one, other, context in _TRANSLATED.findall(text)
    }
    assert marked - set(catalogue_of("de")) == set()


@pytest.mark.django_db
@pytest.mark.usefixtures("fixed_clock")
def test_no_english_word_is_left_on_the_pages_of_the_bench(office, office_person) -> None:
    Person.objects.filter(pk=office_person.pk).update(language="de")
    bench = BenchFactory(name="Tisch 1", rows=3, columns=4, house__name="Haus 1")
    fern = {"batch__taxon__common_name": "Wurmfarn"}
    mat = TrayFactory(
        bench=bench, row=1, column=1, stage="first_frond", counted=40, unit="patches",
        look_due_on=TODAY - timedelta(days=3), due_on=TODAY - timedelta(days=3),
        late_on=TODAY - timedelta(days=9), label_printed_on=None, container="Schale", **fern,
    )  # fmt: skip
    for days in (40, 12):
        TrayCheckFactory(
            tray=mat, seen_at=NOW - timedelta(days=days), by="Bryn Hale", signs="mould dry"
        )
    cells = TrayFactory(cells_of_84=True, counted=80, batch__route="bought_in", **fern)
    TrayFactory(carrier=True, counted=18, stage="ready", batch__route="bought_in", **fern)
    lot = SporeLotFactory(taxon__common_name="Wurmfarn")
    pages = (
        reverse("batches:today"),
        reverse("batches:today") + "?by=bench",
        reverse("batches:tray", args=[mat.code]),
        reverse("batches:tray", args=[cells.code]),
        reverse("batches:bench-map"),
        reverse("batches:sow"),
        reverse("batches:sow-route", args=["spores"]) + f"?lot={lot.code}",
        reverse("batches:prick-out", args=[mat.code]),
        reverse("batches:pot-up", args=[cells.code]),
        reverse("batches:look-over", args=[bench.code]),
        reverse("batches:tray-deed", args=[mat.code, "discard"]),
        reverse("batches:tray-deed", args=[mat.code, "move"]),
    )
    left = {address: words for address in pages if (words := _english_on(office, address))}
    assert left == {}


def _english_on(client, address: str) -> list[str]:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return english_in(answer)


def english_in(answer, words: re.Pattern[str] = ENGLISH) -> list[str]:
    """Return the texts of a page, and what its labels say to screen readers, that are English."""
    page = re.sub(r"<(script|style)\b.*?</\1>|<datalist.*?</datalist>", "",
                  answer.content.decode(), flags=re.DOTALL)  # fmt: skip
    texts = re.split(r"<[^>]*>", page)
    texts += re.findall(r'\b(?:aria-label|data-label|placeholder|title|alt)="([^"]*)"', page)
    found = (html.unescape(text).strip() for text in texts)
    return [text for text in found if words.search(text) and "Frondbook" not in text]
