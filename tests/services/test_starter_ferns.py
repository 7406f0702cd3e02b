"""Is the list of ferns sound, and does picking from it name them as they would be by hand?"""

from __future__ import annotations

from datetime import datetime

import pytest

from batches.core.errors import NotUnderstood
from batches.models import Taxon
from batches.services.starter_ferns import (
    GROUPS,
    TOLD_BY,
    add_starter_ferns,
    starter_ferns,
    told_by_letter,
)

#: genera whose spores are green when ripe: from memory, as the literature names them
GREEN = {"Osmunda", "Osmundastrum", "Claytosmunda", "Todea", "Matteuccia", "Onoclea",
         "Pentarhizidium"}  # fmt: skip
#: tree ferns listed in CITES Appendix II: *published: CITES, listings of Cyatheaceae and
#: Cibotium barometz*; Dicksonia only from the Americas. From memory, not seen.
LISTED = {"Alsophila", "Sphaeropteris", "Cibotium"}


def test_there_are_about_sixty_hardy_and_tree_ferns_each_once() -> None:
    ferns = starter_ferns()
    assert 55 <= len(ferns) <= 70
    assert len({fern.key.casefold() for fern in ferns}) == len(ferns)
    assert {fern.group for fern in ferns} == {name for name, _ in GROUPS}
    assert sum(fern.group == "tree" for fern in ferns) >= 6


def test_every_value_says_where_it_comes_from() -> None:
    for fern in starter_ferns():
        told = dict(fern.sources)
        assert {"name", "spores", "rest", "routes"} <= set(told), fern.key
        assert ("sow_by" in told) == (fern.facts.sow_by_days is not None), fern.key
        assert ("protection" in told) == bool(fern.facts.protection), fern.key
        assert set(told.values()) <= set(TOLD_BY), fern.key
        letters = dict(told_by_letter())
        assert all(letters[fern.marks[fact]] == TOLD_BY[word] for fact, word in fern.sources)


def test_green_spores_and_protected_genera_are_marked() -> None:
    for fern in starter_ferns():
        assert (fern.facts.spore_kind == "green") == (fern.name.genus in GREEN), fern.key
        assert ("CITES Appendix II" in fern.facts.protection) == (fern.name.genus in LISTED)


def test_an_older_name_leads_to_one_fern_alone() -> None:
    every = [n.casefold() for fern in starter_ferns() for n in (fern.key, *fern.known_as)]
    assert len(set(every)) == len(every)


def test_several_are_named_at_once_and_a_second_time_are_passed_over(
    db: None, now: datetime
) -> None:
    added = add_starter_ferns(keys=["Osmunda regalis", "Woodwardia radicans"], now=now)
    assert [taxon.code for taxon in added] == ["OSMREG", "WOORAD"]
    royal = Taxon.objects.get(code="OSMREG")
    assert (royal.spore_kind, royal.rest_weeks, royal.common_name) == (
        "green",
        (44, 12),
        "royal fern",
    )
    assert Taxon.objects.get(code="WOORAD").sow_by_days == 90
    again = add_starter_ferns(keys=["Osmunda regalis", "Onoclea sensibilis"], now=now)
    assert [taxon.code for taxon in again] == ["ONOSEN"]


def test_names_are_stored_as_the_reader_read_them(db: None, now: datetime) -> None:
    add_starter_ferns(keys=["Osmunda regalis"], now=now, language="de")
    assert Taxon.objects.get().common_name == "Königsfarn"


def test_the_whole_list_can_be_named(db: None, now: datetime) -> None:
    every = [fern.key for fern in starter_ferns()]
    assert len(add_starter_ferns(keys=every, now=now)) == len(every)


@pytest.mark.parametrize("keys", [[], ["Osmunda regalis", "Nosuchia fern"]])
def test_what_is_not_on_the_list_is_refused_and_nothing_stored(
    db: None, now: datetime, keys: list[str]
) -> None:
    with pytest.raises(NotUnderstood, match="Nothing was stored"):
        add_starter_ferns(keys=keys, now=now)
    assert not Taxon.objects.exists()
