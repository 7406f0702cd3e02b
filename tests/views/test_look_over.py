"""Is a whole bench looked over in one press, with the exceptions opened one after the other?"""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.models import Tray, TrayCheck
from batches.services import standing
from tests.factories import NOW, BenchFactory, TrayCheckFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def bench():
    bench = BenchFactory(rows=4, columns=10)
    trays = [TrayFactory(bench=bench, row=1 + n // 10, column=1 + n % 10) for n in range(40)]
    standing.refold(trays=trays, recorded_at=NOW)
    return bench


def page_of(bench) -> str:
    return reverse("batches:look-over", args=[bench.code])


def codes(bench, how_many):
    return list(
        Tray.objects.filter(bench=bench).order_by("code").values_list("code", flat=True)[:how_many]
    )


def test_all_well_except_two_and_the_two_open_one_after_the_other(hand, bench):
    ticked = codes(bench, 2)
    answer = hand.post(page_of(bench), {"deed": "well", "tray": ticked, "record_id": uuid4()})
    assert TrayCheck.objects.filter(glance=True).count() == 38
    assert answer["Location"].startswith(reverse("batches:tray", args=[ticked[0]]))
    first = Tray.objects.get(code=ticked[0])
    form = {"record_id": uuid4(), "revision": first.revision, "signs": ["mould"]}
    answer = hand.post(answer["Location"].split("#")[0], form)
    assert answer["Location"].startswith(reverse("batches:tray", args=[ticked[1]]))
    second = Tray.objects.get(code=ticked[1])
    form = {"record_id": uuid4(), "revision": second.revision}
    answer = hand.post(answer["Location"].split("#")[0], form)
    assert answer["Location"] == page_of(bench)


def test_the_same_press_twice_is_once_and_answers_as_the_first_time(hand, bench, later_clock):
    body = {"deed": "well", "record_id": uuid4()}
    hand.post(page_of(bench), body)
    later_clock()
    answer = hand.post(page_of(bench), body, follow=True)
    assert TrayCheck.objects.count() == 40
    assert set(TrayCheck.objects.values_list("seen_at", flat=True)) == {NOW}
    assert "another record" not in answer.content.decode()


def test_several_are_isolated_vented_and_moved_at_once(hand, bench):
    ticked = codes(bench, 3)
    hand.post(page_of(bench), {"deed": "isolate", "tray": ticked})
    hand.post(page_of(bench), {"deed": "vented", "tray": ticked})
    other = BenchFactory(rows=2, columns=2)
    hand.post(page_of(bench), {"deed": "move", "tray": ticked, "to_bench": other.code})
    moved = Tray.objects.filter(code__in=ticked)
    assert {(t.isolated, t.cover, t.bench_id) for t in moved} == {(True, "vented", other.pk)}
    assert len({(t.row, t.column) for t in moved}) == 3


def test_a_tile_says_what_is_wrong_with_its_tray_and_whose_sister_showed_a_rogue(hand, bench):
    rogue, mouldy, *_ = list(Tray.objects.filter(bench=bench).order_by("code"))
    sister = TrayFactory(batch=rogue.batch, bench=bench, row=None, column=None)
    TrayCheckFactory(tray=rogue, seen_at=NOW, signs="rogue_fern")
    TrayCheckFactory(tray=mouldy, seen_at=NOW, signs="mould")
    standing.refold(trays=[rogue, mouldy, sister], recorded_at=NOW)

    tiles = hand.get(page_of(bench)).content.decode().split('<li><label class="tile">')

    def tile(tray):
        return next(one for one in tiles if f'value="{tray.code}"' in one)

    assert "under suspicion: rogue fern" in tile(sister)
    assert "rogue fern" in tile(rogue)
    assert "mould" in tile(mouldy)
    well = [one for one in tiles if 'data-state="trouble"' not in one]
    assert len(tiles) - len(well) == 3


def test_queries_are_the_same_for_3_and_30_trays(hand, bench, django_assert_num_queries):
    Tray.objects.filter(bench=bench, row__gt=3).update(bench=None, row=None, column=None)
    Tray.objects.filter(bench=bench, row__lt=4, column__gt=1).update(row=None, column=None)
    few = BenchFactory(rows=1, columns=3)
    standing.refold(
        trays=[TrayFactory(bench=few, row=1, column=n) for n in (1, 2, 3)], recorded_at=NOW
    )
    with CaptureQueriesContext(connection) as asked:
        hand.get(page_of(few))
    with django_assert_num_queries(len(asked)):
        hand.get(page_of(bench))


def test_a_deed_to_nothing_is_refused_in_words(hand, bench):
    answer = hand.post(page_of(bench), {"deed": "isolate"})
    assert answer.status_code == 422
    assert "Tick the trays first" in answer.content.decode()


def test_an_empty_bench_says_so(hand):
    assert "Nothing stands" in hand.get(page_of(BenchFactory())).content.decode()
