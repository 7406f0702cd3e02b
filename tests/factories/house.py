"""A house, and a bench in it."""

from __future__ import annotations

import factory

from batches.models import Bench, House
from tests.factories.coded import CodedFactory


class HouseFactory(CodedFactory):
    """A glasshouse."""

    class Meta:
        model = House
        skip_postgeneration_save = True

    code = factory.Sequence(lambda n: f"H{n:02d}")
    name = factory.LazyAttribute(lambda house: f"House {house.code[1:]}")


class BenchFactory(CodedFactory):
    """A bench of 4 rows and 10 columns; walked past in the order of making."""

    class Meta:
        model = Bench
        skip_postgeneration_save = True

    code = factory.Sequence(lambda n: f"B{n:02d}")
    house = factory.SubFactory(HouseFactory)
    rows = 4
    columns = 10
    walk_order = factory.Sequence(lambda n: n)
