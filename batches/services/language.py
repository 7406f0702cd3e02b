"""In which languages can the pages be read, and how is an English sentence said in another?

Texts are written in English where they arise and turned where they are shown. A catalogue
(locale/<language>/*.po, a file for each group of pages) holds whole texts, and sentences with
places for what differs: “late {days} days”. Core and services know nothing of it.
"""

from __future__ import annotations

import re
import secrets
from collections import Counter
from functools import cache
from operator import itemgetter
from pathlib import Path

from batches.core.catalogues import compiled, read_catalogue

#: language → its own name; the first is the one in which texts are written
LANGUAGES = {"en-gb": "English", "de": "Deutsch"}
#: language → what it writes for the English marks of thousands and of decimals (the process that
#: prints labels says texts, too, and knows no Django)
_NUMBER_MARKS = {"de": str.maketrans({",": ".", ".": ","})}
CATALOGUES = Path(__file__).parent.parent / "locale"
_PLACE = re.compile(r"\\\{(\w+)\\\}")
_BRACES = re.compile(r"\{\w+\}")
_WORD = re.compile(r"\w+")
#: where one sentence ends and the next begins; not within a day: “24. Nov.”
_SENTENCE_END = re.compile(r"(?<=[^\d][.!?]) (?=[A-Z“])")
#: a day as texts write it: “Tue 24 Nov 2026 (wk 48)”, “24 Nov”, “Nov 2026”, “24 Nov 2026, 09:12”
_DAY = re.compile(
    r"(?:(Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?(?:(\d{1,2}) )?"
    r"(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
    r"(?: (\d{4}))?(?: \(wk (\d{1,2})\))?(,? \d\d:\d\d)?"
)
#: places that hold a name of the nursery's own, or words that somebody wrote
_AS_IS = frozenset({"who", "house", "name", "product", "why", "bench", "fern"})
#: places that hold a number, and nothing else
_NUMBERS = frozenset("nmkj")
#: places that hold a day, in the words of any language, or a dash where there is none
_DAYS = frozenset({"day", "last"})
#: a place that begins so holds a code, and nothing but one
_CODE = "code"
#: a place that begins so holds a number as code writes it, “5,200.5”; it gets the language's marks
_WRITTEN = "number"
#: a place that begins so holds no end of a sentence
_CLAUSE = "clause"
#: so many sentences may stand one within another
_DEEPEST = 6


@cache
def catalogue_of(language: str) -> dict[str, str]:
    """Return the catalogue of a language; an empty one for that of the texts, or an unknown one."""
    if language not in LANGUAGES:
        return {}
    files = sorted((CATALOGUES / language).glob("*.po"))
    return read_catalogue("\n\n".join(file.read_text(encoding="utf-8") for file in files))


def said(text: str, *, language: str, depth: int = 0) -> str:
    """Return a text as the language says it; as it is where the catalogue does not hold it.

    What stands in a place of a sentence is said, too: a word of the catalogue, or a sentence.
    """
    if not text or depth > _DEEPEST:
        return text
    catalogue = catalogue_of(language)
    if not catalogue:
        return text
    if text in catalogue:
        return catalogue[text]
    small = text[0].lower() + text[1:]
    if small in catalogue:
        return catalogue[small][0].upper() + catalogue[small][1:]
    day = _DAY.fullmatch(text)
    if day is not None:
        return _day_said(day, catalogue)
    for pattern, words in _that_may_fit(text, language=language):
        match = pattern.fullmatch(text)
        if match is not None:
            places = {
                name: _place_said(name, value, language=language, depth=depth)
                for name, value in match.groupdict(default="").items()
            }
            found = words.format(**places)
            joins_only = not _WORD.search(_BRACES.sub("", words))
            if found != text and not (joins_only and _half(match.groupdict(""), places)):
                return found
    return _one_by_one(text, language=language, depth=depth)


def _one_by_one(text: str, *, language: str, depth: int) -> str:
    """Return several sentences, each said; as they are where one of them is not known."""
    for end in reversed(list(_SENTENCE_END.finditer(text))):
        parts = text[: end.start()], text[end.end() :]
        words = [said(part, language=language, depth=depth + 1) for part in parts]
        if all(word != part for word, part in zip(words, parts, strict=True)):
            return " ".join(words)
    return text


