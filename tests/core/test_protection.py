"""Is every listed fern known, and no other, and is what the nursery noted never lost?"""

from __future__ import annotations

import pytest

from batches.core.protection import cites_note, protection_words


@pytest.mark.parametrize(
    ("genus", "species"),
    [
        # CITES Prop. 11.8 (published): Cyathea spp. including Alsophila, Nephelea, Sphaeropteris,
        # Trichipteris; Dicksonia spp. originating in the Americas; Cibotium barometz.
        ("Cyathea", "medullaris"), ("Alsophila", "dealbata"), ("Nephelea", "mexicana"),
        ("Sphaeropteris", "cooperi"), ("Trichipteris", "armata"), ("Dicksonia", "sellowiana"),
        ("Cibotium", "barometz"),
    ],
)  # fmt: skip
def test_a_listed_fern_is_told(genus: str, species: str) -> None:
    note = cites_note(genus=genus, species=species)
    assert "CITES Appendix II" in note
    assert "authority decides" in note


@pytest.mark.parametrize(
    ("genus", "species"),
    [
        # Published: no other population of Dicksonia, and no other Cibotium, is in the Appendices.
        ("Dicksonia", "antarctica"), ("Dicksonia", "fibrosa"), ("Dicksonia", "squarrosa"),
        ("Cibotium", "schiedei"), ("Osmunda", "regalis"), ("Dryopteris", "affinis"),
    ],
)  # fmt: skip
def test_a_fern_that_is_not_listed_is_left_in_peace(genus: str, species: str) -> None:
    assert cites_note(genus=genus, species=species) == ""
    assert protection_words(genus=genus, species=species, noted="") == ""


def test_what_the_nursery_noted_stands_beside_the_reminder() -> None:
    both = protection_words(genus="Cyathea", species="x", noted="Permit 17 of 2024.")
    assert both.startswith("Permit 17 of 2024. CITES")
    own = protection_words(genus="Cyathea", species="x", noted="CITES Appendix II")
    assert own.count("CITES") == 1
    assert "authority decides" in own
    other = protection_words(genus="Trichomanes", species="y", noted="Protected by law")
    assert other.startswith("Protected by law.")
