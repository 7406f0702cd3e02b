"""A lot of spores, cleaned and stored."""

from __future__ import annotations

from datetime import date

from factory.declarations import SelfAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory

from batches.models import GerminationTest, SporeLot
from tests.factories.coded import CodedFactory
from tests.factories.days import NOW
from tests.factories.source import SourceFactory


class SporeLotFactory(CodedFactory[SporeLot]):
    """A cleaned lot of last summer, from a stock plant of the same fern."""

    class Meta:
        model = SporeLot
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"LOT{n:03d}")
    source = SubFactory(SourceFactory)
    taxon = SelfAttribute("source.taxon")
    collected_on = date(2025, 8, 11)
    collected_by = "Maeve Corrin"
    method = "fronds in paper"
    drying_since = date(2025, 8, 11)
    cleaned_on = date(2025, 8, 16)
    mass_mg = 120.0
    remaining_mg = 120.0
    storage = "paper packet, cold store 4 °C"


class GerminationTestFactory(DjangoModelFactory[GerminationTest]):
    """A sample of 100 spores counted after four weeks."""

    class Meta:
        model = GerminationTest
        skip_postgeneration_save = True

    lot = SubFactory(SporeLotFactory)
    sown_on = date(2026, 1, 12)
    counted_on = date(2026, 2, 9)
    counted = 100
    germinated = 83
    recorded_at = NOW
