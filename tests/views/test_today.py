"""Does Today show the lines, and is a look ticked off right there?"""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import HouseReading, TrayCheck, Treatment
from batches.services import standing
from batches.services.cares import set_reminder
from tests.factories import (
    NOW,
    TODAY,
    ZONE,
    BenchFactory,
    HouseFactory,
    SourceFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def due_tray(**more):
    start = TODAY - timedelta(days=30)
    one = TrayFactory(started_on=start, stage_seen_on=start, **more)
    TrayCheckFactory(tray=one, seen_at=at(TODAY - timedelta(days=9)))
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def test_a_line_names_bench_tray_fern_and_reason(hand):
    one = due_tray(bench=BenchFactory())
    page = hand.get("/").content.decode()
    for words in (one.code, one.bench.code, one.batch.taxon.name.html, "9 days ago"):
        assert words in page


def test_looked_nothing_new_without_script_goes_back_to_today(hand):
    one = due_tray()
    answer = hand.post(reverse("batches:today-nothing-new", args=[one.code]), follow=True)
    assert answer.redirect_chain[-1][0] == "/"
    assert TrayCheck.objects.filter(seen_at=NOW).count() == 1
    assert reverse("batches:today-nothing-new", args=[one.code]) not in answer.content.decode()


def test_a_line_ticked_twice_is_one_look_and_answers_alike(hand, later_clock):
    one = due_tray()
    address = reverse("batches:today-nothing-new", args=[one.code])
    form = {"record_id": uuid4()}
    hand.post(address, form, headers={"HX-Request": "true"})
    later_clock()
    again = hand.post(address, form, headers={"HX-Request": "true"})
    assert again.status_code == 200
    assert TrayCheck.objects.filter(tray=one, seen_at__gte=NOW).count() == 1


def test_a_tick_without_script_comes_back_to_the_view_it_was_made_in(hand):
    one = due_tray(bench=BenchFactory())
    page = hand.get("/?by=bench&kind=look").content.decode()
    address = reverse("batches:today-nothing-new", args=[one.code])
    assert f'action="{address}?by=bench&amp;kind=look"' in page

    answer = hand.post(f"{address}?by=bench&kind=look&then=//elsewhere.example")

    assert answer["Location"] == "/?by=bench&kind=look"


def test_looked_nothing_new_with_htmx_swaps_the_line_and_can_be_undone(hand):
    one = due_tray()
    address = reverse("batches:today-nothing-new", args=[one.code])
    answer = hand.post(address, headers={"HX-Request": "true"})
    line = answer.content.decode()
    assert line.lstrip().startswith("<li") or "<li" in line
    assert "<h1" not in line
    assert "Next look" in line
    check = TrayCheck.objects.get(seen_at=NOW)
    hand.post(reverse("batches:today-undo-look", args=[check.pk]))
    assert not TrayCheck.objects.standing().filter(pk=check.pk).exists()
    assert one.code in hand.get("/").content.decode()


def test_undone_with_htmx_the_line_comes_back_in_its_place(hand):
    one = due_tray()
    sent = {"HX-Request": "true"}
    hand.post(reverse("batches:today-nothing-new", args=[one.code]), headers=sent)
    undo = reverse("batches:today-undo-look", args=[TrayCheck.objects.get(seen_at=NOW).pk])
    line = hand.post(undo, headers=sent).content.decode()
    assert f'id="line-look-{one.code}"' in line
    assert "Looked, nothing new" in line
    assert "<h1" not in line


def test_a_stock_plant_stands_on_its_bench_among_the_trays(hand):
    bench = BenchFactory()
    week = TODAY.isocalendar().week
    plant = SourceFactory(bench=bench, ripe_from_week=week, ripe_to_week=week)
    one = due_tray(bench=bench)
    page = hand.get("/?by=bench").content.decode()
    assert page.count(f"Bench {bench.code}, {bench.house.code}") == 1
    assert "None" not in page
    assert reverse("batches:stock-plant", args=[plant.code]) in page
    assert one.code in page


def test_an_ended_tray_is_refused_in_words(hand):
    one = due_tray()
    type(one).objects.filter(pk=one.pk).update(ended_on=TODAY, end="discarded")
    address = reverse("batches:today-nothing-new", args=[one.code])
    answer = hand.post(address, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    assert "was discarded" in answer.content.decode()


def test_bench_by_bench_goes_in_walking_order_with_isolated_ones_last(hand):
    first, second = BenchFactory(walk_order=1), BenchFactory(walk_order=2)
    later = due_tray(bench=second)
    isolated = due_tray(bench=first, isolated=True)
    clean = due_tray(bench=first)
    page = hand.get("/?by=bench").content.decode()
    lines = [page.index(f'id="line-look-{one.code}"') for one in (clean, isolated, later)]
    assert lines == sorted(lines)


def test_lines_are_given_to_a_person_who_then_sees_them_alone(office, hand, hand_person):
    first, second, other = due_tray(), due_tray(), due_tray()
    lines = [f"look:{first.code}", f"look:{second.code}"]
    sent = {"person": hand_person.pk, "line": lines}
    page = office.post(reverse("batches:today-give"), sent, follow=True).content.decode()
    assert f"2 lines given to {hand_person}" in page
    mine = hand.get("/?mine=yes").content.decode()
    assert first.code in mine
    assert second.code in mine
    assert other.code not in mine
    office.post(reverse("batches:today-give"), {"person": "", "line": lines[:1]})
    assert first.code not in hand.get("/?mine=yes").content.decode()


def test_a_care_that_was_given_leaves_the_list(hand):
    bench = BenchFactory()
    start = TODAY - timedelta(days=30)
    pots = TrayFactory(carrier=True, counted=40, bench=bench, started_on=start)
    standing.refold(trays=[pots], recorded_at=NOW)
    set_reminder(route=pots.route, care="slow_release", enabled=True)
    address = reverse("batches:today-care", args=[pots.code, "slow_release"])
    assert address in hand.get("/?kind=care").content.decode()
    page = hand.post(address, follow=True).content.decode()
    assert "noted as done" in page
    assert address not in page


def test_frost_and_a_shut_house_head_the_page(hand):
    house = HouseFactory()
    HouseReading.objects.create(house=house, on=TODAY, lowest_c=-2.5, highest_c=8, recorded_at=NOW)
    Treatment.objects.create(
        done_at=datetime(TODAY.year, TODAY.month, TODAY.day, 8, tzinfo=ZONE), product="a wash",
        place_or_trays=house.code, operator="Bryn Hale", reentry_hours=6, recorded_at=NOW,
    )  # fmt: skip
    page = hand.get("/").content.decode()
    assert "Frost" in page
    assert "-2.5" in page
    assert f"{house.code} is shut" in page


def test_an_empty_nursery_is_led_through_its_first_season(hand):
    page = hand.get("/").content.decode()
    assert "The first season, in order" in page


def test_queries_are_the_same_for_3_and_30_lines(hand, django_assert_max_num_queries):
    for _ in range(3):
        due_tray()
    with django_assert_max_num_queries(48) as few:
        hand.get("/")
    for _ in range(27):
        due_tray()
    with django_assert_max_num_queries(len(few)):
        assert hand.get("/").content.decode().count("looked at every") >= 30
