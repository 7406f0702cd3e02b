"""Does the database itself refuse to change or delete what happened?"""

from __future__ import annotations

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from batches.models import KeepingChange, Place, PlantMovement, StageTransition, TrayCheck
from batches.models.guards import GUARDED_TABLES, create_guards, missing_guards
from tests.factories import (
    NOW,
    TODAY,
    KeepingChangeFactory,
    PlaceFactory,
    PlantMovementFactory,
    StageTransitionFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db

EVENTS = [
    (TrayCheckFactory, TrayCheck),
    (PlantMovementFactory, PlantMovement),
    (StageTransitionFactory, StageTransition),
    (PlaceFactory, Place),
    (KeepingChangeFactory, KeepingChange),
]


@pytest.mark.parametrize(("factory", "model"), EVENTS)
def test_an_event_is_neither_changed_nor_deleted(factory, model):
    row = factory()
    with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
        model.objects.filter(pk=row.pk).update(by="somebody else")
    with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
        model.objects.filter(pk=row.pk).delete()
    row.by = "somebody else"
    with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
        row.save()
    assert model.objects.get(pk=row.pk).by != "somebody else"


def test_every_event_table_is_guarded():
    from django.apps import apps

    from batches.models.events import Event

    tables = {m._meta.db_table for m in apps.get_models() if issubclass(m, Event)}
    assert tables | {"batches_changenote"} == set(GUARDED_TABLES)


@pytest.mark.parametrize("deed", ["update", "delete"])
def test_a_guard_that_was_taken_away_is_missed_until_it_is_put_back(deed):
    assert missing_guards(connection) == []
    on = " ON batches_place" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER batches_place_no_{deed}{on}")
    assert missing_guards(connection) == ["batches_place"]
    create_guards(connection)
    assert missing_guards(connection) == []


def test_a_row_is_struck_out_at_most_once():
    wrong = TrayCheckFactory()
    TrayCheckFactory(tray=wrong.tray, strikes_out=wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        TrayCheckFactory(tray=wrong.tray, strikes_out=wrong)
    assert list(TrayCheck.objects.standing()) == []
    assert list(TrayCheck.objects.struck()) == [wrong]


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"kind": "loss", "quantity": -1}, "movement_quantity_positive"),
        ({"kind": "recount", "quantity": 0}, "movement_quantity_positive"),
        ({"kind": "swap", "quantity": 1}, "movement_kind_known"),
        ({"kind": "loss", "quantity": 1, "recipient": "Orla"}, "movement_only_dispatch"),
        ({"kind": "loss", "quantity": 1, "cause": "gremlins"}, "movement_cause_known"),
        ({"kind": "out", "quantity": 1, "arrived": 3}, "movement_arrives_in_a_tray"),
    ],
)
def test_the_stock_book_refuses_rows_that_make_no_sense(fields, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        PlantMovement.objects.create(tray=TrayFactory(), on=TODAY, recorded_at=NOW, **fields)


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"ended_on": TODAY}, "tray_end_has_a_day"),
        ({"end": "cleared"}, "tray_end_has_a_day"),
        ({"alive": -1}, "tray_never_below_nothing"),
        ({"stage": "asleep"}, "tray_stage_known"),
        ({"row": 3, "column": 2}, "tray_place_needs_a_bench"),
    ],
)
def test_a_tray_that_makes_no_sense_is_refused(fields, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        TrayFactory(**fields)


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"rest_from_week": 44, "rest_to_week": None}, "taxon_rest_has_both_ends"),
        ({"rest_from_week": 44, "rest_to_week": 54}, "taxon_rest_has_both_ends"),
        ({"last_pot_up_week": 0}, "taxon_last_pot_up_is_a_week"),
        ({"infra_rank": "var."}, "taxon_rank_with_epithet"),
    ],
)
def test_a_fern_that_makes_no_sense_is_refused(fields, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        TaxonFactory(**fields)


def test_a_rest_over_new_year_is_kept():
    fern = TaxonFactory(rest_from_week=44, rest_to_week=10)
    assert fern.rest_weeks == (44, 10)
