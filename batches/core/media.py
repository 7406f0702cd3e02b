"""How much mix, of how much of each part, and how much feed?

Parts are by volume, loose. Fine parts fall between coarse ones, so that a mix holds less than its
parts: the loss is a share of the parts' volumes (10 to 20 %, common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from batches.core.errors import NurseryError

USUAL_LOSS = 0.15


class BadMix(NurseryError):
    """Numbers of which no mix or feed can be made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixNeeded:
    """Litres of mix to fill the containers, litres of parts to get it, and of each part."""

    litres: float
    of_parts: float
    parts: dict[str, float]


def mix_needed(
    *, containers: int, litres_each: float, parts: Mapping[str, float], loss: float = USUAL_LOSS
) -> MixNeeded:
    """Return the mix for so many containers, and what to put together for it."""
    if containers < 1 or litres_each <= 0:
        raise BadMix("Containers and their litres are above 0.")
    if not 0 <= loss < 1:
        raise BadMix("The loss in mixing is a share from 0 to below 100 %.", field="loss")
    if not parts or min(parts.values()) <= 0:
        raise BadMix("A mix needs at least one part, each above 0.", field="recipe")
    litres = containers * litres_each
    of_parts = litres / (1 - loss)
    whole = sum(parts.values())
    return MixNeeded(
        litres=litres,
        of_parts=of_parts,
        parts={name: of_parts * share / whole for name, share in parts.items()},
    )


def feed_grams_per_litre(*, mg_n_per_litre: float, nitrogen: float) -> float:
    """Return grams of a product in a litre of water for so much nitrogen; ``nitrogen`` 0 to 1."""
    if mg_n_per_litre <= 0:
        raise BadMix("Nitrogen in the water is above 0 mg/L.")
    if not 0 < nitrogen <= 1:
        raise BadMix("The product's nitrogen is a share above 0 %.", field="nitrogen")
    return mg_n_per_litre / 1_000 / nitrogen


def nitrogen_mg_per_litre(*, grams: float, litres: float, nitrogen: float) -> float:
    """Return mg of nitrogen a litre from so many grams of a product in so many litres."""
    if grams < 0 or litres <= 0 or not 0 < nitrogen <= 1:
        raise BadMix("Grams, litres and the product's nitrogen are above 0.")
    return grams * 1_000 * nitrogen / litres
