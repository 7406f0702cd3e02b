"""What do the International Transfer Format's codes say of a batch?

ITF2 (TDWG 1998) as ABCD 2 repeats it: provenance W, Z, G, U; propagation history I, S, SA, SB, SC,
V, VA, VB, U. A batch's codes follow from its origin and its route (this nursery's own mapping).
"""

from __future__ import annotations

from batches.core.stages import Route

PROVENANCE_WORDS = {
    "W": "of wild origin",
    "Z": "raised from wild-origin material",
    "G": "not of wild origin",
    "U": "origin not known",
}
#: ITF2 propagation history → words (values: ABCD 2, BotanicalGardenUnit/PropagationHistoryCode)
PROPAGATION_WORDS = {
    "I": "individual wild plants",
    "S": "raised sexually",
    "SA": "raised sexually, open breeding",
    "SB": "raised sexually, controlled",
    "SC": "raised sexually, selfed in isolation",
    "V": "raised asexually",
    "VA": "raised asexually, by division or bulbils",
    "VB": "raised asexually, by apogamous spores",
    "U": "how it was raised is not certain",
}
#: ferns whose spores give daughters like the mother, without fertilisation. Dryopteris affinis and
#: its kin: Botanica Complutensis (Dryopteris); the others from memory.
APOGAMOUS = frozenset(
    {
        ("Dryopteris", "affinis"),
        ("Dryopteris", "borreri"),
        ("Dryopteris", "cambrensis"),
        ("Dryopteris", "erythrosora"),
        ("Dryopteris", "wallichiana"),
        ("Dryopteris", "cycadina"),
        ("Cyrtomium", "falcatum"),
        ("Cyrtomium", "fortunei"),
        ("Pteris", "cretica"),
    }
)


def batch_provenance(origin: str, route: Route) -> str:
    """Return W, Z, G or U of what was raised from an origin of that code.

    Raised here from wild material it is Z; what was bought in keeps its origin's own code, and one
    without an origin is U.
    """
    if origin == "W":
        return "W" if route is Route.BOUGHT_IN else "Z"
    return origin if origin in PROVENANCE_WORDS else "U"


def propagation_history(route: Route, *, genus: str, species: str) -> str:
    """Return the propagation history of a batch: SA or VB by spores, VA, or U when bought in."""
    if route is Route.SPORE:
        return "VB" if (genus, species) in APOGAMOUS else "SA"
    return "U" if route is Route.BOUGHT_IN else "VA"
