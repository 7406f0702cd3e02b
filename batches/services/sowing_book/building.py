"""What do the rows of an old sowing book say in the columns of the records format?

A row is a sowing. Of one tray, the tray keeps the code that stands on its label and the batch gets
the same with a B behind it; of several, the batch keeps the code and the trays are numbered.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from batches.core.names import BotanicalName, fern_code
from batches.core.signs import CAUSE_WORDS
from batches.models import Bench, CodeEntry, Taxon
from batches.services.ferns import FernFacts
from batches.services.language import LANGUAGES, catalogue_of
from batches.services.records_io.cells import BadCell
from batches.services.records_io.columns import FILES
from batches.services.records_io.faults import RowError, shown
from batches.services.records_io.guarding import guarded
from batches.services.sowing_book.days import book_day
from batches.services.sowing_book.ferns import HERE, LEFT_OUT, LISTED, NEW, name_in
from batches.services.sowing_book.matching import FIELD_NAMED, Matching
from batches.services.sowing_book.reading import Book, BookRow
from batches.services.starter_ferns import starter_ferns

#: trays of one sowing
MOST_TRAYS = 500
#: the house that benches of the book stand in which are not drawn yet
NEW_HOUSE = "BOOK"
_NOT_CODE = re.compile(r"[^A-Za-z0-9._-]+")
_MENDED = {
    ("trays.csv", "code"): "code", ("batches.csv", "code"): "code",
    ("batches.csv", "taxon"): "fern", ("batches.csv", "started_on"): "sown_on",
    ("trays.csv", "started_on"): "sown_on", ("trays.csv", "bench"): "bench",
    ("benches.csv", "code"): "bench", ("trays.csv", "quantity"): "alive",
    ("trays.csv", "container"): "container", ("trays.csv", "ended_on"): "ended_on",
    ("batches.csv", "notes"): "note",
}  # fmt: skip

Row = dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What was said of the whole book: ``end`` is `cleared` or `discarded`."""

    day_first: bool = False
    end: str = "cleared"
    ferns: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """Files of the records format, where their rows come from, and what could not be read."""

    files: tuple[tuple[str, bytes], ...]
    faults: tuple[RowError, ...]
    left_out: int
    _lines: Mapping[tuple[str, int], int]
    _headers: Mapping[str, str]

    def in_book(self, error: RowError, *, book: str) -> RowError:
        """Return a fault of the files as a fault of the book: its line, its column."""
        line = self._lines.get((error.file, error.line), error.line)
        name = _MENDED.get((error.file, error.column), error.column)
        return replace(error, file=book, line=line, column=self._headers.get(name, name))


def build_records(*, book: Book, name: str, matching: Matching, choices: Choices) -> Built:
    """Write the book as files of the records format; faults name its own lines and columns."""
    return _Builder(book, name, matching, choices).built()


