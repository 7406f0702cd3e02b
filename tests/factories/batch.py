"""A propagation batch, by default raised from spores."""

from __future__ import annotations

from factory.declarations import SelfAttribute, Sequence, SubFactory, Trait

from batches.models import Batch
from tests.factories.coded import CodedFactory
from tests.factories.days import STARTED_ON
from tests.factories.source import SourceFactory
from tests.factories.spore_lot import SporeLotFactory


class BatchFactory(CodedFactory[Batch]):
    """Sown from a lot of the batch's fern; the traits raise it by another route."""

    class Meta:
        model = Batch
        skip_postgeneration_save = True

    class Params:
        bulbil = Trait(
            route="bulbil",
            spore_lot=None,
            source=SubFactory(SourceFactory),
            taxon=SelfAttribute("source.taxon"),
        )
        division = Trait(
            route="division",
            spore_lot=None,
            source=SubFactory(SourceFactory),
            taxon=SelfAttribute("source.taxon"),
        )
        bought_in = Trait(
            route="bought_in",
            spore_lot=None,
            source=SubFactory(SourceFactory, kind="purchase", supplier="Fernhill Plugs"),
            taxon=SelfAttribute("source.taxon"),
        )

    code = Sequence(lambda n: f"SET{n:03d}")
    route = "spore"
    spore_lot = SubFactory(SporeLotFactory)
    source = None
    taxon = SelfAttribute("spore_lot.taxon")
    started_on = STARTED_ON
