"""Which ferns does an old sowing book name?"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from difflib import get_close_matches

from batches.core.errors import NurseryError
from batches.core.names import BotanicalName, botanical_name
from batches.models import Taxon
from batches.services.starter_ferns import starter_ferns

#: what a form says for the three ways to answer a name
HERE, LISTED, NEW, LEFT_OUT = "here", "list", "new", "out"
_CULTIVAR = re.compile(r"""['"‘’“”]([^'"‘’“”]+)['"‘’“”]\s*\Z""")
_RANK = re.compile(r"\s(subsp|ssp|var|f)\.?\s+(\S+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedFern:
    """A name of the book, on how many rows; ``answer`` is what it most likely is.

    An answer is ``here:CODE``, ``list:NAME``, ``new``, or empty where nothing is near;
    ``sure`` says that the name is the same, not only spelt alike.
    """

    words: str
    rows: int
    answer: str
    sure: bool
    may_be_new: bool


def ferns_named(cells: list[str]) -> tuple[NamedFern, ...]:
    """Return every different name with its likely answer, those to be settled first."""
    known = _known()
    counted = Counter(cell for cell in cells if cell)
    found = [_answered(words, rows, known) for words, rows in counted.items()]
    return tuple(sorted(found, key=lambda one: (one.sure, one.words.casefold())))


def answers_offered() -> tuple[tuple[str, str], ...]:
    """Return what a name may be: the nursery's ferns, then those of the list that are not here."""
    taxa = list(Taxon.objects.all())
    here = {taxon.name.text.casefold() for taxon in taxa}
    return (
        *((f"{HERE}:{taxon.code}", taxon.name.text) for taxon in taxa),
        *(
            (f"{LISTED}:{fern.key}", f"{fern.key} (from the list)")
            for fern in starter_ferns()
            if fern.key.casefold() not in here
        ),
    )


def name_in(words: str) -> BotanicalName | None:
    """Return the name that words spell: genus, species, rank, cultivar; None where they do not."""
    rest, cultivar = words, ""
    if match := _CULTIVAR.search(rest):
        rest, cultivar = rest[: match.start()].strip(), match[1]
    rank = epithet = ""
    if match := _RANK.search(rest):
        rank, epithet = match[1], match[2]
        rest = rest[: match.start()]
    parts = rest.split()
    if not parts or not all(re.fullmatch(r"[^\W\d_][\w-]*|[x×]", part) for part in parts):
        return None
    try:
        return botanical_name(
            genus=parts[0],
            species=" ".join(parts[1:]),
            infra_rank=rank,
            infra_epithet=epithet,
            cultivar=cultivar,
        )
    except NurseryError:
        return None


def _known() -> dict[str, str]:
    """Return the answer to every known spelling; the nursery's own ferns go before the list."""
    known: dict[str, str] = {}
    for fern in starter_ferns():
        for name in (fern.key, *fern.known_as, fern.facts.common_name):
            known.setdefault(name.casefold(), f"{LISTED}:{fern.key}")
    listed = {fern.key.casefold(): fern for fern in starter_ferns()}
    for taxon in Taxon.objects.all():
        answer = f"{HERE}:{taxon.code}"
        same = listed.get(taxon.name.text.casefold())
        for name in (*(same.known_as if same else ()), taxon.common_name, taxon.name.text):
            if name:
                known[name.casefold()] = answer
        known[taxon.code.casefold()] = answer
    return known


def _answered(words: str, rows: int, known: dict[str, str]) -> NamedFern:
    name = name_in(words)
    spellings = [words.casefold()] + ([name.text.casefold()] if name is not None else [])
    exact = next((known[one] for one in spellings if one in known), "")
    near = "" if exact else next(iter(get_close_matches(spellings[-1], known, n=1, cutoff=0.8)), "")
    return NamedFern(
        words=words,
        rows=rows,
        answer=exact or known.get(near, ""),
        sure=bool(exact),
        may_be_new=name is not None,
    )
