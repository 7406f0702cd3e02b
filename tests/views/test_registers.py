"""Are media, orders, treatments, examinations and temperatures kept from their pages?"""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import Examination, HouseReading, MediumBatch, Order, Treatment
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    BenchFactory,
    HouseFactory,
    MediumBatchFactory,
    OrderFactory,
    PlantMovementFactory,
    TaxonFactory,
    TrayFactory,
)
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


# Media


def test_a_mixing_is_written_down_with_its_cautions(hand):
    assert "Nothing mixed yet" in page(hand, "media")
    words = page(hand, "medium-new")
    for piece in ("respirator", "Legionella", "scald"):
        assert piece in words
    form = filled(
        recipe="Peat:2, perlite:1", made_on="2026-06-10", litres=60, treatment="steam",
        temperature_c=55, minutes=30, cooled_at="2026-06-10T08:30", bag_number="LOT 7",
        keep_as="Sowing mix",
    )  # fmt: skip
    answer = hand.post(reverse("batches:medium-new"), form, follow=True)
    assert "less than 60 °C for 30 min" in answer.content.decode()
    mixed = MediumBatch.objects.get()
    assert (mixed.recipe, mixed.bag_number) == ("peat:2 perlite:1", "LOT 7")
    # Half past eight of the nursery's own time is 07:30 UTC in June.
    assert mixed.cooled_at == NOW - timedelta(minutes=30)
    words = page(hand, "medium-new", recipe="peat:2 perlite:1")
    assert "Sowing mix" in words
    assert 'value="peat:2 perlite:1"' in words
    hand.post(reverse("batches:medium-new"), form)
    assert MediumBatch.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"recipe": "peat"}, "“peat” is no part of a recipe"),
        ({"made_on": "2026-06-11"}, "lies in the future"),
        ({"litres": -1}, "Litres are more than 0"),
        ({"cooled_at": "soon"}, "This is no time"),
    ],
)
def test_a_mixing_that_cannot_be_comes_back_with_what_was_typed(hand, more, words):
    form = filled(**({"recipe": "peat:1", "made_on": "2026-06-10", "notes": "kept"} | more))
    answer = hand.post(reverse("batches:medium-new"), form)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "kept" in answer.content.decode()
    assert MediumBatch.objects.count() == 0


