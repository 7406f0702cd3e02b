"""Are orders laid against the forecast one after the other?"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from batches.core.forecast import FernForecast
from batches.services.forecasting import NurseryForecast
from batches.services.order_outlooks import last_wanted, order_outlooks
from tests.factories import NOW, TODAY, BatchFactory, OrderFactory, TaxonFactory, TrayFactory

pytestmark = pytest.mark.django_db


def forecast_of(taxon, *weeks_of_draws):
    """A forecast whose draws are written down: one row a draw, one column a week."""
    pots = np.array(weeks_of_draws, dtype=float)
    return NurseryForecast(
        on=TODAY, weeks=pots.shape[1], ferns={taxon: FernForecast(pots=pots)}, bases={}
    )


def test_the_chance_is_the_share_of_draws_that_hold_the_pots_in_whole_weeks():
    taxon = TaxonFactory()
    found = forecast_of(taxon, [0, 50], [50, 0], [0, 0], [20, 40])
    OrderFactory(taxon=taxon, quantity=50, wanted_on=TODAY + timedelta(days=13), code="SOON")
    OrderFactory(taxon=taxon, quantity=50, wanted_on=TODAY + timedelta(days=14), code="LATER")
    soon, later = order_outlooks(found=found)
    assert (soon.order.code, soon.chance, soon.state) == ("SOON", 0.25, "short")
    # The second order waits behind the first: 100 pots are needed, no draw holds them.
    assert (later.order.code, later.before, later.chance) == ("LATER", 50, 0.0)


def test_what_stands_ready_is_given_first_and_what_left_is_no_longer_to_go():
    taxon = TaxonFactory()
    ready = TrayFactory(
        batch=BatchFactory(taxon=taxon), carrier=True, counted=70, stage="ready",
        started_on=TODAY - timedelta(days=200),
    )  # fmt: skip
    order = OrderFactory(taxon=taxon, quantity=60, wanted_on=TODAY)
    ready.movements.create(
        on=TODAY, kind="dispatch", quantity=10, order=order, recipient="Marl Lane", recorded_at=NOW
    )
    ready.alive = 60
    ready.save()
    (one,) = order_outlooks(found=forecast_of(taxon, [0]))
    assert (one.to_go, one.ready, one.chance, one.state) == (50, 60, 1.0, "covered")


def test_an_order_of_a_fern_without_trays_or_already_over_is_short():
    other = TaxonFactory()
    OrderFactory(taxon=other, quantity=5, wanted_on=TODAY + timedelta(days=90))
    OrderFactory(taxon=other, quantity=5, wanted_on=TODAY - timedelta(days=3))
    states = [one.state for one in order_outlooks(found=forecast_of(TaxonFactory(), [90]))]
    assert states == ["short", "short"]


def test_closed_orders_ask_for_nothing():
    OrderFactory(closed_on=TODAY)
    assert last_wanted() is None
    assert order_outlooks(found=forecast_of(TaxonFactory(), [1])) == ()
