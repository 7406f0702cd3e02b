"""A propagation batch, by default raised from spores."""

from __future__ import annotations

import factory

from batches.models import Batch
from tests.factories.coded import CodedFactory
from tests.factories.days import STARTED_ON
from tests.factories.source import SourceFactory
from tests.factories.spore_lot import SporeLotFactory


class BatchFactory(CodedFactory):
    """Sown from a lot of the batch's fern; the traits raise it by another route."""

    class Meta:
        model = Batch
        skip_postgeneration_save = True

    class Params:
        bulbil = factory.Trait(
            route="bulbil",
            spore_lot=None,
            source=factory.SubFactory(SourceFactory),
            taxon=factory.SelfAttribute("source.taxon"),
        )
        division = factory.Trait(
            route="division",
            spore_lot=None,
            source=factory.SubFactory(SourceFactory),
            taxon=factory.SelfAttribute("source.taxon"),
        )
        bought_in = factory.Trait(
            route="bought_in",
            spore_lot=None,
            source=factory.SubFactory(SourceFactory, kind="purchase", supplier="Fernhill Plugs"),
            taxon=factory.SelfAttribute("source.taxon"),
        )

    code = factory.Sequence(lambda n: f"SET{n:03d}")
    route = "spore"
    spore_lot = factory.SubFactory(SporeLotFactory)
    source = None
    taxon = factory.SelfAttribute("spore_lot.taxon")
    started_on = STARTED_ON
