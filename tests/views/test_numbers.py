"""Do the pages of numbers show their tables, their words, and the same number of questions?"""

from __future__ import annotations

import json
import re
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from batches.models import OwnWindow, PlannedSowing
from batches.services import standing
from tests.factories import (
    NOW,
    STARTED_ON,
    TODAY,
    BatchFactory,
    BenchFactory,
    MediumBatchFactory,
    OrderFactory,
    ParentageFactory,
    PlantMovementFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def sown(batch, *, green_after: int | None, ago: int = 60, signs: str = "", every: int = 2):
    start = TODAY - timedelta(days=ago)
    tray = TrayFactory(batch=batch, started_on=start, stage_seen_on=start)
    for day in range(every, ago, every):
        green = green_after is not None and day >= green_after
        TrayCheckFactory(
            tray=tray, seen_at=at(start + timedelta(days=day)),
            stage_seen="gametophyte" if green else "", signs=signs,
        )  # fmt: skip
        if green or day > 30:
            break
    return tray


def quick_fern(trays: int = 12):
    """A fern a dozen of whose trays were green between day 9 and 20: sooner than the default."""
    batch = BatchFactory(started_on=TODAY - timedelta(days=60))
    some = [sown(batch, green_after=9 + number % 12) for number in range(trays)]
    standing.refold(trays=some, recorded_at=NOW)
    return batch


def potted(*, counted: int = 40, ago: int = 150, taxon=None):
    start = TODAY - timedelta(days=ago)
    batch = BatchFactory(taxon=taxon or TaxonFactory(), started_on=start)
    tray = TrayFactory(batch=batch, carrier=True, counted=counted, started_on=start)
    standing.refold(trays=[tray], recorded_at=NOW)
    return tray


def gone(*, entered: int = 100, moved: int = 90):
    tray = TrayFactory(
        batch=BatchFactory(), cells_of_84=True, counted=entered, ended_on=TODAY, end="cleared"
    )
    PlantMovementFactory(
        tray=tray, on=STARTED_ON, kind="loss", quantity=entered - moved, cause="rot"
    )
    pots = TrayFactory(batch=tray.batch, carrier=True, started_on=TODAY)
    ParentageFactory(parent=tray, child=pots)
    PlantMovementFactory(tray=tray, on=TODAY, kind="out", quantity=moved, to_tray=pots)
    standing.refold(trays=[tray], recorded_at=NOW)
    return tray


def figures(text: str) -> list[dict[str, Any]]:
    found = re.findall(r'<script id="[\w-]+" type="application/json">(.*?)</script>', text)
    return [json.loads(one) for one in found]


ALL = ("durations", "survival", "forecast", "forecast-back-test", "sowing-plan", "shared-causes")


@pytest.mark.parametrize("name", ALL)
def test_an_empty_nursery_is_told_what_will_stand_there(manager, name):
    text = page(manager, name)
    assert figures(text) == [] or name == "survival"
    assert "p50" not in text.lower()
    assert "p10" not in text.lower()


# Durations


def test_durations_stand_in_a_table_before_the_drawing(hand):
    batch = quick_fern()
    text = page(hand, "durations", fern=batch.taxon.code)
    assert text.index("<table") < text.index('class="chart"')
    assert "nine in ten by day" in text
    assert "12 trays" in text
    assert any(figure["layout"]["shapes"] for figure in figures(text))


def test_a_stage_shows_its_ferns_side_by_side(hand):
    quick_fern()
    text = page(hand, "durations", stage="sown")
    assert text.count('class="chart"') == 1
    assert "prothalli (gametophyte) to first frond" not in text
    assert "There is no fern" in page(hand, "durations", fern="NOBODY")


def test_only_the_manager_may_adopt_days_and_then_they_hold(hand, manager):
    batch = quick_fern()
    address = reverse("batches:durations-adopt", args=[batch.taxon.code, "spore", "sown"])
    assert "Adopt these" not in page(hand, "durations", fern=batch.taxon.code)
    assert "Adopt these" in page(manager, "durations", fern=batch.taxon.code)
    answer = manager.post(address, follow=True)
    assert "its own days now" in answer.content.decode()
    assert OwnWindow.objects.get().stage == "sown"
    again = manager.post(address, follow=True)
    assert "Nothing was changed" in again.content.decode()
    nowhere = reverse("batches:durations-adopt", args=[batch.taxon.code, "spore", "asleep"])
    assert manager.post(nowhere).status_code == 404


@pytest.mark.parametrize("how_many", [3, 30])
def test_durations_ask_the_same_of_3_and_30_ferns(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        quick_fern(trays=1)
    with django_assert_num_queries(10):
        page(hand, "durations", stage="all")


# Survival


def test_survival_says_of_how_many_and_what_was_lost(hand):
    tray = gone()
    text = page(hand, "survival")
    for words in ("90 %", tray.batch.taxon.code, "Most were lost to rot: 10 of 10 plants"):
        assert words in text
    for group in ("lot", "medium", "house", "nonsense"):
        page(hand, "survival", by=group)
    assert tray.batch.spore_lot.code in page(hand, "survival", by="lot")


@pytest.mark.parametrize("how_many", [3, 30])
def test_survival_asks_the_same_of_3_and_30_trays(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        gone()
    with django_assert_num_queries(9):
        page(hand, "survival", by="medium")


# Forecast


def test_the_forecast_lays_orders_against_what_becomes_ready(office):
    tray = potted(counted=40)
    OrderFactory(taxon=tray.batch.taxon, quantity=500, wanted_on=TODAY + timedelta(days=100))
    OrderFactory(taxon=tray.batch.taxon, quantity=5, wanted_on=TODAY + timedelta(days=1))
    text = page(office, "forecast")
    assert "short" in text
    detail = page(office, "forecast", fern=tray.batch.taxon.code)
    assert detail.index("<table") < detail.index('class="chart"')
    assert "Week by week" in detail
    assert {trace["name"] for trace in figures(detail)[0]["data"]} == {"low", "likely", "high"}


def test_a_fern_without_trays_says_so(office):
    potted()
    text = page(office, "forecast", fern=TaxonFactory().code)
    assert "nothing more of it becomes ready" in text


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_forecast_asks_the_same_of_3_and_30_trays(office, how_many, django_assert_num_queries):
    for _ in range(how_many):
        potted()
        OrderFactory()
    with django_assert_num_queries(28):
        page(office, "forecast")


# Sowing plan


def asked(tray, **more):
    by = TODAY + timedelta(days=1_000)
    return {
        "fern": tray.batch.taxon.code,
        "pots": "100",
        "by": by.isoformat(),
        "chance": "0.9",
    } | more


def test_a_plan_is_answered_by_address_and_put_on_the_list(office, hand):
    tray = potted()
    text = page(office, "sowing-plan", **asked(tray))
    assert "Put it on the list" in text
    assert "dust mask" in text
    sow_on = re.search(r'name="sow_on" value="([\d-]+)"', text)
    assert sow_on is not None
    address = reverse("batches:sowing-plan")
    answer = office.post(address, asked(tray, sow_on=sow_on[1]), follow=True)
    assert "to be sown on" in answer.content.decode()
    plan = PlannedSowing.objects.get()
    assert plan.sow_on.isoformat() == sow_on[1]
    PlannedSowing.objects.update(sow_on=TODAY)
    assert plan.taxon.name.html in page(hand, "today")
    office.post(reverse("batches:sowing-drop", args=[plan.pk]))
    assert PlannedSowing.objects.get().dropped_on == TODAY


def test_what_cannot_be_met_is_said_plainly(office):
    text = page(
        office, "sowing-plan", **asked(potted(), by=(TODAY + timedelta(days=20)).isoformat())
    )
    assert "It cannot be met" in text
    assert "Put it on the list" not in text


@pytest.mark.parametrize(
    "wrong",
    [{"pots": "0"}, {"pots": "many"}, {"by": "soon"}, {"fern": "NOBODY"}, {"chance": "2"},
     {"by": "2060-01-01"}],
)  # fmt: skip
def test_what_is_not_understood_is_answered_with_the_form(office, wrong):
    answer = office.get(reverse("batches:sowing-plan"), asked(potted(), **wrong))
    assert answer.status_code == 422
    assert "Reckon it" in answer.content.decode()


def test_a_day_after_the_latest_is_refused_and_nothing_stored(office):
    tray = potted()
    answer = office.post(
        reverse("batches:sowing-plan"),
        asked(tray, sow_on=(TODAY + timedelta(days=999)).isoformat()),
    )
    assert "Nothing was put on the list" in answer.content.decode()
    office.post(reverse("batches:sowing-plan"), asked(tray, sow_on="someday"))
    assert not PlannedSowing.objects.exists()


# Shared causes


def test_an_outbreak_by_one_medium_is_named(hand):
    bad = MediumBatchFactory()
    for number in range(12):
        ill = number < 5
        batch = BatchFactory(
            started_on=TODAY - timedelta(days=60),
            medium_batch=bad if ill else MediumBatchFactory(),
        )
        for _ in range(3):
            sown(batch, green_after=None, signs="mould" if ill else "", every=10)
    text = page(hand, "shared-causes", sign="mould")
    first = text[text.index("<tbody") :]
    assert first.index(bad.code) < 400
    assert "<strong>yes</strong>" in first
    assert "15 of 15" in first
    said = " ".join(
        re.sub(r"<[^>]*>", "", text[text.index("note-lead") : text.index("<tbody")]).split()
    )
    assert f"15 of 15 trays with medium batch {bad.code}" in said
    assert "were affected, and 0 of" in said
    assert "media_batch" not in text


@pytest.mark.parametrize(
    ("query", "words"),
    [({"sign": "sunstroke"}, "neither a trouble"), ({"since": "never"}, "is no day"),
     ({"since": "2160-01-01"}, "in the future")],
)  # fmt: skip
def test_a_question_not_understood_is_answered_in_words(hand, query, words):
    assert words in page(hand, "shared-causes", **query)


def test_a_tray_in_trouble_asks_what_the_failing_trays_share(hand):
    tray = sown(BatchFactory(), green_after=None, signs="mould rot", every=10)
    standing.refold(trays=[tray], recorded_at=NOW)
    text = page(hand, "tray", tray.code)
    assert reverse("batches:shared-causes") + "?sign=mould" in text


@pytest.mark.parametrize("how_many", [3, 30])
def test_shared_causes_ask_the_same_of_3_and_30_trays(hand, how_many, django_assert_num_queries):
    for number in range(how_many):
        sown(BatchFactory(), green_after=None, signs="mould" if number % 2 else "", every=10)
        BenchFactory()
    with django_assert_num_queries(10):
        page(hand, "shared-causes")
