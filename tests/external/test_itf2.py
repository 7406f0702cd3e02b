"""Are the codes of provenance those of the International Transfer Format, and mapped as said?

*published: ABCD 2 (TDWG), BotanicalGardenUnit/ProvenanceCategory and PropagationHistoryCode*, which
repeat ITF2 (1998): W, Z, G, U; and I, S, SA, SB, SC, V, VA, VB, U. Which of them a batch gets is
this program's own mapping: *common practice, no source*.
"""

from __future__ import annotations

import pytest

from batches.core.provenance import (
    PROPAGATION_WORDS,
    PROVENANCE_WORDS,
    batch_provenance,
    propagation_history,
)
from batches.core.stages import Route
from batches.models.source import PROVENANCES

PROVENANCE = {"W", "Z", "G", "U"}
PROPAGATION = {"I", "S", "SA", "SB", "SC", "V", "VA", "VB", "U"}


def test_the_codes_are_the_published_ones() -> None:
    assert set(PROVENANCE_WORDS) == PROVENANCE
    assert dict(PROVENANCES) == PROVENANCE_WORDS
    assert set(PROPAGATION_WORDS) == PROPAGATION


@pytest.mark.parametrize(
    ("origin", "route", "code"),
    [
        ("W", Route.SPORE, "Z"), ("W", Route.DIVISION, "Z"), ("W", Route.BULBIL, "Z"),
        ("W", Route.BOUGHT_IN, "W"), ("Z", Route.SPORE, "Z"), ("G", Route.SPORE, "G"),
        ("G", Route.DIVISION, "G"), ("U", Route.BOUGHT_IN, "U"), ("", Route.BOUGHT_IN, "U"),
    ],
)  # fmt: skip
def test_what_is_raised_here_from_wild_material_is_no_longer_wild(origin, route, code) -> None:
    assert batch_provenance(origin, route) == code


@pytest.mark.parametrize(
    ("route", "genus", "species", "code"),
    [
        (Route.SPORE, "Osmunda", "regalis", "SA"),
        # Apogamous: its spores give daughters like the mother (Botanica Complutensis).
        (Route.SPORE, "Dryopteris", "affinis", "VB"),
        (Route.DIVISION, "Dryopteris", "affinis", "VA"),
        (Route.BULBIL, "Polystichum", "setiferum", "VA"),
        (Route.BOUGHT_IN, "Osmunda", "regalis", "U"),
    ],
)
def test_how_it_was_raised_follows_from_the_route(route, genus, species, code) -> None:
    assert propagation_history(route, genus=genus, species=species) == code


def test_every_route_and_origin_gives_a_published_code() -> None:
    for route in Route:
        assert propagation_history(route, genus="A", species="b") in PROPAGATION
        for origin in (*PROVENANCE, "", "?"):
            assert batch_provenance(origin, route) in PROVENANCE
