"""What is known of every code, from what is stored and from the files at hand?"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db.models import Model

from batches.core.stages import ROUTES, Route
from batches.models import CodeEntry
from batches.services.records_io.columns import (
    BATCHES,
    BENCHES,
    HOUSES,
    NOUNS,
    SPORE_LOTS,
    TRAYS,
)
from batches.services.records_io.faults import Faults, Suggestions, shown
from batches.services.records_io.kinds import RecordsFile


class LotFact(NamedTuple):
    """What others ask of a lot; None where a faulty row does not say."""

    taxon: str | None
    source: str | None
    collected_on: date | None


class BenchFact(NamedTuple):
    """What others ask of a bench; None where its size is not known."""

    rows: int | None
    columns: int | None
    name: str | None


class HouseFact(NamedTuple):
    """What others ask of a house."""

    name: str | None


class BatchFact(NamedTuple):
    """What others ask of a batch; None where a faulty row does not say."""

    taxon: str | None
    route: str | None
    started_on: date | None


class TrayFact(NamedTuple):
    """What others ask of a tray; None where a faulty row does not say."""

    batch: str | None
    start_stage: str | None
    started_on: date | None


#: file → which columns make its fact, in the fact's order; other nouns are known by code alone
_FACTS: dict[str, tuple[type[Any], tuple[str, ...]]] = {
    SPORE_LOTS.name: (LotFact, ("taxon", "source", "collected_on")),
    BENCHES.name: (BenchFact, ("rows", "columns", "name")),
    BATCHES.name: (BatchFact, ("taxon", "route", "started_on")),
    TRAYS.name: (TrayFact, ("batch", "start_stage", "started_on")),
    HOUSES.name: (HouseFact, ("name",)),
}
_STAGES_OF = {str(route): frozenset(str(stage) for stage in ROUTES[route]) for route in Route}


@dataclass(slots=True, kw_only=True)
class World:
    """All codes with their facts; ``stored`` from the database, ``facts`` with the files' rows.

    ``registered`` is the register: code → kind, of things that are gone or not filled yet, too.
    """

    registered: dict[str, str] = field(default_factory=dict)
    stored: dict[str, dict[str, Any]] = field(default_factory=dict)
    facts: dict[str, dict[str, Any]] = field(default_factory=dict)
    suggestions: Suggestions = field(default_factory=Suggestions)

    def add(self, file: RecordsFile, row: Any) -> None:
        """Make a new row known; its cells may be faulty, its code is not."""
        self.facts[file.name].setdefault(row.code, fact_of(file, row))

    def tray(self, code: str | None) -> TrayFact | None:
        """Return the fact of a tray; None where nothing carries the code."""
        found: TrayFact | None = self.facts[TRAYS.name].get(code or "")
        return found

    def batch(self, code: str | None) -> BatchFact | None:
        """Return the fact of a batch; None where nothing carries the code."""
        found: BatchFact | None = self.facts[BATCHES.name].get(code or "")
        return found

    def stages_of_tray(self, code: str | None) -> frozenset[str]:
        """Return the stages of the tray's route; empty where the route is not known."""
        tray = self.tray(code)
        batch = self.batch(tray.batch) if tray is not None else None
        return _STAGES_OF.get(batch.route or "", frozenset()) if batch is not None else frozenset()

    def unknown(self, code: str, file: RecordsFile) -> str:
        """Return the words for a code that no row of the file and nothing stored carries."""
        for other in NOUNS:
            if code in self.facts[other.name]:
                return f"{shown(code)} is the code of a {other.noun}, not of a {file.noun}."
        hint = self.suggestions.like(code, self.facts[file.name])
        return (
            f"no {file.noun} has the code {shown(code)}, neither in {file.file_name} nor in what "
            f"is stored.{hint}"
        )


def fact_of(file: RecordsFile, row: Any) -> Any:
    """Return what others ask of a row with the file's columns as attributes."""
    if file.name not in _FACTS:
        return True
    kind, columns = _FACTS[file.name]
    return kind(*(getattr(row, column) for column in columns))


def load_world() -> World:
    """Return what is stored; one query a kind of thing, and one for the register."""
    world = World(registered=dict(CodeEntry.objects.values_list("code", "kind")))
    for file in NOUNS:
        kind, columns = _FACTS.get(file.name, (tuple, ()))
        model: type[Model] = file.model
        paths = [file.by_name[column].path for column in columns]
        found: dict[str, Any] = {}
        for code, *values in model._default_manager.values_list("code", *paths).order_by():
            found[code] = kind(*values) if values else True
            world.registered.setdefault(code, file.code_kind)
        world.stored[file.name] = found
        world.facts[file.name] = dict(found)
    return world


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """The nursery's own day, and the latest moment that is not in the future."""

    today: date
    latest: datetime


@dataclass(slots=True, kw_only=True)
class Fresh:
    """What an import would store: new rows by file name, and what follows from them.

    ``already`` counts rows that are stored, or stand twice in their file. ``parentage`` holds
    (parent, child) codes; ``touched`` codes of stored trays that get rows; ``doubtful`` trays whose
    rows have faults, so that their stock book cannot be judged.
    """

    rows: dict[str, list[Any]] = field(default_factory=dict)
    already: dict[str, int] = field(default_factory=dict)
    parentage: set[tuple[str, str]] = field(default_factory=set)
    touched: set[str] = field(default_factory=set)
    doubtful: set[str] = field(default_factory=set)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What a check of new rows works with; it adds what it finds to the faults."""

    world: World
    fresh: Fresh
    faults: Faults
    bounds: Bounds

    def of(self, file: RecordsFile) -> list[Any]:
        """Return the new rows of a file of which every cell could be read."""
        return [row for row in self.fresh.rows.get(file.name, ()) if row.sound]

    def fault(self, file: RecordsFile, row: Any, column: str, message: str) -> None:
        """Note a fault of a row."""
        self.faults.add(file, row.line, column, message)

    def both_or_none(self, file: RecordsFile, row: Any, one: str, other: str) -> bool:
        """Tell whether two columns stand together or not at all; a fault names the empty one."""
        given = [column for column in (one, other) if getattr(row, column) not in {None, ""}]
        if len(given) != 1:
            return True
        empty = other if given == [one] else one
        self.fault(
            file, row, empty,
            f"the cell is empty, but {given[0]} is given: give both, or neither.",
        )  # fmt: skip
        return False
