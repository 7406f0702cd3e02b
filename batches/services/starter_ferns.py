"""Which ferns can a new nursery pick from, so that none of them has to be typed?

The list (starter_ferns.csv beside this module) is written for this program. Each value says where
it comes from: a publication, the trade's common practice, or memory. Picking copies the values to
the nursery's own fern, where they are changed at will.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from string import ascii_lowercase

from django.db import transaction

from batches.core.errors import NotUnderstood
from batches.core.names import BotanicalName, botanical_name
from batches.models import Taxon
from batches.services.ferns import FernFacts, name_fern
from batches.services.language import LANGUAGES, said

LIST = Path(__file__).with_suffix(".csv")
#: the words of the list's columns that end in `_from`
TOLD_BY = {
    "practice": "common practice, no source",
    "memory": "from memory",
    "genera": "the green-spored genera as the trade and the literature name them, from memory",
    "quintanilla": "Quintanilla and others 2002, Annals of Botany, doi 10.1093/aob/mcf224: "
    "dry store of 6 to 12 months killed most spores; the days are our proposal",
    "cites": "the CITES listing of the tree fern genera, from memory: ask the authority",
    "dicksonia": "CITES lists only the American populations of this genus, from memory: "
    "ask the authority",
}
GROUPS = (
    ("hardy", "Hardy ferns"),
    ("green", "Ferns with green spores: sown within days"),
    ("tree", "Tree ferns"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StarterFern:
    """A fern of the list; ``sources`` pairs a fact with the word of `TOLD_BY` behind it."""

    name: BotanicalName
    facts: FernFacts
    known_as: tuple[str, ...]
    sources: tuple[tuple[str, str], ...]

    @property
    def key(self) -> str:
        """What a form names it by: its name in plain text."""
        return self.name.text

    @property
    def group(self) -> str:
        """The group it stands under, a word of `GROUPS`."""
        if self.facts.form == "tree_fern":
            return "tree"
        return "green" if self.facts.spore_kind == "green" else "hardy"

    @property
    def marks(self) -> dict[str, str]:
        """The letter of its source behind each fact, as `told_by_letter` explains them."""
        letters = {word: letter for letter, word in zip(ascii_lowercase, TOLD_BY, strict=False)}
        return {fact: letters[source] for fact, source in self.sources}


@cache
def starter_ferns() -> tuple[StarterFern, ...]:
    """Return the list, in order of names."""
    with LIST.open(encoding="utf-8", newline="") as file:
        ferns = [_fern(row) for row in csv.DictReader(file)]
    return tuple(sorted(ferns, key=lambda fern: fern.key.casefold()))


def told_by_letter() -> tuple[tuple[str, str], ...]:
    """Return what the letters behind the values stand for."""
    return tuple(zip(ascii_lowercase, TOLD_BY.values(), strict=False))


def names_here() -> frozenset[str]:
    """Return the names of the nursery's ferns, in small letters; one query."""
    return frozenset(taxon.name.text.casefold() for taxon in Taxon.objects.all())


def add_starter_ferns(
    *, keys: Iterable[str], now: datetime, language: str = next(iter(LANGUAGES))
) -> tuple[Taxon, ...]:
    """Name the ferns picked from the list, all or none; those here already are passed over.

    Common names and words of protection are stored as the language says them.

    Raises
    ------
    NotUnderstood
        When none is picked, or one is not on the list.
    """
    wanted = set(keys)
    if not wanted:
        raise NotUnderstood("Tick the ferns that you raise. Nothing was stored.")
    by_key = {fern.key: fern for fern in starter_ferns()}
    unknown = sorted(wanted - set(by_key))
    if unknown:
        raise NotUnderstood(f"{unknown[0]} is not on the list. Nothing was stored.")
    with transaction.atomic():
        here = names_here()
        return tuple(
            name_fern(
                name=by_key[key].name, facts=_facts_said(by_key[key].facts, language), now=now
            )
            for key in sorted(wanted)
            if key.casefold() not in here
        )


def _facts_said(facts: FernFacts, language: str) -> FernFacts:
    return replace(
        facts,
        common_name=said(facts.common_name, language=language),
        protection=said(facts.protection, language=language),
    )


def _fern(row: dict[str, str]) -> StarterFern:
    facts = FernFacts(
        common_name=row["common_name"],
        spore_kind=row["spore_kind"],
        form=row["form"],
        rest_from_week=_whole(row["rest_from_week"]),
        rest_to_week=_whole(row["rest_to_week"]),
        routes=tuple(row["routes"].split()),
        sow_by_days=_whole(row["sow_by_days"]),
        protection=row["protection"],
    )
    told = (
        ("name", "memory"),
        ("spores", row["spore_kind_from"]),
        ("rest", row["rest_from"]),
        ("routes", row["routes_from"]),
        ("sow_by", row["sow_by_from"]),
        ("protection", row["protection_from"]),
    )
    parts = ("genus", "species", "infra_rank", "infra_epithet", "group", "cultivar")
    return StarterFern(
        name=botanical_name(**{part: row[part] for part in parts}),
        facts=facts,
        known_as=tuple(name.strip() for name in row["known_as"].split(";") if name.strip()),
        sources=tuple((fact, source) for fact, source in told if source),
    )


def _whole(text: str) -> int | None:
    return int(text) if text else None
