"""A house, and a bench in it."""

from __future__ import annotations

from factory.declarations import LazyAttribute, Sequence, SubFactory

from batches.models import Bench, House
from tests.factories.coded import CodedFactory


class HouseFactory(CodedFactory[House]):
    """A glasshouse."""

    class Meta:
        model = House
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"H{n:02d}")
    name = LazyAttribute(lambda house: f"House {house.code[1:]}")


class BenchFactory(CodedFactory[Bench]):
    """A bench of 4 rows and 10 columns; walked past in the order of making."""

    class Meta:
        model = Bench
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"B{n:02d}")
    house = SubFactory(HouseFactory)
    rows = 4
    columns = 10
    walk_order = Sequence(lambda n: n)
