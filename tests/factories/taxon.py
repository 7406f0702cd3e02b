"""A fern, by default a hardy one with spores that are not green."""

from __future__ import annotations

from factory.declarations import Sequence, Trait

from batches.models import Taxon
from tests.factories.coded import CodedFactory


class TaxonFactory(CodedFactory[Taxon]):
    """Hardy shield fern unless told otherwise; every one has a code of its own."""

    class Meta:
        model = Taxon
        skip_postgeneration_save = True

    class Params:
        green = Trait(
            genus="Osmunda", species="regalis", common_name="royal fern", spore_kind="green"
        )
        tree_fern = Trait(
            genus="Dicksonia",
            species="antarctica",
            common_name="soft tree fern",
            form="tree_fern",
            protection="CITES Appendix II",
        )

    code = Sequence(lambda n: f"POLSET-{n:03d}")
    genus = "Polystichum"
    species = "setiferum"
    common_name = "soft shield fern"
    spore_kind = "not_green"
    form = "fern"
    routes = "spore bulbil division bought_in"