@pytest.mark.parametrize("how_many", [3, 30])
def test_media_ask_the_same_of_3_and_30(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        BatchFactory(medium_batch=MediumBatchFactory())
    # The session and the person; the count, the page, its batches, its trays, the recipes.
    with django_assert_num_queries(7):
        page(hand, "media")


# Orders


def test_an_order_is_written_down_closed_and_opened_again(office):
    assert office.get(reverse("batches:order-new"))["Location"] == reverse("batches:fern-new")
    fern = TaxonFactory()
    assert "No orders yet" in page(office, "orders")
    form = filled(
        taxon=fern.code, quantity=200, pot_size="9 cm", wanted_on="2027-04-01",
        customer="Marl Lane Gardens",
    )  # fmt: skip
    for _ in range(2):
        assert office.post(reverse("batches:order-new"), form).status_code == 302
    order = Order.objects.get()
    assert order.code.startswith("R26-001-")
    assert "Marl Lane Gardens" in page(office, "orders")
    close = reverse("batches:order-close", args=[order.code])
    office.post(close, {"deed": "close"})
    order.refresh_from_db()
    assert order.closed_on == TODAY
    row = f'id="order-{order.code}"'
    assert row not in page(office, "orders")
    assert row in page(office, "orders", show="all")
    office.post(close, {"deed": "open"})
    order.refresh_from_db()
    assert order.closed_on is None


@pytest.mark.parametrize(
    ("more", "words"),
    [({"quantity": 0}, "1 to 1,000,000 pots"), ({"wanted_on": "2026-06-09"}, "is over")],
)
def test_an_order_that_cannot_be_comes_back_with_what_was_typed(office, more, words):
    given = {"taxon": TaxonFactory().code, "quantity": 5, "wanted_on": "2027-04-01"}
    answer = office.post(reverse("batches:order-new"), filled(**(given | more), customer="Marl"))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert 'value="Marl"' in answer.content.decode()
    assert Order.objects.count() == 0


def test_orders_that_are_all_gone_are_closed_at_once(office):
    whole, partly = OrderFactory.create_batch(2, quantity=10)
    tray = TrayFactory(carrier=True, counted=60)
    for order, quantity in ((whole, 10), (partly, 4)):
        PlantMovementFactory(tray=tray, kind="dispatch", quantity=quantity, order=order)
    assert whole.code not in page(office, "orders")
    assert "Close all that are gone" in page(office, "orders", show="gone")
    office.post(reverse("batches:orders"))
    assert list(Order.objects.open()) == [partly]


@pytest.mark.parametrize("how_many", [3, 30])
def test_orders_ask_the_same_of_3_and_30(office, how_many, django_assert_num_queries):
    OrderFactory.create_batch(how_many)
    # The session and the person; the count, the page, what left for each.
    with django_assert_num_queries(5):
        page(office, "orders")


# Treatments


def treatment_form(**more) -> dict[str, str]:
    given: dict[str, object] = {
        "product": "fatty-acid soap", "rate": "as on its label", "operator": "Una Tarn",
        "done_at": "2026-06-10T08:00", "reentry_hours": 24,
    }  # fmt: skip
    return filled(**(given | more))


def test_a_treatment_goes_into_the_register_and_shuts_its_place(hand):
    house = HouseFactory()
    assert "Nothing in the register" in page(hand, "treatments")
    form = treatment_form(place_or_trays=house.code.lower())
    answer = hand.post(reverse("batches:treatment-new"), form, follow=True)
    words = answer.content.decode()
    assert "Nobody goes in before Thu 11 Jun 2026, 08:00" in words
    assert Treatment.objects.get().place_or_trays == house.code
    hand.post(reverse("batches:treatment-new"), form)
    assert Treatment.objects.count() == 1
    assert house.code in page(hand, "today")


def test_label_and_licence_decide_and_no_product_is_recommended(hand):
    for name in ("treatments", "treatment-new"):
        words = page(hand, name)
        assert "label" in words
        assert "recommends no product and no dose" in words


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"done_at": "2026-06-10T09:06"}, "The time lies in the future"),
        ({"place_or_trays": "H99"}, "Nothing here carries the code “H99”"),
        ({"place_or_trays": ""}, "Where"),
        ({"reentry_hours": 2_000}, "0 to 1,440"),
    ],
)
def test_a_treatment_that_cannot_be_comes_back_with_what_was_typed(hand, more, words):
    given = {"place_or_trays": BenchFactory().code} | more
    answer = hand.post(reverse("batches:treatment-new"), treatment_form(**given))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "fatty-acid soap" in answer.content.decode()
    assert Treatment.objects.count() == 0


def test_the_office_mends_an_entry_in_the_open(hand, office):
    house = HouseFactory()
    hand.post(
        reverse("batches:treatment-new"),
        treatment_form(place_or_trays=house.code, reentry_hours=480),
    )
    entry = Treatment.objects.get()
    link = reverse("batches:treatment-mend", args=[entry.pk])
    assert link not in page(hand, "treatments")
    assert link in page(office, "treatments")
    assert 'value="480.0"' in office.get(link).content.decode()
    office.post(link, treatment_form(place_or_trays=house.code, reentry_hours=48))
    entry.refresh_from_db()
    assert entry.reentry_hours == 48
    assert "re-entry after 480 h" in page(hand, "treatments")


