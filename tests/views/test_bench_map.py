"""Does the map show the benches as they stand, and does a tray move by two taps?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import Place, Tray
from batches.services import standing
from batches.services.checks import record_check
from tests.factories import NOW, TODAY, BenchFactory, LaidOutTrayFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def bench():
    return BenchFactory(rows=2, columns=4)


def set_on(bench, row, column, **more):
    one = TrayFactory(bench=bench, row=row, column=column, **more)
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def move(client, tray, bench, row, column, **more):
    body = {"tray": tray.code, "bench": bench.code, "row": row, "column": column,
            "revision": tray.revision} | more  # fmt: skip
    return client.post(reverse("batches:bench-move"), body)


def link_to(tray):
    return f'href="/trays/{tray.code}/"'


def test_a_cell_is_called_by_what_it_shows_and_by_its_whole_code_where_that_is_cut(hand, bench):
    short = set_on(bench, 1, 1, code="T-01")
    long = set_on(bench, 1, 2, code="MAT-OF-THE-NORTH-BED-01")
    page = hand.get(reverse("batches:bench-map")).content.decode()
    said = [
        page.split(link_to(one))[1].split('aria-label="')[1].split('"')[0] for one in (short, long)
    ]
    assert said[0].startswith("sown, ")
    assert said[1].startswith(f"{long.code}, sown, ")


def test_trays_stand_in_their_places_and_free_ones_are_buttons(hand, bench):
    one = set_on(bench, 1, 2)
    page = hand.get(reverse("batches:bench-map")).content.decode()
    first = page[page.index("<tr>") : page.index("</tr>")].split("<td>")
    assert [link_to(one) in cell for cell in first[1:]] == [False, True, False, False]
    assert page.count('class="cell free"') == 7
    assert "7 free" in page


def test_a_tray_without_row_stands_loose_and_one_without_bench_is_listed(hand, bench):
    loose, nowhere = set_on(bench, None, None), TrayFactory()
    page = hand.get(reverse("batches:bench-map")).content.decode()
    assert link_to(loose) in page
    assert "Without a place" in page
    assert nowhere.code in page


def test_codes_laid_out_stand_under_the_bench_they_are_filled_from(hand, bench):
    mat = set_on(bench, 1, 1)
    nowhere = LaidOutTrayFactory(batch=mat.batch, parent=None)
    ahead = [LaidOutTrayFactory(batch=mat.batch, parent=mat) for _ in range(2)]
    filled = LaidOutTrayFactory(batch=mat.batch, parent=mat, handed_back_on=TODAY)
    page = hand.get(reverse("batches:bench-map")).content.decode()
    figure = page[page.index(f'id="bench-{bench.code}"') : page.index("</figure>")]
    assert "2 codes laid out for" in " ".join(figure.split())
    assert all(one.code in figure for one in ahead)
    assert "2 unlabelled" in figure
    assert filled.code not in page
    assert nowhere.code in page[page.index("</figure>") :]
    other = hand.get(reverse("batches:bench-map"), {"sign": "mould"}).content.decode()
    assert "laid out for" not in other


def test_what_a_filter_leaves_out_is_faded(hand, bench):
    one, other = set_on(bench, 1, 1), set_on(bench, 1, 2)
    page = hand.get(reverse("batches:bench-map"), {"batch": one.batch.code}).content.decode()
    assert page.count('class="cell faded"') == 1
    assert other.code in page


def test_a_move_draws_two_places_anew_and_keeps_where_it_stood(hand, bench):
    one = set_on(bench, 1, 1)
    answer = move(hand, one, bench, 2, 3)
    places = {(at["bench"], at["row"], at["column"]): at["html"] for at in answer.json()["places"]}
    assert set(places) == {(bench.code, 2, 3), (bench.code, 1, 1)}
    assert one.code in places[bench.code, 2, 3]
    assert "cell free" in places[bench.code, 1, 1]
    assert Place.objects.filter(tray=one).count() == 2


def test_a_taken_place_a_stale_page_and_a_place_off_the_bench_are_refused_in_words(hand, bench):
    one, other = set_on(bench, 1, 1), set_on(bench, 1, 2)
    assert move(hand, one, bench, 1, 2).status_code == 409
    assert other.code in move(hand, one, bench, 1, 2).json()["error"]
    assert move(hand, one, bench, 9, 9).status_code == 409
    assert move(hand, one, bench, "x", 1).status_code == 400
    stale = move(hand, one, bench, 2, 2, revision=one.revision - 1)
    assert stale.status_code == 409
    assert "Somebody else" in stale.json()["error"]
    one.refresh_from_db()
    assert (one.row, one.column) == (1, 1)


def test_the_card_of_a_tray(hand, bench):
    one = set_on(bench, 1, 1)
    card = hand.get(reverse("batches:bench-card", args=[one.code])).content.decode()
    assert "<h1" not in card
    assert one.code in card
    assert "row 1, column 1" in card


def test_queries_are_the_same_for_3_and_30_trays(hand, django_assert_max_num_queries):
    bench = BenchFactory(rows=5, columns=10)
    for n in range(3):
        set_on(bench, 1, n + 1)
    with django_assert_max_num_queries(30) as few:
        hand.get(reverse("batches:bench-map"))
    for n in range(27):
        set_on(bench, 2 + n // 10, n % 10 + 1)
    with django_assert_max_num_queries(len(few)):
        hand.get(reverse("batches:bench-map"))


def test_a_large_nursery_is_shown_part_by_part_in_walking_order(hand, monkeypatch):
    monkeypatch.setattr("batches.services.map_filters.PLACES_A_PAGE", 8)
    benches = [BenchFactory(rows=2, columns=2, walk_order=n) for n in range(5)]
    trays = [set_on(bench, 1, 1) for bench in benches]
    pages = [
        hand.get(reverse("batches:bench-map"), {"page": n}).content.decode() for n in (1, 2, 3)
    ]
    shown = [[tray.code for tray in trays if link_to(tray) in page] for page in pages]
    codes = [tray.code for tray in trays]
    assert shown == [codes[:2], codes[2:4], codes[4:]]
    assert "part 2 of 3 in walking order" in pages[1]


@pytest.mark.parametrize("what", ["fern", "batch", "sign", "late", "suspect"])
def test_filters_find_a_tray_whatever_part_it_stands_in(hand, monkeypatch, what):
    monkeypatch.setattr("batches.services.map_filters.PLACES_A_PAGE", 4)
    benches = [BenchFactory(rows=2, columns=2, walk_order=n) for n in range(4)]
    trays = [set_on(bench, 1, 1) for bench in benches]
    one = trays[-1]
    asked = {
        "fern": {"fern": one.batch.taxon.code},
        "batch": {"batch": one.batch.code},
        "sign": {"sign": "mould"},
        "late": {"late": "yes"},
        "suspect": {"sign": "suspect"},
    }[what]
    seen = {"sign": "mould", "suspect": "rogue_fern"}.get(what, "")
    record_check(tray=one, seen_at=NOW, now=NOW, by="Bryn Hale", signs=[seen] if seen else [])
    if what == "late":
        Tray.objects.filter(pk=one.pk).update(late_on=TODAY - timedelta(days=3))
    page = hand.get(reverse("batches:bench-map"), asked).content.decode()
    shown = [tray.code for tray in trays if link_to(tray) in page]
    assert shown == [one.code]
    assert "faded" not in page.split(link_to(one))[0].rsplit("<a", 1)[1]
    assert (
        "No such tray" in hand.get(reverse("batches:bench-map"), {"fern": "NONE"}).content.decode()
    )
