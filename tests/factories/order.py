"""An order of pots."""

from __future__ import annotations

from datetime import date

from factory.declarations import Sequence, SubFactory

from batches.models import Order
from tests.factories.coded import CodedFactory
from tests.factories.taxon import TaxonFactory


class OrderFactory(CodedFactory[Order]):
    """A hundred pots of 9 cm for spring."""

    class Meta:
        model = Order
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"ORD{n:03d}")
    taxon = SubFactory(TaxonFactory)
    quantity = 100
    pot_size = "9 cm"
    wanted_on = date(2027, 4, 1)
    customer = "Marl Lane Gardens"
