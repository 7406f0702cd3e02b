"""Is the note of papers seen wherever plants or spores leave?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.factories import (
    TODAY,
    BatchFactory,
    OrderFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayFactory,
)
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
NOTE = "CITES Appendix II"


def test_a_listed_fern_is_told_of_where_it_leaves_and_another_is_not(office):
    for genus, told in (("Cyathea", True), ("Osmunda", False)):
        fern = TaxonFactory(genus=genus, species="medullaris", code=genus[:6].upper())
        lot = SporeLotFactory(taxon=fern)
        batch = BatchFactory(spore_lot=lot, taxon=fern)
        pots = TrayFactory(batch=batch, carrier=True, counted=20)
        order = OrderFactory(taxon=fern, wanted_on=TODAY + timedelta(days=9), quantity=5)
        for name, args, query in (
            ("tray-deed", (pots.code, "dispatch"), {}),
            ("lot", (lot.code,), {}),
            ("batch", (batch.code,), {}),
            ("labels", (), {"tray": pots.code}),
            ("labels", (), {"lot": lot.code}),
        ):
            assert (NOTE in page(office, name, *args, **query)) is told, (genus, name)
        for name in ("orders", "dispatches"):
            assert NOTE in page(office, name)
        if told:
            order.delete()
            assert NOTE not in page(office, "orders")
            order.save()


def test_a_batch_says_its_provenance_in_words(hand):
    batch = BatchFactory()
    assert "raised sexually, open breeding" in page(hand, "batch", batch.code)
