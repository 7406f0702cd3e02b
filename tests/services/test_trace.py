"""Does a trail lead back to every origin and forward to everything a thing became?"""

from __future__ import annotations

import random

import pytest

from batches.core.errors import UnknownCode
from batches.models import PlantMovement
from batches.services.trace import Node, trail_of
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    BenchFactory,
    MediumBatchFactory,
    ParentageFactory,
    SourceFactory,
    SporeLotFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db


def out(giver, taker, left, arrived=None):
    ParentageFactory(parent=giver, child=taker)
    return PlantMovement.objects.create(
        tray=giver, on=TODAY, kind="out", quantity=left, arrived=arrived, to_tray=taker,
        recorded_at=NOW,
    )  # fmt: skip


def nodes(found):
    return {(node.kind, node.code) for node in found}


@pytest.fixture
def family():
    lot = SporeLotFactory()
    medium = MediumBatchFactory()
    batch = BatchFactory(spore_lot=lot, taxon=lot.taxon, medium_batch=medium)
    mat = TrayFactory(batch=batch)
    cells = TrayFactory(batch=batch, cells_of_84=True)
    pots = TrayFactory(batch=batch, carrier=True, medium_batch=MediumBatchFactory())
    out(mat, cells, 84, 200)
    out(cells, pots, 300, 100)
    sale = PlantMovement.objects.create(
        tray=pots, on=TODAY, kind="dispatch", quantity=40, recipient="Fenwick Cottage Plants",
        recorded_at=NOW,
    )  # fmt: skip
    return lot, batch, medium, mat, cells, pots, sale


def test_a_lot_leads_forward_to_every_tray_and_dispatch_with_quantities(family):
    lot, batch, _, mat, cells, pots, sale = family
    trail = trail_of(code=lot.code)
    assert nodes(trail.forward) == {
        ("batch", batch.code), ("tray", mat.code), ("tray", cells.code), ("tray", pots.code),
        ("dispatch", str(sale.pk)),
    }  # fmt: skip
    counted = {
        (edge.giver.code, edge.taker.code): (edge.left, edge.arrived)
        for edge in trail.edges
        if edge.left is not None
    }
    assert counted == {
        (mat.code, cells.code): (84, 200),
        (cells.code, pots.code): (300, 100),
        (pots.code, str(sale.pk)): (40, 40),
    }
    (sold,) = trail.dispatches
    assert (sold.recipient, sold.quantity, sold.tray) == ("Fenwick Cottage Plants", 40, pots.code)


def test_a_pot_leads_back_to_its_lot_its_stock_plant_and_its_media(family):
    lot, batch, medium, mat, cells, pots, _ = family
    assert nodes(trail_of(code=pots.code).back) == {
        ("tray", cells.code), ("tray", mat.code), ("batch", batch.code), ("lot", lot.code),
        ("source", lot.source.code), ("medium", medium.code), ("medium", pots.medium_batch.code),
    }  # fmt: skip


def test_a_medium_leads_only_to_the_trays_that_stood_in_it_and_what_they_became(family):
    _, _, medium, mat, cells, pots, sale = family
    assert nodes(trail_of(code=medium.code).forward) == {
        ("tray", mat.code), ("tray", cells.code), ("tray", pots.code), ("dispatch", str(sale.pk)),
    }  # fmt: skip
    own = pots.medium_batch
    assert nodes(trail_of(code=own.code).forward) == {
        ("tray", pots.code), ("dispatch", str(sale.pk)),
    }  # fmt: skip


def test_a_selected_form_leads_back_through_its_tray(family):
    *_, pots, _ = family
    form = SourceFactory(kind="tray", mothers=pots.code, taxon=pots.batch.taxon)
    new = BatchFactory(source=form, spore_lot=None, taxon=form.taxon, route="division")
    assert ("tray", pots.code) in nodes(trail_of(code=new.code).back)
    assert ("batch", new.code) in nodes(trail_of(code=pots.code).forward)


def test_a_tray_filled_out_of_another_batch_is_followed_too(family):
    *_, pots, _ = family
    other = BatchFactory()
    foreign, last = TrayFactory(batch=other), TrayFactory(batch=other)
    ParentageFactory(parent=pots, child=foreign)
    out(foreign, last, 12, 10)
    trail = trail_of(code=pots.batch.spore_lot.code)
    assert {("tray", foreign.code), ("tray", last.code)} < nodes(trail.forward)
    assert ("batch", other.code) not in nodes(trail.forward)
    assert (12, 10) in {(edge.left, edge.arrived) for edge in trail.edges}


def test_queries_forward_do_not_grow_with_the_trays(family, django_assert_max_num_queries):
    lot, batch, _, mat, *_ = family
    with django_assert_max_num_queries(8) as few:
        trail_of(code=lot.code)
    for _ in range(20):
        child = TrayFactory(batch=batch)
        out(mat, child, 5)
    with django_assert_max_num_queries(len(few)):
        assert len(trail_of(code=lot.code).forward) == 25


def test_what_was_struck_out_is_no_trail(family):
    _, _, _, _, _, pots, sale = family
    PlantMovement.objects.create(
        tray=pots, on=TODAY, kind="dispatch", quantity=40, strikes_out=sale, recorded_at=NOW
    )
    assert trail_of(code=pots.code).dispatches == ()


def test_a_bench_has_no_trail_and_says_so():
    with pytest.raises(UnknownCode, match="no trail of its own"):
        trail_of(code=BenchFactory().code)
    with pytest.raises(UnknownCode):
        trail_of(code="NOTHING")


def test_against_a_naive_search_through_random_splits():
    chance = random.Random(7)
    batch = BatchFactory()
    trays = [TrayFactory(batch=batch) for _ in range(25)]
    links = set()
    for place, child in enumerate(trays[1:], start=1):
        for parent in chance.sample(trays[:place], k=min(place, chance.randint(1, 2))):
            out(parent, child, chance.randint(1, 50))
            links.add((parent.code, child.code))

    def reach(start: str, pairs) -> set[str]:
        found, more = {start}, True
        while more:
            new = {b for a, b in pairs if a in found} - found
            more = bool(new)
            found |= new
        return found - {start}

    for tray in trays:
        trail = trail_of(code=tray.code)
        ahead = {node.code for node in trail.forward if node.kind == "tray"}
        behind = {node.code for node in trail.back if node.kind == "tray"}
        assert ahead == reach(tray.code, links)
        assert behind == reach(tray.code, {(b, a) for a, b in links})
    assert Node(kind="lot", code=batch.spore_lot.code) in trail_of(code=trays[-1].code).back
