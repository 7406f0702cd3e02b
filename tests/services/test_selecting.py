"""Does a selected form go on as a batch of its own that leads back to its tray?"""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from batches.core.errors import AlreadyTaken, LedgerDoesNotBalance, NotPossibleNow, NotUnderstood
from batches.models import Batch, Parentage, Source
from batches.services.selecting import select_form
from batches.services.stock_book import book_of
from batches.services.trace import trail_of
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY
GIVEN: dict[str, Any] = {
    "on": TODAY,
    "by": "Maeve Corrin",
    "now": make.NOW,
    "container": "carrier 9 cm",
}


@pytest.fixture
def plugs():
    lot = make.SporeLotFactory(source=make.SourceFactory(kind="wild", provenance="W"))
    return make.TrayFactory(cells_of_84=True, counted=84, batch=make.BatchFactory(spore_lot=lot))


def test_a_selected_form_is_a_new_batch_whose_origin_is_the_tray(plugs):
    crested = make.TaxonFactory(cultivar="Ashlinn Crest")

    result = select_form(tray=plugs, quantity=3, taxon=crested, notes="crested", **GIVEN)

    assert (result.source.kind, result.source.mothers) == ("tray", plugs.code)
    assert result.source.provenance == "Z"
    assert (result.batch.source, result.batch.route) == (result.source, "division")
    assert result.batch.taxon == crested
    assert (result.tray.alive, result.tray.stage) == (3, "divided")
    plugs.refresh_from_db()
    assert (plugs.alive, book_of(plugs).moved_out) == (81, 3)
    assert not Parentage.objects.exists()
    back = {node.code for node in trail_of(code=result.tray.code).back}
    assert {plugs.code, plugs.batch.spore_lot.code} <= back


def test_the_same_selection_sent_twice_is_one(plugs):
    record_id = uuid.uuid4()
    first = select_form(tray=plugs, quantity=3, record_id=record_id, **GIVEN)
    again = select_form(tray=plugs, quantity=3, record_id=record_id, **GIVEN)

    assert (again.created, again.batch, again.tray) == (False, first.batch, first.tray)
    assert Source.objects.filter(kind="tray").count() == 1
    with pytest.raises(AlreadyTaken):
        select_form(tray=plugs, quantity=4, record_id=record_id, **GIVEN)


def test_what_is_not_there_is_not_selected(plugs):
    before = Batch.objects.count()

    with pytest.raises(LedgerDoesNotBalance):
        select_form(tray=plugs, quantity=85, **GIVEN)
    with pytest.raises(NotUnderstood):
        select_form(tray=plugs, quantity=0, **GIVEN)
    with pytest.raises(NotUnderstood):
        select_form(tray=plugs, quantity=1, **(GIVEN | {"container": ""}))
    plugs.ended_on, plugs.end = TODAY, "cleared"
    plugs.save()
    with pytest.raises(NotPossibleNow):
        select_form(tray=plugs, quantity=1, **GIVEN)

    assert Batch.objects.count() == before