def _half(before: dict[str, str], after: dict[str, str]) -> bool:
    """Tell whether what a sentence of places alone would join stays English in part.

    A name or a code, which may stay as it is, does not begin with a small letter.
    """
    return any(before[name] == words and words[:1].islower() for name, words in after.items())


def _place_said(name: str, value: str, *, language: str, depth: int) -> str:
    """Return what stands in a place: a name as it is, a number with the language's marks."""
    if name in _AS_IS:
        return value
    if name.startswith(_WRITTEN):
        return value.translate(_NUMBER_MARKS.get(language, {}))
    return said(value, language=language, depth=depth + 1)


def _day_said(day: re.Match[str], catalogue: dict[str, str]) -> str:
    """Return a day as the language writes it: “Di 24. Nov. 2026 (KW 48), 09:12”."""
    weekday, number, month, year, week, hour = day.groups()
    words = catalogue[month]
    if number:
        words = catalogue["%(day)s %(month)s"] % {"day": number, "month": words}
    words = f"{catalogue[weekday]} {words}" if weekday else words
    words += f" {year}" if year else ""
    words += f" ({catalogue['wk']} {week})" if week else ""
    return words + (hour or "")


def _that_may_fit(text: str, *, language: str) -> list[tuple[re.Pattern[str], str]]:
    """Return the sentences whose rarest word the text holds, most fixed letters first.

    Trying all of a catalogue's sentences would cost a page as much as all else on it.
    """
    by_word = sentences_of(language)
    found = list(by_word.get("", ()))
    for word in set(_WORD.findall(text)):
        found += by_word.get(word, ())
    return [(pattern, words) for _, pattern, words in sorted(found, key=itemgetter(0))]


@cache
def sentences_of(language: str) -> dict[str, list[tuple[int, re.Pattern[str], str]]]:
    """Return the sentences with places by the rarest of their words; "" for those without one.

    Each has its rank: those with the most fixed letters are tried first.
    """
    found = [
        (english, words)
        for english, words in catalogue_of(language).items()
        if "{" in english and "\x00" not in english and "%(" not in english
    ]
    found.sort(key=lambda pair: -len(_BRACES.sub("", pair[0])))
    often = Counter(word for english, _ in found for word in _whole_words(english))
    by_word: dict[str, list[tuple[int, re.Pattern[str], str]]] = {}
    for rank, (english, words) in enumerate(found):
        rarest = min(_whole_words(english), key=lambda word: (often[word], word), default="")
        by_word.setdefault(rarest, []).append((rank, _pattern(english), words))
    return by_word


def _whole_words(english: str) -> set[str]:
    """Return the words of a sentence that no place can lengthen, so that each text has them."""
    marked = _BRACES.sub("\x01", english)
    return {
        match[0]
        for match in _WORD.finditer(marked)
        if "\x01" not in marked[max(0, match.start() - 1) : match.end() + 1]
    }


def _pattern(english: str) -> re.Pattern[str]:
    seen: set[str] = set()

    def place(match: re.Match[str]) -> str:
        name = match[1]
        again = name in seen
        seen.add(name)
        number = name in _NUMBERS or name.startswith(_WRITTEN)
        holds = r"[-+]?[\d.,]+(?:e[-+]?\d+)?" if number else ".+?"
        holds = r"(?:–|(?:[A-Z]\w{1,9}\.? ){0,2}\d[^!?]{0,40}?)" if name in _DAYS else holds
        holds = r"[\w.-]+" if name.startswith(_CODE) else holds
        holds = r"[^.!?]+?" if name.startswith(_CLAUSE) else holds
        return f"(?P={name})" if again else f"(?P<{name}>{holds})"

    return re.compile(_PLACE.sub(place, re.escape(english)), re.DOTALL)


def compile_catalogues(folder: Path) -> Path:
    """Write what gettext reads into a folder, where a catalogue is newer; return the folder.

    A machine needs no gettext for it. Two programs that start at once write the same.
    """
    for language in sorted({file.parent.name for file in CATALOGUES.glob("*/*.po")}):
        made = folder / language / "LC_MESSAGES" / "django.mo"
        written = max(file.stat().st_mtime for file in (CATALOGUES / language).glob("*.po"))
        if made.exists() and made.stat().st_mtime >= written:
            continue
        made.parent.mkdir(parents=True, exist_ok=True)
        draft = made.with_name(f".{secrets.token_hex(8)}")
        draft.write_bytes(compiled(catalogue_of(language)))
        draft.replace(made)
    return folder
