"""Are houses and benches drawn, walked in order and never shrunk under a tray, from their pages?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import Bench, House
from tests.factories import BenchFactory, HouseFactory, SourceFactory, TrayFactory
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_without_houses_the_first_steps_are_taught(hand, office):
    assert "No houses yet" in page(hand, "houses")
    assert reverse("batches:house-new") not in page(hand, "houses")
    assert reverse("batches:house-new") in page(office, "houses")
    answer = office.get(reverse("batches:bench-new"))
    assert answer["Location"] == reverse("batches:house-new")


def test_a_house_is_drawn_and_leads_on_to_its_first_bench(office):
    form = filled(code="H1", name="Mist house", light_note="shaded", frost_free="on")
    answer = office.post(reverse("batches:house-new"), form)
    assert answer["Location"] == f"{reverse('batches:bench-new')}?house=H1"
    house = House.objects.get()
    assert (house.name, house.light_note, house.frost_free) == ("Mist house", "shaded", True)
    form = filled(house="H1", code="B1", name="North", rows=4, columns=10, walk="")
    assert office.post(reverse("batches:bench-new"), form)["Location"] == reverse("batches:houses")
    words = page(office, "houses")
    for piece in ("Mist house", "kept free of frost", "4 × 10", "North"):
        assert piece in words


def test_the_same_form_sent_twice_draws_once(office):
    form = filled(code="H1")
    first, again = (office.post(reverse("batches:house-new"), form) for _ in range(2))
    assert first["Location"] == again["Location"]
    assert House.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"code": "B1"}, "is taken: it is the code of a bench"),
        ({"code": "north bench"}, "cannot be a code"),
        ({"rows": 4, "columns": ""}, "Give rows and columns both"),
        ({"rows": 0}, "greater than or equal to 1"),
        ({"rows": 201}, "less than or equal to 200"),
    ],
)
def test_a_bench_that_cannot_be_comes_back_with_what_was_typed(office, more, words):
    house = BenchFactory(code="B1").house
    form = filled(house=house.code, code="B2", name="North", rows=4, columns=10) | {
        name: str(value) for name, value in more.items()
    }
    answer = office.post(reverse("batches:bench-new"), form)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert 'value="North"' in answer.content.decode()
    assert Bench.objects.count() == 1


def test_a_house_is_noted_anew(office):
    house = HouseFactory(frost_free=True)
    address = reverse("batches:house-edit", args=[house.code])
    assert house.name in office.get(address).content.decode()
    office.post(address, {"name": "Lower frame"})
    house.refresh_from_db()
    assert (house.name, house.frost_free) == ("Lower frame", False)


def test_a_bench_moves_in_the_walk(office):
    first, second, third = BenchFactory.create_batch(3)
    form = {"name": "", "rows": "4", "columns": "10", "house": third.house.code}
    office.post(reverse("batches:bench-edit", args=[third.code]), form | {"walk": "first"})
    assert list(Bench.objects.in_walking_order()) == [third, first, second]
    office.post(reverse("batches:bench-edit", args=[third.code]), form | {"walk": first.code})
    assert list(Bench.objects.in_walking_order()) == [first, third, second]
    words = office.get(reverse("batches:bench-edit", args=[third.code])).content.decode()
    assert f'<option value="{first.code}" selected>' in words


def test_a_bench_is_not_shrunk_under_a_tray(office):
    bench = BenchFactory()
    tray = TrayFactory(bench=bench, row=4, column=10)
    form = {"name": "", "rows": "3", "columns": "10", "house": bench.house.code, "walk": "first"}
    answer = office.post(reverse("batches:bench-edit", args=[bench.code]), form)
    assert answer.status_code == 422
    assert f"Tray {tray.code} would stand outside" in answer.content.decode()


def test_a_bench_shows_what_stands_on_it(hand):
    bench = BenchFactory()
    tray = TrayFactory(bench=bench, row=2, column=3)
    plant = SourceFactory(bench=bench)
    words = page(hand, "bench", bench.code)
    for piece in (tray.code, "row 2, column 3", "39 free", plant.code):
        assert piece in words
    answer = hand.get(reverse("batches:bench", args=[bench.code.lower()]))
    assert answer["Location"] == reverse("batches:bench", args=[bench.code])


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_pages_ask_the_same_of_3_and_30(hand, how_many, django_assert_num_queries):
    bench = BenchFactory()
    TrayFactory.create_batch(how_many, bench=bench)
    BenchFactory.create_batch(how_many)
    # The session and the person; benches, places taken, trays and houses; the first steps.
    with django_assert_num_queries(7):
        page(hand, "houses")
    with django_assert_num_queries(7):
        page(hand, "bench", bench.code)


def test_a_bench_is_drawn_while_its_numbers_are_typed(office):
    address = reverse("batches:bench-drawing")
    words = office.get(address, {"rows": 3, "columns": 40}).content.decode()
    assert "3 × 40: 120 places" in words
    assert words.count("<rect") == 3 * 24
    assert "only its first places" in words
    for rows in ("", "0", "x", "9999"):
        assert "drawn here" in office.get(address, {"rows": rows, "columns": 4}).content.decode()


def test_benches_alike_are_drawn_at_once(office):
    HouseFactory(code="H1")
    form = filled(house="H1", code="B1", rows=4, columns=10, walk="", alike=3)
    assert office.post(reverse("batches:bench-new"), form).status_code == 302
    assert list(Bench.objects.values_list("code", flat=True).order_by("code")) == ["B1", "B2", "B3"]
