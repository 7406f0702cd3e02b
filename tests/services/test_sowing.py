"""Does a batch start whole: its trays, codes, counts, places and dates, or not at all?"""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest

from batches.core.codes import read_code
from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import Batch, CodeEntry, Place, PlannedSowing, PlantMovement, Tray
from batches.services.free_places import bench_rooms, free_places, places_for
from batches.services.sowing import Trays, buy_in, divide, peg_down, sow_spores
from batches.services.standing import differing
from batches.services.trace import trail_of
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def sow(lot=None, **more):
    trays = more.pop("trays", None) or Trays(how_many=3, container="covered tray")
    given: dict[str, Any] = {"on": TODAY, "trays": trays, "by": "Una Tarn", "now": NOW} | more
    return sow_spores(lot=lot or make.SporeLotFactory(), **given)


def nothing_started() -> bool:
    return not (Batch.objects.exists() or Tray.objects.exists() or PlantMovement.objects.exists())


def test_spores_are_sown_into_trays_with_codes_that_check():
    lot = make.SporeLotFactory()
    started = sow(lot)
    batch = started.batch
    assert (batch.route, batch.taxon, batch.spore_lot) == ("spore", lot.taxon, lot)
    assert batch.code.startswith("26W24-001-")
    assert [tray.code[:12] for tray in started.trays] == [f"26W24-001-0{n}" for n in (1, 2, 3)]
    for tray in started.trays:
        assert read_code(tray.code).fits
        assert (tray.stage, tray.cover, tray.alive) == ("sown", "closed", None)
        assert tray.look_due_on == TODAY + timedelta(days=7)
        assert CodeEntry.objects.get(code=tray.code).kind == "tray"
    assert differing() == (3, ())
    assert "3 trays sown" in started.message


def test_a_control_is_one_tray_more_and_stays_unsown():
    started = sow(trays=Trays(how_many=2, container="covered tray", control=True))
    assert [tray.control for tray in started.trays] == [False, False, True]
    assert "2 trays sown and one unsown control" in started.message
    assert differing() == (3, ())


def test_a_new_batch_leads_back_to_its_lot_and_origin():
    lot = make.SporeLotFactory()
    started = sow(lot)
    trail = trail_of(code=started.trays[0].code)
    assert {lot.code, lot.source.code, started.batch.code} <= {node.code for node in trail.back}


def test_spores_are_taken_off_the_lot_or_nothing_is_sown():
    lot = make.SporeLotFactory(remaining_mg=10.0)
    sow(lot, sown_mg=4)
    lot.refresh_from_db()
    assert lot.remaining_mg == 6
    Batch.objects.get()
    with pytest.raises(NotPossibleNow, match="6 mg; 7 mg cannot"):
        sow(lot, sown_mg=7)
    assert Batch.objects.count() == 1


def test_the_same_form_sent_twice_starts_one_batch_and_takes_spores_once():
    lot, record_id = make.SporeLotFactory(remaining_mg=10.0), uuid.uuid4()
    first = sow(lot, sown_mg=4, record_id=record_id)
    again = sow(lot, sown_mg=4, record_id=record_id)
    assert again == first
    lot.refresh_from_db()
    assert (lot.remaining_mg, Batch.objects.count(), Tray.objects.count()) == (6, 1, 3)


def test_a_planned_sowing_is_done_once():
    lot = make.SporeLotFactory()
    plan = PlannedSowing.objects.create(
        taxon=lot.taxon, trays=3, sow_on=TODAY, planned_by="Maeve Corrin", planned_at=NOW
    )
    first = sow(lot, planned=plan).batch
    sow(lot, planned=plan)
    plan.refresh_from_db()
    assert plan.batch == first


def test_what_to_know_is_said_as_it_is_sown():
    fern = make.TaxonFactory(green=True)
    lot = make.SporeLotFactory(
        source=make.SourceFactory(taxon=fern),
        collected_on=TODAY - timedelta(days=20),
        cleaned_on=TODAY,
    )
    assert "past their sow-by" in sow(lot).warning
    assert sow().warning == ""


@pytest.mark.parametrize(
    ("more", "error", "field"),
    [
        ({"on": TODAY + timedelta(days=1)}, OutOfTime, "on"),
        ({"on": date(2025, 8, 10)}, OutOfTime, "on"),
        ({"trays": Trays(how_many=0, container="covered tray")}, NotUnderstood, "how_many"),
        ({"trays": Trays(how_many=201, container="covered tray")}, NotUnderstood, "how_many"),
        ({"trays": Trays(how_many=1, container="  ")}, NotUnderstood, "container"),
        ({"trays": Trays(how_many=1, container="tray", cells=0)}, NotUnderstood, "cells"),
        ({"trays": Trays(how_many=1, container="tray", each=-1)}, NotUnderstood, "each"),
        ({"sown_mg": -1.0}, NotUnderstood, "sown_mg"),
    ],
)
def test_a_sowing_that_cannot_be_stores_nothing(more, error, field):
    lot = make.SporeLotFactory()
    codes = CodeEntry.objects.count()
    with pytest.raises(error) as refused:
        sow(lot, **more)
    assert refused.value.field == field
    assert nothing_started()
    assert CodeEntry.objects.count() == codes


def test_an_ended_lot_is_not_sown_after_its_end_but_may_have_been_before():
    lot = make.SporeLotFactory(ended_on=TODAY)
    with pytest.raises(NotPossibleNow, match="Nothing was sown"):
        sow(lot)
    assert "ended" in sow(lot, on=TODAY - timedelta(days=1)).warning


# Where they are set down


