"""How is a fern's name set right: in text, in HTML and on a label?

Rules after the International Code of Nomenclature (Shenzhen 2018) and the International Code of
Nomenclature for Cultivated Plants (9th edition, 2016): genus and epithets italic, rank terms and
the multiplication sign roman, Group in round brackets without quotes before a cultivar, cultivar
in single quotes and never italic, no space between the sign and the epithet it marks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import escape

from batches.core.errors import NurseryError

TIMES = "\N{MULTIPLICATION SIGN}"
RANKS = ("subsp.", "var.", "f.")
_RANK_SPELLINGS = {
    "subsp": "subsp.", "ssp": "subsp.", "subspecies": "subsp.",
    "var": "var.", "variety": "var.", "varietas": "var.",
    "f": "f.", "fo": "f.", "forma": "f.", "form": "f.",
}  # fmt: skip
_QUOTES = "'\"`\u2018\u2019\u201c\u201d"
_LEADING_TIMES = re.compile(rf"^(?:[xX]\s+|{TIMES}\s*)")
_FORMULA_TIMES = re.compile(rf"\s+(?:[xX]|{TIMES})\s+")
_CV = re.compile(r"^cv\.?\s+", re.IGNORECASE)


class BadName(NurseryError):
    """The parts do not make a name."""


@dataclass(frozen=True, slots=True)
class Run:
    """A piece of a name that is set in one way."""

    text: str
    italic: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BotanicalName:
    """A name in parts; build it with `botanical_name`, which tidies and checks.

    ``hybrid`` is empty, ``species`` (the epithet names a hybrid) or ``genus``. ``species`` may
    hold a hybrid formula, ``affinis × filix-mas``.
    """

    genus: str
    species: str = ""
    infra_rank: str = ""
    infra_epithet: str = ""
    group: str = ""
    cultivar: str = ""
    hybrid: str = ""

    @property
    def runs(self) -> tuple[Run, ...]:
        """The name as runs of roman and italic text, spaces included."""
        words: list[tuple[Run, ...]] = []
        if self.hybrid == "genus":
            words.append((Run(TIMES, italic=False), Run(self.genus, italic=True)))
        else:
            words.append((Run(self.genus, italic=True),))
        if self.species:
            words.extend(_epithet_words(self.species, hybrid=self.hybrid == "species"))
        if self.infra_epithet:
            words.append((Run(self.infra_rank, italic=False),))
            words.append((Run(self.infra_epithet, italic=True),))
        if self.group:
            bracketed = f"({self.group})" if self.cultivar else self.group
            words.append((Run(bracketed, italic=False),))
        if self.cultivar:
            words.append((Run(f"'{self.cultivar}'", italic=False),))
        runs: list[Run] = []
        for place, word in enumerate(words):
            if place:
                runs.append(Run(" ", italic=runs[-1].italic and word[0].italic))
            runs.extend(word)
        return _joined(runs)

    @property
    def text(self) -> str:
        """The name in plain text with the true signs, cultivar in straight single quotes."""
        return "".join(run.text for run in self.runs)

    @property
    def html(self) -> str:
        """The name as safe HTML: `<i>` for italic runs, typographic quotes round a cultivar."""
        return runs_as_html(self.runs)


def _epithet_words(species: str, *, hybrid: bool) -> list[tuple[Run, ...]]:
    parts = _FORMULA_TIMES.split(species)
    if len(parts) > 1:
        words: list[tuple[Run, ...]] = []
        for place, part in enumerate(parts):
            if place:
                words.append((Run(TIMES, italic=False),))
            words.append((Run(part, italic=True),))
        return words
    if hybrid:
        return [(Run(TIMES, italic=False), Run(species, italic=True))]
    return [(Run(species, italic=True),)]


def _joined(runs: list[Run]) -> tuple[Run, ...]:
    joined: list[Run] = []
    for run in runs:
        last = joined[-1] if joined else None
        if last is not None and (last.italic == run.italic):
            joined[-1] = Run(last.text + run.text, italic=run.italic)
        else:
            joined.append(run)
    return tuple(joined)


def runs_as_html(runs: tuple[Run, ...]) -> str:
    """Return runs as safe HTML with typographic single quotes."""
    pieces = []
    for run in runs:
        text = escape(_curled(run.text), quote=False)
        pieces.append(f"<i>{text}</i>" if run.italic else text)
    return "".join(pieces)


def _curled(text: str) -> str:
    """Turn the straight quotes round a cultivar into typographic ones."""
    return re.sub(
        r"'([^']*(?:'[^' ][^']*)*)'",
        "\N{LEFT SINGLE QUOTATION MARK}\\1\N{RIGHT SINGLE QUOTATION MARK}",
        text,
    )


def botanical_name(
    *,
    genus: str,
    species: str = "",
    infra_rank: str = "",
    infra_epithet: str = "",
    group: str = "",
    cultivar: str = "",
    hybrid: str = "",
) -> BotanicalName:
    """Return the name from typed parts: signs, ranks, quotes and capitals put right.

    Raises
    ------
    BadName
        When the genus is missing, a rank is unknown or stands without its epithet, or ``hybrid``
        is none of empty, ``species``, ``genus``.
    """
    genus, genus_is_hybrid = _without_times(_spaced(genus))
    species, species_is_hybrid = _without_times(_spaced(species))
    if not genus:
        raise BadName("A fern needs at least its genus.", field="genus")
    if hybrid not in {"", "species", "genus"}:
        raise BadName("Hybrid is empty, “species” or “genus”.", field="hybrid")
    rank = tidy_rank(infra_rank)
    epithet = _spaced(infra_epithet).lower()
    if bool(rank) != bool(epithet):
        raise BadName("A rank and its epithet stand together or not at all.", field="infra_epithet")
    return BotanicalName(
        genus=genus[:1].upper() + genus[1:].lower(),
        species=_FORMULA_TIMES.sub(f" {TIMES} ", species) if species else "",
        infra_rank=rank,
        infra_epithet=epithet,
        group=tidy_group(group),
        cultivar=tidy_cultivar(cultivar),
        hybrid=hybrid or ("genus" if genus_is_hybrid else "species" if species_is_hybrid else ""),
    )


def tidy_rank(rank: str) -> str:
    """Return the rank as the codes write it; empty stays empty."""
    trimmed = _spaced(rank)
    if not trimmed:
        return ""
    try:
        return _RANK_SPELLINGS[trimmed.rstrip(".").lower()]
    except KeyError:
        raise BadName(
            f"“{trimmed}” is no rank below species: subsp., var. or f.", field="infra_rank"
        ) from None


def tidy_cultivar(cultivar: str) -> str:
    """Return a cultivar epithet without quotes and without “cv.”."""
    trimmed = _CV.sub("", _spaced(cultivar))
    if trimmed[:1] in _QUOTES and trimmed:
        trimmed = trimmed[1:]
    if trimmed and trimmed[-1:] in _QUOTES:
        trimmed = trimmed[:-1]
    return trimmed.strip()


def tidy_group(group: str) -> str:
    """Return a Group name without brackets, ending in the word Group."""
    trimmed = _spaced(group).strip("()").strip()
    if not trimmed:
        return ""
    stem = re.sub(r"\s*\b(?:group|gp\.?)$", "", trimmed, flags=re.IGNORECASE)
    return f"{stem} Group" if stem else ""


def fern_code(name: BotanicalName, *, taken: frozenset[str] = frozenset()) -> str:
    """Return the short code of a fern: three letters of genus and species, then of the cultivar.

    ``OSMREG``, ``DRYAFF-CRI``. When it is taken already, the tail is counted up (``DRYAFF-CRI2``)
    until it is free.
    """
    stem = (_letters(name.genus, 3) + _letters(name.species or "spp", 3)).ljust(6, "X")
    tail = name.cultivar or name.infra_epithet or name.group
    code = f"{stem}-{_letters(tail, 3)}" if tail else stem
    if code not in taken:
        return code
    joiner = "" if tail else "-"
    number = 2
    while f"{code}{joiner}{number}" in taken:
        number += 1
    return f"{code}{joiner}{number}"


def _letters(text: str, count: int) -> str:
    return re.sub(r"[^A-Za-z]", "", text)[:count].upper()


def _spaced(text: str) -> str:
    return " ".join(text.split())


def _without_times(text: str) -> tuple[str, bool]:
    stripped = _LEADING_TIMES.sub("", text)
    return stripped, stripped != text
