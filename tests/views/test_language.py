"""Does each person read the pages in their own language, and do drawings and files stay as is?"""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ET
import zipfile
from datetime import timedelta

import pytest
from django.template import Context, Template
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation

from batches.models import HouseReading, MediumBatch, Person
from batches.services.language import LANGUAGES
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    HouseFactory,
    PlantMovementFactory,
    StageTransitionFactory,
    TrayCheckFactory,
    TrayFactory,
)
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
#: attributes of a drawing that hold numbers. Source: SVG 2, 4.3: a number has a decimal point
NUMBERS = {"x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "width", "height", "rx", "points",
           "viewBox"}  # fmt: skip


@pytest.fixture
def german(office, office_person):
    """The office, which reads German."""
    Person.objects.filter(pk=office_person.pk).update(language="de")
    return office


def test_a_person_chooses_and_comes_back_to_the_page_read(hand, manager):
    assert 'lang="en-GB"' in page(hand, "sow")
    answer = hand.post(reverse("batches:my-language"), {"language": "de", "back": "/sow/?a=1"})
    assert answer["Location"] == "/sow/?a=1"
    text = page(hand, "sow")
    assert '<html lang="de"' in text
    assert ">Heute</a>" in text
    assert '<html lang="en-GB"' in page(manager, "sow"), "nobody else's language changes"
    hand.post(reverse("batches:my-language"), {"language": "en-gb"})
    assert '<html lang="en-GB"' in page(hand, "sow")


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example", "javascript:1"]
)
def test_nobody_is_led_elsewhere_and_an_unknown_language_changes_nothing(hand, back):
    answer = hand.post(reverse("batches:my-language"), {"language": "xx", "back": back})
    assert answer["Location"] == "/"
    assert '<html lang="en-GB"' in page(hand, "today")


def test_drawings_hold_decimal_points_in_every_language(german):
    tray = TrayFactory(counted=60)
    for days in (60, 47, 33):
        TrayCheckFactory(tray=tray, seen_at=NOW - timedelta(days=days))
    StageTransitionFactory(
        tray=tray, from_stage="sown", to_stage="gametophyte", seen_on=TODAY - timedelta(days=47)
    )
    PlantMovementFactory(tray=tray, on=TODAY - timedelta(days=33), kind="loss", quantity=1)
    text = page(german, "tray", tray.code)
    assert '<html lang="de"' in text
    drawings = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    found = [
        (name, value)
        for drawing in drawings
        for element in ET.fromstring(drawing).iter()  # noqa: S314 - our own page
        for name, value in element.attrib.items()
        if name in NUMBERS
    ]
    assert len(found) > 20
    assert [pair for pair in found if not re.fullmatch(r"[-0-9. ,]*", pair[1])] == []
    assert [pair for pair in found if "," in pair[1] and pair[0] != "points"] == []


def test_broken_numbers_of_a_drawing_keep_their_points():
    """The line of green share, whose places are broken numbers."""
    point = {"x": 12.5, "y": 66.25, "share": 0.5, "on": TODAY, "comparable": True}
    green = {"width": 1000.5, "sentence": "Half of it.", "path": "12.5,66.25", "points": [point]}
    with translation.override("de"):
        drawn = render_to_string("batches/tray/_green_line.html", {"green": green})
        assert f"{Template('{{ n }}').render(Context({'n': 12.5}))}" == "12,5", "elsewhere a comma"
    assert 'cx="12.5" cy="66.25"' in drawn
    assert 'viewBox="0 0 1000.5 132"' in drawn


def test_files_and_answers_for_programs_are_the_same_in_every_language(german, manager):
    BenchFactory()
    HouseReading.objects.create(
        house=HouseFactory(), on=TODAY, lowest_c=-2.5, highest_c=8.25, recorded_at=NOW
    )
    tray = TrayFactory(carrier=True, counted=18, stage="ready", batch__route="bought_in")
    PlantMovementFactory(tray=tray, on=TODAY, kind="dispatch", quantity=3, recipient="Stall")
    for name in ("dispatches-csv", "availability-csv", "treatments-csv"):
        assert (
            german.get(reverse(f"batches:{name}")).content
            == manager.get(reverse(f"batches:{name}")).content
        ), name
    told = german.get(reverse("batches:sync-hello"))
    assert set(json.loads(told.content)) == {"server_time", "generation"}
    export = german.get(reverse("batches:records-export"))
    with zipfile.ZipFile(io.BytesIO(b"".join(export.streaming_content))) as packed:
        assert b"-2.5,8.25" in packed.read("house_readings.csv")


def test_a_number_typed_in_german_pages_is_the_number_meant(german):
    """A browser sends a point from a field for numbers, whatever its language. Source: HTML."""
    form = filled(recipe="peat:2 perlite:1", made_on=TODAY, litres="12.5")
    assert german.post(reverse("batches:medium-new"), form).status_code == 302
    assert MediumBatch.objects.get().litres == 12.5
    assert "12,5" in page(german, "media")


def test_every_language_has_its_own_name() -> None:
    assert LANGUAGES["de"] == "Deutsch"