def test_trays_go_onto_free_places_row_by_row_and_the_rest_stand_loose():
    bench = make.BenchFactory(rows=2, columns=2)
    make.TrayFactory(bench=bench, row=1, column=2)
    started = sow(trays=Trays(how_many=4, container="covered tray", bench=bench))
    places = [(tray.bench_id, tray.row, tray.column) for tray in started.trays]
    assert places == [
        (bench.pk, 1, 1), (bench.pk, 2, 1), (bench.pk, 2, 2), (bench.pk, None, None),
    ]  # fmt: skip
    assert Place.objects.filter(tray__in=started.trays).count() == 4


def test_a_full_bench_is_followed_by_the_next_ones_in_walking_order():
    third = make.BenchFactory(rows=5, columns=5, walk_order=30)
    first = make.BenchFactory(rows=1, columns=1, walk_order=10)
    second = make.BenchFactory(rows=1, columns=2, walk_order=20)
    found = places_for(how_many=4, bench=first, go_on=True)
    assert [bench for bench, _ in found] == [first, second, second, third]
    assert all(place is not None for _, place in found)
    loose = places_for(how_many=3, bench=first, go_on=False)
    assert [(bench, place is None) for bench, place in loose] == [
        (first, False), (first, True), (first, True),
    ]  # fmt: skip
    behind = places_for(how_many=30, bench=second, go_on=True)
    assert [bench for bench, _ in behind].count(first) == 0


def test_a_bench_without_drawn_places_takes_what_is_set_on_it():
    bench = make.BenchFactory(rows=None, columns=None)
    assert free_places(bench=bench, most=5) == ()
    started = sow(trays=Trays(how_many=2, container="covered tray", bench=bench))
    assert {(tray.bench_id, tray.row) for tray in started.trays} == {(bench.pk, None)}


@pytest.mark.parametrize("how_many", [3, 30])
def test_rooms_of_all_benches_are_counted_in_two_queries(how_many, django_assert_num_queries):
    benches = make.BenchFactory.create_batch(how_many, rows=2, columns=3)
    for bench in benches:
        make.TrayFactory(bench=bench, row=1, column=1)
        make.TrayFactory(bench=bench, row=1, column=2, ended_on=TODAY, end="cleared")
    with django_assert_num_queries(2):
        rooms = bench_rooms()
        assert {str(room.bench.house) and room.free for room in rooms} == {5}
    assert len(rooms) == how_many


# The other ways


def test_bulbils_are_pegged_down_uncounted():
    source = make.SourceFactory()
    trays = Trays(how_many=2, container="covered tray")
    started = peg_down(source=source, on=TODAY, trays=trays, by="Una Tarn", now=NOW)
    assert (started.batch.route, started.batch.source) == ("bulbil", source)
    assert {(tray.stage, tray.alive, tray.cover) for tray in started.trays} == {
        ("pegged_down", None, "closed")
    }
    assert "2 trays pegged down" in started.message


def test_divisions_are_counted_where_they_are_counted():
    trays = Trays(how_many=2, container="carrier", each=6)
    started = divide(source=make.SourceFactory(), on=TODAY, trays=trays, by="Una Tarn", now=NOW)
    assert [tray.alive for tray in started.trays] == [6, 6]
    assert {move.kind for move in PlantMovement.objects.all()} == {"in"}
    trays = Trays(how_many=1, container="carrier")
    started = divide(source=make.SourceFactory(), on=TODAY, trays=trays, by="Una Tarn", now=NOW)
    assert started.trays[0].alive is None
    assert differing() == (3, ())


@pytest.mark.parametrize("stage", ["pricked_out", "potted_up"])
def test_bought_plants_arrive_counted_in_their_stage(stage):
    source = make.SourceFactory(kind="purchase", supplier="Fernhill Plugs")
    trays = Trays(how_many=1, container="cell tray 104", cells=104, each=104)
    started = buy_in(source=source, on=TODAY, stage=stage, trays=trays, by="Una Tarn", now=NOW)
    (tray,) = started.trays
    assert (tray.stage, tray.alive, tray.cells, tray.cover) == (stage, 104, 104, "")
    assert differing() == (1, ())


def test_what_was_not_bought_does_not_come_in_bought():
    trays = Trays(how_many=1, container="cell tray", each=10)
    with pytest.raises(NotPossibleNow, match="no purchase or exchange") as refused:
        buy_in(
            source=make.SourceFactory(), on=TODAY, stage="potted_up", trays=trays, by="", now=NOW
        )
    assert refused.value.field == "source"
    bought = make.SourceFactory(kind="exchange")
    with pytest.raises(NotUnderstood, match="pricked out or potted up"):
        buy_in(source=bought, on=TODAY, stage="ready", trays=trays, by="", now=NOW)
    assert nothing_started()


@pytest.mark.parametrize("deed", [peg_down, divide])
def test_every_way_starts_once_for_one_form(deed):
    record_id = uuid.uuid4()
    given: dict[str, Any] = {
        "source": make.SourceFactory(), "on": TODAY, "by": "Una Tarn", "now": NOW,
        "trays": Trays(how_many=1, container="carrier"), "record_id": record_id,
    }  # fmt: skip
    assert deed(**given) == deed(**given)
    assert Batch.objects.count() == 1


def test_a_protected_origin_is_said_as_it_is_divided():
    source = make.SourceFactory(taxon=make.TaxonFactory(tree_fern=True))
    trays = Trays(how_many=1, container="carrier")
    started = divide(source=source, on=TODAY, trays=trays, by="Una Tarn", now=NOW)
    assert "CITES Appendix II" in started.warning