def test_the_register_comes_as_a_file_between_days(hand):
    house = HouseFactory()
    for day in ("2026-06-08", "2026-06-09"):
        form = treatment_form(place_or_trays=house.code, done_at=f"{day}T10:00")
        hand.post(reverse("batches:treatment-new"), form)
    assert "fatty-acid soap" in page(hand, "treatments", **{"from": "2026-06-09"})
    answer = hand.get(reverse("batches:treatments-csv"), {"from": "2026-06-09", "to": "2026-06-09"})
    assert answer["Content-Disposition"] == 'attachment; filename="treatments-2026-06-10.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [row["done_at"] for row in rows] == ["2026-06-09T10:00:00+01:00"]
    assert page(hand, "treatments", **{"from": "nonsense"}).count('id="treatment-') == 2


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_register_asks_the_same_of_3_and_30(hand, how_many, django_assert_num_queries):
    for number in range(how_many):
        Treatment.objects.create(
            done_at=NOW - timedelta(hours=number), product="soap", place_or_trays="H1",
            operator="Una Tarn", recorded_at=NOW,
        )  # fmt: skip
    with django_assert_num_queries(4):
        page(hand, "treatments")


# Examinations


def test_an_examination_is_stored_and_comes_as_a_file(hand):
    bench = BenchFactory()
    assert "No examinations yet" in page(hand, "examinations")
    form = filled(
        on="2026-06-10", examiner="Maeve Corrin", place_or_trays=bench.code,
        looked_for="leaf eelworm", finding="nothing found",
    )  # fmt: skip
    wrong = hand.post(reverse("batches:examination-new"), form | {"place_or_trays": "B99"})
    assert wrong.status_code == 422
    assert "leaf eelworm" in wrong.content.decode()
    for _ in range(2):
        assert hand.post(reverse("batches:examination-new"), form).status_code == 302
    assert Examination.objects.count() == 1
    assert "nothing found" in page(hand, "examinations")
    text = hand.get(reverse("batches:examinations-csv")).content.decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text))
    assert (row["place_or_trays"], row["finding"]) == (bench.code, "nothing found")


@pytest.mark.parametrize("how_many", [3, 30])
def test_examinations_ask_the_same_of_3_and_30(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        Examination.objects.create(
            on=TODAY, examiner="Una Tarn", place_or_trays="B1", recorded_at=NOW
        )
    with django_assert_num_queries(4):
        page(hand, "examinations")


# Temperatures


def test_a_reading_is_typed_in_and_kept_until_told_otherwise(hand):
    assert "draw the houses first" in page(hand, "readings")
    house = HouseFactory()
    address = reverse("batches:readings")
    form = {"one-house": house.code, "one-on": "2026-06-10", "one-lowest_c": "-1.5"}
    assert hand.post(address, form).status_code == 302
    assert "−1.5 °C" in page(hand, "readings")
    other = hand.post(address, form | {"one-lowest_c": "-2"})
    assert other.status_code == 422
    assert "stored as −1.5 to –" in other.content.decode()
    hand.post(address, form | {"one-lowest_c": "-2", "one-replace": "on"})
    assert HouseReading.objects.get().lowest_c == -2
    none = hand.post(address, {"one-house": house.code, "one-on": "2026-06-09"})
    assert "lowest or the highest" in none.content.decode()


def test_lines_are_pasted_all_or_none(hand):
    HouseFactory(code="H1")
    lines = "house;on;lowest_c;highest_c\nH1;2026-06-08;-1,5;12\nH1;2026-06-09;cold;12"
    answer = hand.post(reverse("batches:readings"), {"deed": "paste", "many-pasted": lines})
    assert answer.status_code == 422
    assert "Line 3: “cold” is no temperature" in answer.content.decode()
    assert "-1,5" in answer.content.decode()
    assert HouseReading.objects.count() == 0
    good = {"deed": "paste", "many-pasted": lines.replace("cold", "2")}
    assert (
        "2 readings stored"
        in hand.post(reverse("batches:readings"), good, follow=True).content.decode()
    )
    assert (
        "2 known already"
        in hand.post(reverse("batches:readings"), good, follow=True).content.decode()
    )


@pytest.mark.parametrize("how_many", [3, 30])
def test_readings_ask_the_same_of_3_and_30(hand, how_many, django_assert_num_queries):
    house = HouseFactory()
    for number in range(how_many):
        HouseReading.objects.create(
            house=house, on=TODAY - timedelta(days=number), lowest_c=1, recorded_at=NOW
        )
    with django_assert_num_queries(7):
        page(hand, "readings")
