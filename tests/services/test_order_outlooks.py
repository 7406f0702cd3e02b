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


def test_an_order_that_names_a_size_counts_that_size_and_pots_in_none_yet():
    taxon = TaxonFactory()
    half = TODAY + timedelta(days=14)
    pots = np.array([[60.0, 0.0], [60.0, 40.0]])
    found = NurseryForecast(
        on=TODAY, weeks=2, bases={},
        ferns={taxon: FernForecast(
            pots=pots, in_size={"9cm": np.array([[20.0, 0.0], [20.0, 0.0]]),
                                "1l": np.array([[40.0, 0.0], [40.0, 0.0]])},
        )},
    )  # fmt: skip
    OrderFactory(taxon=taxon, quantity=30, pot_size="9 cm", wanted_on=half, code="A-SMALL")
    OrderFactory(taxon=taxon, quantity=40, pot_size="1 L", wanted_on=half, code="B-LARGE")
    OrderFactory(taxon=taxon, quantity=30, pot_size="", wanted_on=half, code="C-ANY")

    small, large, any_size = order_outlooks(found=found)

    # 60 pots come in each draw, but only 20 of 9 cm; the second draw has 40 in no size yet.
    assert (small.chance, small.no_size_yet) == (0.5, 20)
    assert (large.chance, large.before) == (1.0, 30)
    # What the others leave: nothing in one draw, 30 of the 40 in the other.
    assert (any_size.chance, any_size.no_size_yet) == (0.5, 0)


def test_only_pots_of_its_size_stand_ready_for_an_order():
    taxon = TaxonFactory()
    for size, alive in (("9 cm", 12), ("2 L", 50)):
        TrayFactory(
            batch=BatchFactory(taxon=taxon), carrier=True, counted=alive, stage="ready",
            started_on=TODAY - timedelta(days=200), pot_size=size,
        )  # fmt: skip
    OrderFactory(taxon=taxon, quantity=20, pot_size="9cm", wanted_on=TODAY, code="SMALL")
    OrderFactory(taxon=taxon, quantity=20, pot_size="", wanted_on=TODAY, code="ZANY")
    small, any_size = order_outlooks(found=forecast_of(TaxonFactory(), [0]))
    assert (small.ready, small.chance) == (12, 0.0)
    assert (any_size.ready, any_size.chance) == (62, 1.0)
