"""An origin, by default a stock plant of the nursery."""

from __future__ import annotations

from factory.declarations import Sequence, SubFactory

from batches.models import Source
from tests.factories.coded import CodedFactory
from tests.factories.taxon import TaxonFactory


class SourceFactory(CodedFactory[Source]):
    """A stock plant."""

    class Meta:
        model = Source
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"SP{n:03d}")
    taxon = SubFactory(TaxonFactory)
    kind = "stock_plant"
    provenance = "G"