class _Builder:
    """The rows of each file as they come together; ferns and benches once each."""

    def __init__(self, book: Book, name: str, matching: Matching, choices: Choices) -> None:
        self.book, self.name, self.matching, self.choices = book, name, matching, choices
        self.rows: dict[str, list[Row]] = {}
        self.lines: dict[tuple[str, int], int] = {}
        self.faults: list[RowError] = []
        self.left_out = 0
        self.taken = {code.upper() for code in CodeEntry.objects.values_list("code", flat=True)}
        self.ferns: dict[str, str] = {}
        self.benches = _benches_here()
        self.here = {taxon.name.text.casefold(): taxon.code for taxon in Taxon.objects.all()}

    def built(self) -> Built:
        for row in self.book.rows:
            self._sowing(row)
        headers = {name: self.book.headers[place] for place, name in self.matching.items()}
        return Built(
            files=tuple(
                (file.file_name, _as_csv(self.rows[file.file_name]))
                for file in FILES
                if file.file_name in self.rows
            ),
            faults=tuple(self.faults),
            left_out=self.left_out,
            _lines=self.lines,
            _headers=headers,
        )

    def _add(self, file: str, line: int, **cells: object) -> None:
        rows = self.rows.setdefault(file, [])
        rows.append({name: str(cell) for name, cell in cells.items()})
        self.lines[file, len(rows) + 1] = line

    def _fault(self, line: int, name: str, message: str) -> None:
        column = next(
            (self.book.headers[at] for at, one in self.matching.items() if one == name),
            FIELD_NAMED[name].word,
        )
        self.faults.append(RowError(file=self.name, line=line, column=column, message=message))

    def _sowing(self, row: BookRow) -> None:
        said = self._said(row)
        taxon = self._fern(row.line, said["fern"])
        if taxon is None:
            return
        sown = self._day(row.line, "sown_on", said)
        if sown is None:
            if not said["sown_on"]:
                self._fault(row.line, "sown_on", "the cell is empty: a sowing has its day.")
            return
        trays = self._whole(row.line, "trays", said, least=1, most=MOST_TRAYS) or 1
        code, note = self._code(row.line, said)
        batch = f"{code}-B" if trays == 1 else code
        self._add(
            "batches.csv", row.line, code=batch, taxon=taxon, route="spore",
            started_on=sown, notes=guarded("; ".join(filter(None, (said["note"], note)))),
        )  # fmt: skip
        ended = self._day(row.line, "ended_on", said)
        end, cause = self._end(said) if ended else ("", "")
        alive = self._whole(row.line, "alive", said, least=0, most=100_000)
        bench = self._bench(row.line, said["bench"])
        for number in range(1, trays + 1):
            tray = code if trays == 1 else f"{code}-{number}"
            self._add(
                "trays.csv", row.line, code=tray, batch=batch,
                container=guarded(said["container"] or "covered tray"), started_on=sown,
                start_stage="sown", quantity="" if alive is None or ended else alive, bench=bench,
                ended_on=ended or "", end=end, end_cause=cause,
            )  # fmt: skip
            for name, stage in (("green_on", "gametophyte"), ("frond_on", "first_frond")):
                seen = self._day(row.line, name, said, again=number > 1)
                if seen is not None:
                    self._add(
                        "transitions.csv", row.line, id="", tray=tray, to_stage=stage, seen_on=seen
                    )

    def _said(self, row: BookRow) -> dict[str, str]:
        said = dict.fromkeys(FIELD_NAMED, "")
        for place, name in sorted(self.matching.items()):
            said[name] = "; ".join(filter(None, (said[name], row.cells[place])))
        return said

    def _day(self, line: int, name: str, said: Row, *, again: bool = False) -> date | None:
        if not said[name]:
            return None
        try:
            return book_day(said[name], day_first=self.choices.day_first)
        except BadCell as error:
            if not again:
                self._fault(line, name, str(error))
            return None

    def _whole(self, line: int, name: str, said: Row, *, least: int, most: int) -> int | None:
        text = said[name]
        if not text:
            return None
        if text.isascii() and text.isdigit() and least <= int(text) <= most:
            return int(text)
        self._fault(line, name, f"{shown(text)} is not a whole number from {least} to {most:,}.")
        return None

    def _code(self, line: int, said: Row) -> tuple[str, str]:
        """Return the code, set right where signs stand in it, and a note of how it stood."""
        written = said["code"]
        code = _NOT_CODE.sub("-", written).strip("-._")[:28].strip("-._") or f"BOOK-{line}"
        return code, f"code in the old book: {written}" if written not in ("", code) else ""

    def _end(self, said: Row) -> tuple[str, str]:
        why = said["why"].casefold()
        cause = next(
            (
                cause
                for cause, word in CAUSE_WORDS.items()
                for language in LANGUAGES
                if catalogue_of(language).get(word, word).casefold() == why
            ),
            "",
        )
        if cause or self.choices.end == "discarded":
            return "discarded", cause or "unknown"
        return "cleared", ""

    def _bench(self, line: int, words: str) -> str:
        """Return the code of a bench, drawn without places where it is not here yet."""
        if not words:
            return ""
        key = words.casefold()
        if key not in self.benches:
            if "houses.csv" not in self.rows:
                self._add("houses.csv", line, code=NEW_HOUSE, name="From the old sowing book")
            code = self._free(_NOT_CODE.sub("-", words).strip("-._")[:24] or "BENCH")
            self._add("benches.csv", line, code=code, house=NEW_HOUSE, name=guarded(words[:80]))
            self.benches[key] = code
        return self.benches[key]

    def _fern(self, line: int, words: str) -> str | None:
        """Return the code of the fern; None where its rows are left out, or none is named."""
        if not words:
            self._fault(line, "fern", "the cell is empty: a sowing is of one fern.")
            return None
        answer, _, what = self.choices.ferns.get(words, "").partition(":")
        if answer == LEFT_OUT:
            self.left_out += 1
            return None
        if answer == HERE:
            return what
        if words not in self.ferns:
            found = self._new_fern(line, words, answer, what)
            if found is None:
                return None
            self.ferns[words] = found
        return self.ferns[words]

    def _new_fern(self, line: int, words: str, answer: str, what: str) -> str | None:
        if answer == LISTED:
            listed = next((fern for fern in starter_ferns() if fern.key == what), None)
            if listed is not None:
                return self._taxon(line, listed.name, listed.facts)
        name = name_in(words) if answer == NEW else None
        if name is not None:
            return self._taxon(line, name, FernFacts(spore_kind="not_green"))
        self._fault(line, "fern", f"{shown(words)}: say which fern it is, or leave its rows out.")
        return None

    def _taxon(self, line: int, name: BotanicalName, facts: FernFacts) -> str:
        key = name.text.casefold()
        if key not in self.here:
            self.here[key] = self._free(fern_code(name, taken=frozenset(self.taken)))
            parts = ("genus", "species", "infra_rank", "infra_epithet", "group", "cultivar")
            self._add(
                "taxa.csv", line, code=self.here[key], hybrid=name.hybrid,
                **{part: guarded(getattr(name, part)) for part in parts},
                common_name=facts.common_name, spore_kind=facts.spore_kind, form=facts.form,
                rest_from_week=facts.rest_from_week or "", rest_to_week=facts.rest_to_week or "",
                routes=" ".join(facts.routes), protection=facts.protection,
            )  # fmt: skip
        return self.here[key]

    def _free(self, code: str) -> str:
        number, free = 2, code
        while free.upper() in self.taken:
            free, number = f"{code}-{number}", number + 1
        self.taken.add(free.upper())
        return free


def _benches_here() -> dict[str, str]:
    known: dict[str, str] = {}
    for bench in Bench.objects.all():
        known.setdefault(bench.name.casefold() or bench.code.casefold(), bench.code)
    for bench in Bench.objects.all():
        known[bench.code.casefold()] = bench.code
    return known


def _as_csv(rows: list[Row]) -> bytes:
    written = io.StringIO(newline="")
    writer = csv.DictWriter(written, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return written.getvalue().encode("utf-8")
