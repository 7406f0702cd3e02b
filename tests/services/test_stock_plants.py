"""Is an origin of each kind told with what it needs, and is a look at its sori noted?"""

from __future__ import annotations

import uuid
from datetime import date, timedelta

import pytest

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime, UnknownCode
from batches.models import Source
from batches.services.origin_list import origin_rows, origins_shown
from batches.services.overdue_elsewhere import sori_lines
from batches.services.stock_plants import (
    OriginFacts,
    came_of,
    change_origin,
    look_at_sori,
    note_origin,
    sori_due,
)
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def facts(**more) -> OriginFacts:
    return OriginFacts(**({"kind": "stock_plant", "provenance": "G"} | more))


def note(taxon=None, *, own_code="", record_id=None, **more):
    return note_origin(
        taxon=taxon or make.TaxonFactory(), facts=facts(**more), now=NOW, own_code=own_code,
        record_id=record_id,
    )  # fmt: skip


def test_a_stock_plant_gets_a_code_a_place_and_ripening_weeks():
    bench = make.BenchFactory()
    stored = note(bench=bench, ripe_from_week=50, ripe_to_week=4, notes=" by the tank ")
    source = stored.source
    assert source.code.startswith("P26-001-")
    assert (source.bench, source.ripe_weeks, source.notes) == (bench, (50, 4), "by the tank")
    assert "label" in stored.message


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"kind": "purchase"}, "supplier"),
        ({"kind": "exchange"}, "supplier"),
        ({"kind": "wild", "provenance": "W"}, "locality"),
        ({"kind": "pooled"}, "mothers"),
        ({"kind": "tray"}, "mothers"),
        ({"kind": "wild", "provenance": "G", "locality": "Ashlinn Water"}, "provenance"),
        ({"kind": "meadow"}, "kind"),
        ({"provenance": "X"}, "provenance"),
        ({"ripe_from_week": 20}, "ripe_to_week"),
        ({"ripe_from_week": 0, "ripe_to_week": 4}, "ripe_from_week"),
        ({"ripe_from_week": 20, "ripe_to_week": 54}, "ripe_to_week"),
    ],
)
def test_what_a_kind_needs_is_asked_for_in_words(more, field):
    with pytest.raises(NotUnderstood) as refused:
        note(**more)
    assert refused.value.field == field
    assert Source.objects.count() == 0


@pytest.mark.parametrize(
    "more",
    [
        {"kind": "purchase", "supplier": "Fernhill Plugs", "passport": "FP-2231"},
        {"kind": "exchange", "supplier": "Marl Lane Gardens", "provenance": "U"},
        {"kind": "wild", "provenance": "W", "locality": "Ashlinn Water", "permit": "AW 26/1"},
        {"kind": "pooled", "mothers": "P24-001-C P24-002-L"},
    ],
)
def test_origins_of_every_kind_are_stored(more):
    source = note(**more).source
    assert {name: getattr(source, name) for name in more} == more


def test_a_form_selected_in_a_tray_names_that_tray():
    tray = make.TrayFactory()
    source = note(tray.batch.taxon, kind="tray", mothers=f" {tray.code.lower()} ").source
    assert source.mothers == tray.code
    with pytest.raises(UnknownCode):
        note(tray.batch.taxon, kind="tray", mothers="T9999")
    with pytest.raises(NotPossibleNow, match="holds") as refused:
        note(make.TaxonFactory(green=True), kind="tray", mothers=tray.code)
    assert refused.value.field == "mothers"


def test_only_plants_of_ours_stand_on_a_bench():
    with pytest.raises(NotPossibleNow) as refused:
        note(kind="purchase", supplier="Fernhill Plugs", bench=make.BenchFactory())
    assert refused.value.field == "bench"


def test_wild_material_without_a_permit_and_protection_are_said():
    wild = {"kind": "wild", "provenance": "W", "locality": "Ashlinn Water"}
    words = note(make.TaxonFactory(tree_fern=True), **wild).warning
    assert "CITES Appendix II" in words
    assert "permit" in words
    assert note(**wild, permit="AW 26/1").warning == ""


def test_the_same_form_sent_twice_notes_one_origin():
    taxon, record_id = make.TaxonFactory(), uuid.uuid4()
    assert note(taxon, record_id=record_id) == note(taxon, record_id=record_id)
    assert Source.objects.count() == 1


def test_facts_are_noted_anew_under_the_same_code():
    source = note(own_code="Tank-1").source
    change_origin(source=source, facts=facts(provenance="Z", ripe_from_week=23, ripe_to_week=25))
    source.refresh_from_db()
    assert (source.code, source.provenance, source.ripe_weeks) == ("Tank-1", "Z", (23, 25))
    with pytest.raises(NotUnderstood):
        change_origin(source=source, facts=facts(kind="purchase"))
    source.refresh_from_db()
    assert source.kind == "stock_plant"


# Sori


def test_a_look_at_the_sori_settles_the_season():
    # Wed 10 Jun 2026 lies in ISO week 24.
    source = make.SourceFactory(ripe_from_week=23, ripe_to_week=25)
    assert "weeks 23 to 25" in sori_due(source=source, on=TODAY)
    look_at_sori(source=source, on=TODAY, now=NOW)
    assert source.sori_looked_on == TODAY
    assert sori_due(source=source, on=TODAY) == ""
    assert list(sori_lines(on=TODAY)) == []
    assert sori_due(source=source, on=TODAY + timedelta(days=364)) != ""


@pytest.mark.parametrize("day", [TODAY + timedelta(days=1), date(2026, 6, 1)])
def test_a_look_in_the_future_or_before_the_last_is_refused(day):
    source = make.SourceFactory(ripe_from_week=23, ripe_to_week=25, sori_looked_on=date(2026, 6, 8))
    with pytest.raises(OutOfTime):
        look_at_sori(source=source, on=day, now=NOW)
    source.refresh_from_db()
    assert source.sori_looked_on == date(2026, 6, 8)


def test_without_ripening_weeks_nothing_asks_for_a_look():
    with pytest.raises(NotPossibleNow, match="No ripening weeks"):
        look_at_sori(source=make.SourceFactory(), on=TODAY, now=NOW)


# The list


def test_origins_are_found_by_kind_fern_and_code():
    plant = make.SourceFactory()
    bought = make.SourceFactory(
        kind="purchase", supplier="Fernhill Plugs", taxon=make.TaxonFactory(green=True)
    )
    assert list(origins_shown(kind="purchase", fern="")) == [bought]
    assert list(origins_shown(kind="", fern="royal")) == [bought]
    assert list(origins_shown(kind="nonsense", fern=plant.code.lower())) == [plant]


@pytest.mark.parametrize("how_many", [3, 30])
def test_rows_count_what_came_of_each_in_two_queries(how_many, django_assert_num_queries):
    sources = make.SourceFactory.create_batch(how_many)
    for source in sources:
        make.SporeLotFactory.create_batch(2, source=source)
        make.BatchFactory(division=True, source=source)
    with django_assert_num_queries(2):
        rows = origin_rows(sources=sources)
    assert {(row.lots, row.batches) for row in rows} == {(2, 1)}
    lots, batches = came_of(source=sources[0])
    assert (len(lots), len(batches)) == (2, 1)
