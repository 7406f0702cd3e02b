"""Is a stock book noticed that no longer adds up to the stored number?"""

from __future__ import annotations

import pytest

from batches.models import PlantMovement, Tray
from batches.services import standing
from batches.services.checks import record_check
from batches.services.stock_check import books_that_differ
from tests.factories import NOW, TrayFactory

pytestmark = pytest.mark.django_db


def test_books_add_up_after_losses_and_a_recount() -> None:
    tray, _uncounted = TrayFactory(counted=80), TrayFactory()
    standing.refold(trays=[tray], recorded_at=NOW)
    record_check(tray=tray, seen_at=NOW, now=NOW, by="Wilf", losses=[(5, "mould")], count=70)
    tray.refresh_from_db()
    assert tray.alive == 70
    assert books_that_differ() == (1, ())


def test_a_stored_number_that_is_not_the_books_is_named() -> None:
    whole, wrong = TrayFactory(counted=80), TrayFactory(counted=12)
    Tray.objects.filter(pk=wrong.pk).update(alive=13)
    assert books_that_differ() == (2, (wrong.code,))
    PlantMovement.objects.create(
        tray=whole, on=whole.started_on, kind="loss", quantity=1, recorded_at=NOW
    )
    assert set(books_that_differ()[1]) == {whole.code, wrong.code}


def test_what_arrived_counts_in_the_childs_own_unit() -> None:
    parent, child = TrayFactory(counted=84), TrayFactory(counted=None)
    PlantMovement.objects.create(tray=parent, to_tray=child, on=parent.started_on, kind="out",
                                 quantity=84, arrived=200, recorded_at=NOW)  # fmt: skip
    Tray.objects.filter(pk=parent.pk).update(alive=0)
    Tray.objects.filter(pk=child.pk).update(alive=200)
    assert books_that_differ() == (2, ())
