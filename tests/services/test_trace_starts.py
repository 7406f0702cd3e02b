"""Which trays stood on a bench in some days, and what leads back from what was sent?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.errors import NotUnderstood, UnknownCode
from batches.models import PlantMovement
from batches.services.moves import move
from batches.services.trace import Node, trays_it_became
from batches.services.trace_starts import trail_of_bench, trail_of_dispatch, trail_of_sent
from batches.services.trail_sums import sums_of_trail
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    PlantMovementFactory,
    TrayFactory,
    at,
)

pytestmark = pytest.mark.django_db


def day(ago):
    return TODAY - timedelta(days=ago)


def trays(trail):
    return {node.code for node in trail.forward if node.kind == "tray"}


def test_a_tray_is_found_on_a_bench_by_the_days_it_stood_there():
    first, second = BenchFactory(), BenchFactory()
    moved = TrayFactory(bench=first, started_on=day(50))
    move(trays=[moved], bench=second, on=day(20), by="x", now=at(day(20), 9))
    stayed = TrayFactory(bench=first, started_on=day(5))
    gone = TrayFactory(bench=first, started_on=day(50), ended_on=day(30), end="cleared")

    def stood(bench, since, until):
        return trays(trail_of_bench(code=bench.code, first=day(since), last=day(until)))

    assert stood(first, 60, 51) == set()
    assert stood(first, 45, 40) == {moved.code, gone.code}
    assert stood(first, 29, 21) == {moved.code}
    # The day of the move counts for both benches.
    assert stood(first, 20, 20) == stood(second, 20, 20) == {moved.code}
    assert stood(first, 19, 6) == set()
    assert stood(first, 19, 0) == {stayed.code}
    assert stood(first.house, 60, 0) == {moved.code, gone.code, stayed.code}
    assert stood(second, 90, 21) == set()


def test_a_bench_is_followed_to_what_became_of_its_trays_and_back_to_their_origins():
    bench = BenchFactory()
    mat = TrayFactory(bench=bench, started_on=day(50))
    cells = TrayFactory(batch=mat.batch, cells_of_84=True, parents=[mat])
    trail = trail_of_bench(code=bench.code, first=day(45), last=day(40))
    assert trays(trail) == {mat.code, cells.code}
    assert {node.code for node in trail.back if node.kind == "lot"} == {mat.batch.spore_lot.code}
    assert trays_it_became(trail=trail) == {mat.code, cells.code}


def test_days_the_wrong_way_round_and_a_code_that_is_no_bench_are_refused():
    bench = BenchFactory()
    with pytest.raises(NotUnderstood, match="before the first"):
        trail_of_bench(code=bench.code, first=day(1), last=day(2))
    with pytest.raises(UnknownCode, match="neither a bench nor a house"):
        trail_of_bench(code=TrayFactory().code, first=day(2), last=day(1))


def test_from_what_was_sent_it_leads_back_and_sideways_to_what_the_tray_became():
    mat = TrayFactory(counted=90)
    pots = TrayFactory(batch=mat.batch, carrier=True, counted=40, parents=[mat])
    bigger = TrayFactory(batch=mat.batch, carrier=True, parents=[pots], pot_size="1 L")
    sale = PlantMovementFactory(tray=pots, kind="dispatch", quantity=4, recipient="Kiln Yard")
    other = PlantMovementFactory(tray=pots, kind="dispatch", quantity=6, recipient="Marl Lane")
    trail = trail_of_dispatch(row_id=sale.pk)
    back = {(node.kind, node.code) for node in trail.back}
    assert {("tray", pots.code), ("tray", mat.code), ("batch", mat.batch.code)} <= back
    assert {node.code for node in trail.forward} == {bigger.code, str(other.pk)}
    assert trays_it_became(trail=trail) == {pots.code, bigger.code}
    assert {one.id for one in trail.dispatches} == {str(sale.pk), str(other.pk)}
    both = trail_of_sent(recipient=" MARL lane ", first=TODAY, last=TODAY)
    assert both.members == (Node(kind="dispatch", code=str(other.pk)),)
    for asked in ({"recipient": "Nobody"}, {"recipient": "Kiln Yard", "last": day(1)}):
        with pytest.raises(UnknownCode, match="Nothing on record was sent"):
            trail_of_sent(**asked)
    with pytest.raises(NotUnderstood):
        trail_of_sent()
    PlantMovement.objects.create(
        tray=pots, on=TODAY, kind="dispatch", quantity=4, strikes_out=sale, recorded_at=NOW
    )
    with pytest.raises(UnknownCode, match="struck out"):
        trail_of_dispatch(row_id=sale.pk)


def test_sums_name_each_recipient_once_and_a_tray_whose_count_is_off():
    pots = TrayFactory(carrier=True, counted=40)
    for ago, quantity in ((9, 4), (2, 6)):
        PlantMovementFactory(
            tray=pots, kind="dispatch", quantity=quantity, recipient="Kiln Yard", on=day(ago)
        )
    PlantMovementFactory(tray=pots, kind="loss", quantity=3, cause="frost")
    trail = trail_of_sent(recipient="Kiln Yard")
    sums = sums_of_trail(trail=trail, trays=trays_it_became(trail=trail))
    (one,) = sums.recipients
    assert (one.quantities, one.times, one.first, one.last) == (((10, "pots"),), 2, day(9), day(2))
    assert (sums.lost, sums.sent, sums.standing) == (((3, "pots"),), ((10, "pots"),), 1)
    # The factory stored 40 alive, and its book says 27.
    assert sums.off == (pots.code,)
    type(pots).objects.filter(pk=pots.pk).update(alive=27)
    sums = sums_of_trail(trail=trail, trays=trays_it_became(trail=trail))
    assert (sums.off, sums.left) == ((), ((27, "pots"),))


@pytest.mark.parametrize("how_many", [3, 30])
def test_a_bench_costs_the_same_of_3_and_30_trays(how_many, django_assert_max_num_queries):
    bench = BenchFactory()
    lot_batch = TrayFactory().batch
    for _ in range(how_many):
        TrayFactory(batch=lot_batch, bench=bench, started_on=day(50))
    with django_assert_max_num_queries(32):
        assert len(trays(trail_of_bench(code=bench.code, first=day(45), last=day(40)))) == how_many
