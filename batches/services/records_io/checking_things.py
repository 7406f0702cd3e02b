"""Do the rows of ferns, origins, lots, media, houses, benches, batches and orders make sense?"""

from __future__ import annotations

import re
from typing import Any

from batches.core.names import BadName, botanical_name
from batches.services.records_io.columns import (
    BATCHES,
    BENCHES,
    GERMINATION_TESTS,
    HOUSE_READINGS,
    HOUSES,
    MEDIA_BATCHES,
    SOURCES,
    SPORE_LOTS,
    TAXA,
    TRAYS,
    TREATMENTS,
)
from batches.services.records_io.faults import Faults, shown
from batches.services.records_io.reading import Sheet
from batches.services.records_io.world import BenchFact, Check, LotFact

_NAME_PARTS = (
    "genus", "species", "infra_rank", "infra_epithet", "group", "cultivar", "hybrid",
)  # fmt: skip
_RECIPE = re.compile(r"[^\s:](?:[^:]*[^\s:])?:[0-9]+(?:\.[0-9]+)?(?:\s+(?=[^\s:])|\Z)")


def tidy_names(sheet: Sheet, faults: Faults) -> None:
    """Set the ferns' names right as a form would: signs, ranks, quotes, capitals."""
    for at, row in enumerate(sheet.rows):
        if not row.sound:
            continue
        try:
            name = botanical_name(**{part: getattr(row, part) or "" for part in _NAME_PARTS})
        except BadName as error:
            faults.add(TAXA, row.line, error.field or "genus", error.message)
            sheet.rows[at] = row._replace(sound=False)
            continue
        tidied = {part: getattr(name, part) or None for part in _NAME_PARTS}
        for part, text in tidied.items():
            longest = TAXA.by_name[part].longest
            if text and longest is not None and len(text) > longest:
                faults.add(TAXA, row.line, part, f"{len(text)} characters; at most {longest} fit.")
        sheet.rows[at] = row._replace(**tidied)


def check_things(check: Check) -> None:
    """Check what one row can break by itself or beside the rows that it names."""
    for row in check.of(TAXA):
        check.both_or_none(TAXA, row, "rest_from_week", "rest_to_week")
    for row in check.of(SOURCES):
        check.both_or_none(SOURCES, row, "ripe_from_week", "ripe_to_week")
    for row in check.of(SPORE_LOTS):
        _check_lot(check, row)
    for row in check.of(GERMINATION_TESTS):
        _check_germination(check, row)
    for row in check.of(MEDIA_BATCHES):
        if not _is_recipe(row.recipe):
            check.fault(
                MEDIA_BATCHES, row, "recipe",
                f"{shown(row.recipe)} is not parts by volume: write it like peat:2 perlite:1.",
            )  # fmt: skip
    for row in check.of(BATCHES):
        _check_batch(check, row)
    for row in check.of(HOUSE_READINGS):
        if None not in (row.lowest_c, row.highest_c) and row.lowest_c > row.highest_c:
            check.fault(
                HOUSE_READINGS, row, "lowest_c",
                f"{row.lowest_c:g} is above the highest, {row.highest_c:g}: swap them.",
            )  # fmt: skip
    _check_treatments(check)


def _is_recipe(text: str) -> bool:
    at = 0
    while at < len(text):
        part = _RECIPE.match(text, at)
        if part is None:
            return False
        at = part.end()
    return True


def _check_lot(check: Check, row: Any) -> None:
    for column in ("drying_since", "cleaned_on"):
        day = getattr(row, column)
        if day is not None and day < row.collected_on:
            check.fault(
                SPORE_LOTS, row, column,
                f"{day} is before the day of collection, {row.collected_on}.",
            )  # fmt: skip


def _check_germination(check: Check, row: Any) -> None:
    if row.counted_on < row.sown_on:
        check.fault(
            GERMINATION_TESTS, row, "counted_on", f"{row.counted_on} is before {row.sown_on}, "
            "the day of sowing.",
        )  # fmt: skip
    if row.germinated > row.counted:
        check.fault(
            GERMINATION_TESTS, row, "germinated",
            f"{row.germinated} of {row.counted} counted: no more can have germinated.",
        )  # fmt: skip


def _check_batch(check: Check, row: Any) -> None:
    lot: LotFact | None = check.world.facts[SPORE_LOTS.name].get(row.spore_lot)
    if lot is None:
        return
    if lot.taxon is not None and lot.taxon != row.taxon:
        check.fault(
            BATCHES, row, "spore_lot",
            f"lot {row.spore_lot} is of {lot.taxon}, the batch of {row.taxon}: one of the two "
            "codes is wrong.",
        )  # fmt: skip
    if row.source is not None and lot.source is not None and row.source != lot.source:
        check.fault(
            BATCHES, row, "source",
            f"lot {row.spore_lot} is from {lot.source}, this row says {row.source}: leave the "
            "source empty, it is the lot's.",
        )  # fmt: skip
    if lot.collected_on is not None and row.started_on < lot.collected_on:
        check.fault(
            BATCHES, row, "started_on",
            f"{row.started_on} is before lot {row.spore_lot} was collected, {lot.collected_on}.",
        )  # fmt: skip


def check_place(check: Check, file: Any, row: Any, *, within: bool) -> None:
    """Check that a row and column stand on a bench and, with ``within``, that it is so large."""
    if row.bench is None:
        for column in ("row", "column"):
            if getattr(row, column) is not None:
                check.fault(
                    file, row, column, "a place needs its bench: name the bench, or empty the cell."
                )
        return
    bench: BenchFact | None = check.world.facts[BENCHES.name].get(row.bench)
    if bench is None or not within:
        return
    for column, most, words in (
        ("row", bench.rows, "rows"), ("column", bench.columns, "places in a row"),
    ):  # fmt: skip
        here = getattr(row, column)
        if here is not None and most is not None and here > most:
            check.fault(file, row, column, f"bench {row.bench} has {most} {words}, not {here}.")


def _check_treatments(check: Check) -> None:
    facts = check.world.facts
    known = facts[HOUSES.name].keys() | facts[BENCHES.name].keys() | facts[TRAYS.name].keys()
    for row in check.of(TREATMENTS):
        for code in row.place_or_trays:
            if code not in known:
                hint = check.world.suggestions.like(
                    code, {**facts[HOUSES.name], **facts[BENCHES.name]}
                )
                check.fault(
                    TREATMENTS, row, "place_or_trays",
                    f"no house, bench or tray has the code {shown(code)}: a place that is not "
                    f"known cannot be shown as shut.{hint}",
                )  # fmt: skip
