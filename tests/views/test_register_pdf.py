"""Can the register of treatments be given to an inspector on paper?"""

from __future__ import annotations

import shutil
import subprocess
from datetime import timedelta

import pytest
from django.urls import reverse

from batches.core.errors import NurseryError
from batches.services.treatments import TreatmentWords, record_treatment
from batches.views import register_pdf
from tests.factories import NOW, TODAY, HouseFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def treated():
    house = HouseFactory(code="MIST")
    for days in (40, 1):
        done_at = NOW - timedelta(days=days)
        words = TreatmentWords(
            done_at=done_at, product=f"product of day {days}", place_or_trays=house.code,
            operator="Greta Lunn", rate="2 mL/L", reentry_hours=12,
        )  # fmt: skip
        record_treatment(words=words, now=done_at)


def text_of(pdf: bytes) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed (poppler-utils)")
    run = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True
    )
    return run.stdout.decode()


def test_the_pdf_holds_the_days_asked_for(hand, treated):
    first = (TODAY - timedelta(days=7)).isoformat()
    answer = hand.get(reverse("batches:treatments-pdf"), {"from": first})
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(text_of(answer.content).split())
    assert "product of day 1" in text
    assert "2 mL/L" in text
    assert "Greta Lunn" in text
    assert "product of day 40" not in text
    everything = hand.get(reverse("batches:treatments-pdf"), {"from": "rubbish"})
    assert "product of day 40" in " ".join(text_of(everything.content).split())


def test_where_no_pdf_can_be_made_the_page_says_so(hand, treated, monkeypatch):
    def cannot(_html: str) -> bytes:
        raise NurseryError("Labels need Pango: install it.")

    monkeypatch.setattr(register_pdf, "html_to_pdf", cannot)
    answer = hand.get(reverse("batches:treatments-pdf"), follow=True)
    assert "install it" in answer.content.decode()
