"""Which column of an old sowing book is what?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from batches.core.errors import NotUnderstood
from batches.services.sowing_book.reading import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class BookField:
    """Something a column may be.

    ``hints`` are headers, case folded, that tell it, in English and in German.
    """

    name: str
    word: str
    about: str
    hints: tuple[str, ...]
    required: bool = False


FIELDS = (
    BookField(
        name="code", word="code", about="what stands on the label",
        hints=("code", "number", "no", "no.", "nr", "nr.", "label", "tray", "tray no", "batch",
               "sowing", "sowing no", "id", "ref",
               "nummer", "etikett", "satz", "aussaatnummer", "aussaat nr."),
    ),
    BookField(
        name="fern", word="fern", about="its name, botanical or common", required=True,
        hints=("fern", "species", "name", "taxon", "plant", "botanical name", "variety", "what",
               "farn", "art", "sorte"),
    ),
    BookField(
        name="sown_on", word="sown on", about="a day", required=True,
        hints=("sown", "sown on", "date", "date sown", "sowing date", "started", "day",
               "gesät", "gesät am", "ausgesät", "aussaat", "datum", "tag"),
    ),
    BookField(
        name="bench", word="where it stands", about="a bench, by its code or name",
        hints=("where", "bench", "place", "location", "stands", "position",
               "tisch", "platz", "standort", "wo"),
    ),
    BookField(
        name="trays", word="how many trays", about="empty is one",
        hints=("trays", "how many", "no of trays", "number of trays", "pans",
               "schalen", "wie viele", "anzahl"),
    ),
    BookField(
        name="alive", word="plants alive now", about="counted, in one tray",
        hints=("alive", "plants", "count", "quantity", "left", "now",
               "lebend", "pflanzen", "bestand"),
    ),
    BookField(
        name="container", word="container", about="like covered tray",
        hints=("container", "pan", "pot", "tray size",
               "gefäss", "topf", "schale"),
    ),
    BookField(
        name="green_on", word="first green seen on", about="a day",
        hints=("first green", "germinated", "green", "came up", "germination", "up",
               "erstes grün", "gekeimt", "keimung"),
    ),
    BookField(
        name="frond_on", word="first frond seen on", about="a day",
        hints=("first frond", "fronds", "sporophytes", "first fronds",
               "erster wedel", "wedel"),
    ),
    BookField(
        name="ended_on", word="ended on", about="a day; empty where it still stands",
        hints=("ended", "ended on", "end", "finished", "closed", "thrown out",
               "beendet", "ende"),
    ),
    BookField(
        name="why", word="why it ended", about="in words",
        hints=("why", "reason", "cause", "outcome", "result",
               "grund", "ursache", "warum"),
    ),
    BookField(
        name="note", word="note", about="goes into the batch's notes",
        hints=("note", "notes", "remarks", "comment", "comments",
               "notiz", "bemerkung", "anmerkung"),
    ),
)  # fmt: skip
FIELD_NAMED = {field.name: field for field in FIELDS}
#: fields that several columns may be: their words stand one after another
_MANY = {"note"}

#: place of a column → the name of its field
Matching = dict[int, str]


def guessed(book: Book) -> Matching:
    """Return what the headers tell, each field at most once; columns not told are left out."""
    found: Matching = {}
    for exact in (True, False):
        for place, header in enumerate(book.headers):
            words = header.casefold().strip(" :?")
            for field in FIELDS:
                taken = field.name in found.values()
                fits = words in field.hints or (
                    not exact and any(hint in words for hint in field.hints if len(hint) > 3)
                )
                if fits and not taken and place not in found:
                    found[place] = field.name
    return found


def matched(chosen: Mapping[int, str], *, book: Book) -> Matching:
    """Return a matching that can be used.

    Raises
    ------
    NotUnderstood
        When a field is unknown or stands at two columns, or one that is needed at none.
    """
    kept = {place: name for place, name in chosen.items() if name}
    for place, name in kept.items():
        if name not in FIELD_NAMED or not 0 <= place < len(book.headers):
            raise NotUnderstood("A column was matched with something unknown. Choose anew.")
    for field in FIELDS:
        places = [place for place, name in kept.items() if name == field.name]
        if len(places) > 1 and field.name not in _MANY:
            names = ", ".join(f"“{book.headers[place]}”" for place in places)
            raise NotUnderstood(f"{names} cannot all be “{field.word}”: keep one of them.")
        if field.required and not places:
            raise NotUnderstood(f"No column is “{field.word}”: say which one it is.")
    return kept
