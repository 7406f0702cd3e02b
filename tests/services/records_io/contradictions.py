"""What can contradict itself, the rest of the records or the day: one cell changed, one error.

Each line: what is wrong, how `folders.small` is changed, and how the error begins. The numbers of
lines count from the header's, 1.
"""
# ruff: noqa: E501 - a table

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.services.records_io.folders import IN_1, LOOKS

Files = dict[str, Any]


def change(name: str, line: int, **cells: str) -> Callable[[Files], None]:
    """Change cells of the row that stands on a line of the file (the header is line 1)."""

    def apply(files: Files) -> None:
        files[name][line - 2] |= cells

    return apply


def add(name: str, **cells: str) -> Callable[[Files], None]:
    """Add a row to a file."""

    def apply(files: Files) -> None:
        files.setdefault(name, []).append(cells)

    return apply


NEW_ID = "9a000000-0000-4000-8000-000000000001"

FAULTS: list[tuple[str, Callable[[Files], None], str]] = [
    # codes
    ("code of two kinds", change("houses", 2, code="B1"), "benches.csv:2: code: “B1” is already the code of a house (houses.csv:2)"),
    ("unknown fern", change("batches", 2, taxon="DRYFIK"), "batches.csv:2: taxon: no fern has the code “DRYFIK”, neither in taxa.csv nor in what is stored. Did you mean “DRYFIL”?"),
    ("code of another kind", change("batches", 2, media_batch="B1"), "batches.csv:2: media_batch: “B1” is the code of a bench, not of a medium batch"),
    ("unknown tray of a look", change("checks", 2, tray="A.9"), "checks.csv:2: tray: no tray has the code “A.9”"),
    ("unknown order", add("movements", id=NEW_ID, tray="A.2", on="2026-09-20", kind="dispatch", quantity="1", order="R9"), "movements.csv:7: order: no order has the code “R9”"),
    ("unknown place of a treatment", change("treatments", 2, place_or_trays="MIST B2"), "treatments.csv:2: place_or_trays: no house, bench or tray has the code “B2”"),
    # ferns, origins, lots, media
    ("rank without epithet", change("taxa", 2, infra_rank="var."), "taxa.csv:2: infra_epithet: A rank and its epithet stand together"),
    ("half a rest", change("taxa", 3, rest_to_week=""), "taxa.csv:3: rest_to_week: the cell is empty, but rest_from_week is given"),
    ("half a ripening", change("sources", 2, ripe_from_week=""), "sources.csv:2: ripe_from_week: the cell is empty"),
    ("week 54", change("taxa", 3, rest_from_week="54"), "taxa.csv:3: rest_from_week: 54 is too high: 53 or less"),
    ("cleaned before collected", change("spore_lots", 2, cleaned_on="2025-08-01"), "spore_lots.csv:2: cleaned_on: 2025-08-01 is before the day of collection, 2025-08-04"),
    ("counted before sown", change("germination_tests", 2, counted_on="2025-08-31"), "germination_tests.csv:2: counted_on: 2025-08-31 is before 2025-09-01"),
    ("more germinated than counted", change("germination_tests", 4, germinated="101"), "germination_tests.csv:4: germinated: 101 of 100 counted"),
    ("recipe without parts", change("media_batches", 2, recipe="peat and perlite"), "media_batches.csv:2: recipe: “peat and perlite” is not parts by volume: write it like peat:2 perlite:1"),
    ("lowest above highest", change("house_readings", 2, lowest_c="10"), "house_readings.csv:2: lowest_c: 10 is above the highest, 9"),
    # batches
    ("another lot's source", change("batches", 2, source="PL-2"), "batches.csv:2: source: lot L25-001-X is from PL-1, this row says PL-2"),
    ("lot of another fern", change("batches", 2, taxon="ASPBUL"), "batches.csv:2: spore_lot: lot L25-001-X is of DRYFIL, the batch of ASPBUL"),
    ("sown before collected", change("batches", 2, started_on="2025-08-01"), "batches.csv:2: started_on: 2025-08-01 is before lot L25-001-X was collected"),
    ("a day in the future", change("batches", 3, started_on="2026-11-26"), "batches.csv:3: started_on: 2026-11-26 is in the future (today is 2026-11-25)"),
    # trays
    ("stage of another route", change("trays", 2, start_stage="pegged_down"), "trays.csv:2: start_stage: pegged_down is no stage of “SET-A”, which is raised by spore"),
    ("tray before its batch", change("trays", 2, started_on="2026-01-01"), "trays.csv:2: started_on: 2026-01-01 is before its batch SET-A was started"),
    ("row without bench", change("trays", 4, row="1"), "trays.csv:4: row: a place needs its bench"),
    ("row beyond the bench", change("trays", 2, row="5"), "trays.csv:2: row: bench B1 has 4 rows, not 5"),
    ("end without day", change("trays", 4, end="cleared"), "trays.csv:4: ended_on: the cell is empty, but end is given"),
    ("day without end", change("trays", 5, end="", end_cause=""), "trays.csv:5: end: the cell is empty, but ended_on is given"),
    ("ended before it started", change("trays", 5, ended_on="2026-01-04"), "trays.csv:5: ended_on: 2026-01-04 is before it was started"),
    ("parent of another batch", change("trays", 3, parents="A.1 B.1"), "trays.csv:3: parents: tray B.1 is of batch SET-B, A.2 of SET-A"),
    ("unknown parent", change("trays", 3, parents="A.1 A.7"), "trays.csv:3: parents: no tray has the code “A.7”"),
    ("its own parent", change("trays", 3, parents="A.2"), "trays.csv:3: parents: a tray cannot be its own parent"),
    ("parents in a circle", change("trays", 2, parents="A.2"), "trays.csv:2: parents: A.1, A.2 would be filled from each other in a circle"),
    ("nothing alive and never counted", change("trays", 2, quantity="0"), "trays.csv:2: quantity: 0 here, but the rows of movements.csv give no count at all"),
    ("nothing alive and nothing written down", change("trays", 5, quantity="0", control="", ended_on="", end="", end_cause=""), "trays.csv:5: quantity: 0 alive, and movements.csv has no row of the tray"),
    # looks
    ("look before the start", change("checks", 2, seen_at="2026-01-04T23:30:00+00:00"), "checks.csv:2: seen_at: 2026-01-04 is before tray A.1 was started, 2026-01-05"),
    ("look in the future", change("checks", 2, seen_at="2026-11-25T09:06:00Z"), "checks.csv:2: seen_at: 2026-11-25T09:06:00+00:00 is in the future"),
    ("stage of another route seen", change("checks", 2, stage_seen="rooted"), "checks.csv:2: stage_seen: rooted is no stage of tray A.1's route"),
    ("about without a count", change("checks", 5, count=""), "checks.csv:5: about: about says that a count is a guess"),
    ("glance with a stage", change("checks", 6, stage_seen="rooted"), "checks.csv:6: stage_seen: a glance proves no stage"),
    ("glance with a count", change("checks", 6, count="4"), "checks.csv:6: count: a glance proves no stage and counts nothing"),
    ("nobody looked", change("checks", 2, by=""), "checks.csv:2: by: the cell is empty"),
    ("same id, other words", change("checks", 3, id=LOOKS[0]), f"checks.csv:3: id: “{LOOKS[0]}” stands in line 2 already"),
    # strike-outs
    ("strikes nothing", change("checks", 7, strikes_out=NEW_ID), f"checks.csv:7: strikes_out: no row of checks.csv, here or stored, has the id {NEW_ID}"),
    ("strikes a row of another file", change("checks", 7, strikes_out=IN_1), f"checks.csv:7: strikes_out: no row of checks.csv, here or stored, has the id {IN_1}"),
    ("strikes another tray's look", change("checks", 7, strikes_out=LOOKS[4]), f"checks.csv:7: strikes_out: {LOOKS[4]} is of tray B.1, this row of “A.1”"),
    ("strikes itself", change("checks", 7, strikes_out=LOOKS[5]), "checks.csv:7: strikes_out: a row cannot strike itself out"),
    ("strikes a strike-out", add("checks", id=NEW_ID, tray="A.1", seen_at="2026-07-06T10:30:00+01:00", by="Bram", strikes_out=LOOKS[5]), f"checks.csv:8: strikes_out: {LOOKS[5]} strikes a row out itself"),
    ("strikes twice", add("checks", id=NEW_ID, tray="A.1", seen_at="2026-07-06T10:30:00+01:00", by="Bram", strikes_out=LOOKS[2]), f"checks.csv:8: strikes_out: {LOOKS[2]} is struck out already by line 7"),
    # passages
    ("passage of another route", add("transitions", id=NEW_ID, tray="A.1", to_stage="rooted", seen_on="2026-03-01"), "transitions.csv:2: to_stage: rooted is no stage of tray A.1's route"),
    ("passage before the start", add("transitions", id=NEW_ID, tray="A.1", to_stage="gametophyte", seen_on="2026-01-01"), "transitions.csv:2: seen_on: 2026-01-01 is before tray A.1 was started"),
    ("not before its look", add("transitions", id=NEW_ID, tray="A.1", to_stage="gametophyte", not_before="2026-03-02", seen_on="2026-03-01"), "transitions.csv:2: not_before: 2026-03-02 is after seen_on"),
    # movements and what is alive
    ("quantity and movements disagree", change("trays", 3, quantity="84"), "trays.csv:3: quantity: 84 here, but the rows of movements.csv give 80 alive"),
    ("quantity of an uncounted tray", change("trays", 2, quantity="42"), "trays.csv:2: quantity: 42 here, but the rows of movements.csv give no count at all"),
    ("more lost than there were", change("movements", 4, quantity="85"), "movements.csv:4: quantity: Tray A.2 would hold -1 on 2026-09-14"),
    ("lost before it arrived", change("movements", 4, on="2026-08-31"), "movements.csv:4: on: 2026-08-31 is before tray A.2 was started"),
    ("nothing lost", change("movements", 4, quantity="0"), "movements.csv:4: quantity: 0 is not possible"),
    ("a negative loss", change("movements", 4, quantity="-4"), "movements.csv:4: quantity: -4 is not possible"),
    ("loss with a child", change("movements", 4, to_tray="A.1"), "movements.csv:4: to_tray: only a movement of kind out has this, the row is of kind loss"),
    ("loss with a recipient", change("movements", 4, recipient="Wim"), "movements.csv:4: recipient: only a movement of kind dispatch has this"),
    ("arrived nowhere", change("movements", 4, arrived="3"), "movements.csv:4: arrived: nothing arrives without to_tray"),
    ("into itself", change("movements", 3, to_tray="A.1"), "movements.csv:3: to_tray: plants cannot move from a tray into itself"),
    ("into another batch", change("movements", 3, to_tray="B.1"), "movements.csv:3: to_tray: tray A.1 is of batch SET-A, B.1 of SET-B"),
    ("before the child was there", change("movements", 3, on="2026-08-31"), "movements.csv:3: on: 2026-08-31 is before tray A.2 was started"),
    ("counted in and moved in", add("movements", id=NEW_ID, tray="A.2", on="2026-09-01", kind="in", quantity="84"), "movements.csv:7: kind: tray A.2 has an in of 84 on 2026-09-01, but what moved into it on 2026-09-01 is counted in by the out"),
    ("unknown cause", change("movements", 4, cause="rott"), "movements.csv:4: cause: “rott” is not a word of this column. Did you mean “rot”?"),
    # places
    ("place before the start", add("places", id=NEW_ID, tray="A.1", on="2026-01-01", bench="B1"), "places.csv:2: on: 2026-01-01 is before tray A.1 was started"),
    ("column without bench", add("places", id=NEW_ID, tray="A.1", on="2026-01-05", column="2"), "places.csv:2: column: a place needs its bench"),
]  # fmt: skip
