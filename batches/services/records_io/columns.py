"""Which files do the records hold, and which columns has each?

The one table from which records are read, checked, stored and written, and from which
datapackage.json and docs/records.md are made. The order of files and of columns is the published
one.
"""

from __future__ import annotations

from typing import Any

from batches import models
from batches.core.signs import CAUSES, Sign
from batches.core.stages import Route, Stage
from batches.models.plant_movement import MOVEMENT_KINDS
from batches.models.source import PROVENANCES, SOURCE_KINDS
from batches.models.taxon import FORMS, HYBRID_CHOICES, RANK_CHOICES, SPORE_KINDS
from batches.models.tray import CONTAINER_STATES, COVERS, ENDS, UNITS
from batches.services.records_io.kinds import Column, Kind, RecordsFile

#: the version of this format; a file of a higher first number is not read
FORMAT_VERSION = "1.0"

SMALL = 32_767
WHOLE = 2_147_483_647
LARGE = 9_223_372_036_854_775_807
#: the most characters of a note; longer ones are files, not notes
NOTE = 20_000

STAGES = tuple(str(stage) for stage in Stage)
SIGNS = tuple(str(sign) for sign in Sign)


def _column(name: str, kind: Kind, about: str, **more: Any) -> Column:
    more.setdefault("field", name)
    return Column(name=name, kind=kind, about=about, **more)


def _first(choices: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    return tuple(word for word, _ in choices)


def _code(about: str) -> Column:
    return _column("code", Kind.CODE, about, required=True)


def _ref(name: str, refers: str, about: str, **more: Any) -> Column:
    return _column(name, Kind.REF, about, refers=(refers,), **more)


def _text(name: str, longest: int, about: str, **more: Any) -> Column:
    return _column(name, Kind.TEXT, about, longest=longest, **more)


def _word(name: str, words: tuple[str, ...], about: str, **more: Any) -> Column:
    return _column(name, Kind.WORD, about, words=words, **more)


def _whole(name: str, about: str, *, least: int = 0, most: int = SMALL, **more: Any) -> Column:
    return _column(name, Kind.WHOLE, about, least=least, most=most, **more)


def _number(name: str, about: str, **more: Any) -> Column:
    return _column(name, Kind.NUMBER, about, **more)


def _day(name: str, about: str, **more: Any) -> Column:
    return _column(name, Kind.DAY, about, **more)


def _moment(name: str, about: str, **more: Any) -> Column:
    return _column(name, Kind.MOMENT, about, **more)


def _yes(name: str, about: str) -> Column:
    return _column(name, Kind.YES, about)


def _id() -> Column:
    about = "made where the row was made; may be left empty by hand, then one is given"
    return _column("id", Kind.ID, about, required=True)


def _strikes() -> Column:
    about = "the row of this file and tray that this row strikes out; it does not count itself"
    return _column("strikes_out", Kind.ROW, about)


def _by(*, required: bool = False) -> Column:
    return _text("by", 80, "who did or saw it, as free text", required=required)


def _week(name: str, about: str) -> Column:
    return _whole(name, about, least=1, most=53)


def _notes() -> Column:
    return _text("notes", NOTE, "anything else")


def _tray(about: str = "the tray") -> Column:
    return _ref("tray", "trays", about, required=True)


TAXA = RecordsFile(
    name="taxa", noun="fern", model=models.Taxon, code_kind="taxon", key="code",
    about="Ferns as named under the codes of nomenclature.",
    columns=(
        _code("the fern's short code, like `DRYFIL`"),
        _text("genus", 60, "genus", required=True),
        _text("species", 120, "epithet, or a hybrid formula like `affinis × filix-mas`"),
        _word("infra_rank", _first(RANK_CHOICES), "rank below species; stands with its epithet"),
        _text("infra_epithet", 60, "epithet of that rank"),
        _text("group", 60, "cultivar Group"),
        _text("cultivar", 80, "cultivar, without quotes"),
        _word("hybrid", _first(HYBRID_CHOICES), "what the × stands before; empty for no hybrid"),
        _text("common_name", 80, "common name"),
        _word("spore_kind", _first(SPORE_KINDS), "green spores live days to weeks", required=True),
        _word("form", _first(FORMS), "empty is a fern"),
        _week("rest_from_week", "first ISO week of its rest; both weeks or none"),
        _week("rest_to_week", "last ISO week of its rest, past New Year where it is the lower"),
        _week("last_pot_up_week", "last ISO week in which it is potted up"),
        _column("routes", Kind.WORDS, "how it is raised; empty is spore", longest=40,
                words=tuple(str(route) for route in Route)),
        _text("protection", 200, "protection, like the appendix of CITES"),
        _notes(),
    ),
)  # fmt: skip

SOURCES = RecordsFile(
    name="sources", noun="origin", model=models.Source, code_kind="source", key="code",
    about="Where material came from.",
    columns=(
        _code("the origin's code"),
        _ref("taxon", "taxa", "the fern", required=True),
        _word("kind", _first(SOURCE_KINDS), "what it is", required=True),
        _text("mothers", 400, "the plants that were pooled"),
        _ref("bench", "benches", "where a stock plant stands"),
        _word("provenance", _first(PROVENANCES), "International Transfer Format: W of wild "
              "origin, Z raised from wild-origin material, G not of wild origin, U not known",
              required=True),
        _text("locality", 200, "the wild place"),
        _text("permit", 120, "the collecting permit"),
        _text("supplier", 120, "who it came from"),
        _text("passport", 120, "plant passport number"),
        _week("ripe_from_week", "first ISO week in which its sori ripen; both weeks or none"),
        _week("ripe_to_week", "last ISO week in which its sori ripen"),
        _notes(),
    ),
)  # fmt: skip

SPORE_LOTS = RecordsFile(
    name="spore_lots", noun="lot", model=models.SporeLot, code_kind="lot", key="code",
    about="Collections of spores, each of one fern from one origin.",
    columns=(
        _code("the lot's code"),
        _ref("taxon", "taxa", "the fern", required=True),
        _ref("source", "sources", "the origin", required=True),
        _day("collected_on", "day of collection", required=True),
        _text("collected_by", 80, "who collected it"),
        _text("method", 40, "`fronds in paper`, `scraped` or `received`, or the nursery's own"),
        _text("ripeness", 80, "how the sori looked"),
        _day("drying_since", "laid out to dry"),
        _day("cleaned_on", "cleaned"),
        _number("mass_mg", "mass in mg", least=0),
        _text("storage", 120, "how and where it is kept"),
        _notes(),
    ),
)  # fmt: skip

GERMINATION_TESTS = RecordsFile(
    name="germination_tests", noun="germination test", model=models.GerminationTest,
    about="Samples of a lot, sown and counted. A test still waiting to be counted is not exported.",
    order=("sown_on",),
    columns=(
        _ref("lot", "spore_lots", "the lot", required=True),
        _day("sown_on", "day of sowing", required=True),
        _day("counted_on", "day of counting", required=True),
        _whole("counted", "spores counted", least=1, most=WHOLE, required=True),
        _whole("germinated", "of these, germinated", most=WHOLE, required=True),
    ),
)  # fmt: skip

MEDIA_BATCHES = RecordsFile(
    name="media_batches", noun="medium batch", model=models.MediumBatch, code_kind="medium",
    key="code", about="Mixings of a medium.",
    columns=(
        _code("the mixing's code"),
        _text("recipe", 200, "parts by volume, `peat:2 perlite:1`", required=True),
        _text("treatment", 80, "how it was made clean, like `steamed`"),
        _number("temperature_c", "temperature reached, °C", least=0, most=200),
        _number("minutes", "for how long", least=0),
        _day("made_on", "day of mixing", required=True),
        _number("litres", "litres made", least=0),
    ),
)  # fmt: skip

HOUSES = RecordsFile(
    name="houses", noun="house", model=models.House, code_kind="house", key="code",
    about="Glasshouses, tunnels and frames.",
    columns=(_code("the house's code"), _text("name", 80, "its name")),
)  # fmt: skip

BENCHES = RecordsFile(
    name="benches", noun="bench", model=models.Bench, code_kind="bench", key="code",
    about="Benches of rows and columns of places.",
    columns=(
        _code("the bench's code"),
        _ref("house", "houses", "the house it stands in", required=True),
        _text("name", 80, "its name"),
        _whole("rows", "rows of places", least=1, most=200),
        _whole("columns", "places in a row", least=1, most=200),
        _whole("walk_order", "its place in the walk", least=-WHOLE, most=WHOLE),
    ),
)  # fmt: skip

BATCHES = RecordsFile(
    name="batches", noun="batch", model=models.Batch, code_kind="batch", key="code",
    about="Propagation batches: what was started together, from one origin, by one route. "
    "A batch without spore_lot and source is of unknown origin.",
    columns=(
        _code("the batch's code"),
        _ref("taxon", "taxa", "the fern", required=True),
        _word("route", tuple(str(route) for route in Route), "raised from", required=True),
        _text("sold_as", 160, "what labels print instead of the fern's name"),
        _ref("spore_lot", "spore_lots", "the lot it was sown from"),
        _ref("source", "sources", "the origin; beside a lot only the lot's own"),
        _ref("media_batch", "media_batches", "the mixing its trays were filled with",
             field="medium_batch"),
        _day("started_on", "day of the start", required=True),
        _notes(),
    ),
)  # fmt: skip

TRAYS = RecordsFile(
    name="trays", noun="tray", model=models.Tray, code_kind="tray", key="code",
    about="Anything that stands on a bench and carries one label.",
    columns=(
        _code("the tray's code"),
        _ref("batch", "batches", "the batch", required=True),
        _text("container", 60, "as the nursery calls it, like `cell tray 84`", required=True),
        _whole("cells", "cells or pots it has room for", least=1),
        _day("started_on", "day it was filled", required=True),
        _word("start_stage", STAGES, "the stage it began in", required=True),
        _whole("quantity", "alive after the last row of movements.csv, in the tray's unit; empty "
               "is uncounted; without movements it becomes the tray's `in`", most=WHOLE,
               field=""),
        _ref("bench", "benches", "where it stands now"),
        _whole("row", "row on the bench", least=1),
        _whole("column", "place in the row", least=1),
        _column("parents", Kind.REFS, "the trays of its batch that it was filled from",
                refers=("trays",), field=""),
        _ref("media_batch", "media_batches", "its own mixing; empty is its batch's",
             field="medium_batch"),
        _word("unit", _first(UNITS), "what is counted; empty is plants"),
        _text("pot_size", 20, "like `9 cm`"),
        _word("container_state", _first(CONTAINER_STATES), "new or washed"),
        _word("cover", _first(COVERS), "the lid now"),
        _yes("control", "an unsown tray that shows stray spores"),
        _yes("isolated", "kept apart"),
        _day("label_printed_on", "last label"),
        _day("come_back_on", "more to come on this day", future=True),
        _day("ended_on", "day of its end; stands with `end`"),
        _word("end", _first(ENDS), "how it ended"),
        _word("end_cause", CAUSES, "why it was discarded"),
    ),
)  # fmt: skip

CHECKS = RecordsFile(
    name="checks", noun="look", model=models.TrayCheck, key="id", order=("seen_at", "id"),
    about="Looks at trays; “nothing new” is a look too.",
    columns=(
        _id(),
        _tray("the tray looked at"),
        _moment("seen_at", "when it was seen", required=True),
        _by(required=True),
        _word("stage_seen", STAGES, "the stage seen; empty says nothing new"),
        _whole("count", "plants counted, in the tray's unit", most=WHOLE),
        _yes("about", "the count is a guess"),
        _column("signs", Kind.WORDS, "troubles, and heart shapes", words=SIGNS, longest=240),
        _yes("opened", "the lid came off"),
        _yes("glance", "the whole bench at a glance: proves no stage, holds no count"),
        _text("note", NOTE, "in words"),
        _strikes(),
        _moment("recorded_at", "when it was stored; empty is the moment of the import"),
        _text("device", 80, "the tablet"),
        _whole("device_seq", "the tablet's own number", least=-LARGE, most=LARGE),
        _text("source", 20, "how the row came in"),
    ),
)  # fmt: skip

TRANSITIONS = RecordsFile(
    name="transitions", noun="passage", model=models.StageTransition, key="id",
    order=("seen_on", "id"),
    about="Passages from one stage to the next. May be absent or incomplete: what the looks and "
    "pickings prove is derived from them.",
    columns=(
        _id(),
        _tray(),
        _word("to_stage", STAGES, "the stage it came to", required=True),
        _day("not_before", "last look without it"),
        _day("seen_on", "first look with it, or the day it was done", required=True),
        _by(),
        _strikes(),
    ),
)  # fmt: skip

MOVEMENTS = RecordsFile(
    name="movements", noun="row of the stock book", model=models.PlantMovement, key="id",
    order=("on", "id"),
    about="The stock book: every change of a tray's count. An `out` with `to_tray` is also what "
    "arrived there; that tray has no `in` for it.",
    columns=(
        _id(),
        _tray(),
        _day("on", "day; a loss is dated by the look that found it", required=True),
        _word("kind", _first(MOVEMENT_KINDS), "what happened", required=True),
        _whole("quantity", "in the tray's unit; a recount is signed, all others are positive",
               least=-WHOLE, most=WHOLE, required=True),
        _whole("arrived", "in the unit of to_tray; empty is the same number", least=1, most=WHOLE),
        _word("cause", CAUSES, "why plants were lost"),
        _ref("to_tray", "trays", "the tray of the same batch they went into"),
        _text("recipient", 120, "who they were dispatched to"),
        _ref("order", "orders", "the order they were dispatched for"),
        _by(),
        _strikes(),
    ),
)  # fmt: skip

PLACES = RecordsFile(
    name="places", noun="place", model=models.Place, key="id", order=("on", "id"),
    about="Where a tray stood from that day on; trays.csv holds where it stands now. A new tray "
    "with a bench and no row here gets one from the day it started.",
    columns=(
        _id(),
        _tray(),
        _day("on", "from this day on", required=True),
        _ref("bench", "benches", "the bench; empty is not known"),
        _whole("row", "row on the bench", least=1),
        _whole("column", "place in the row", least=1),
        _by(),
        _strikes(),
    ),
)  # fmt: skip

ORDERS = RecordsFile(
    name="orders", noun="order", model=models.Order, code_kind="order", key="code",
    about="Pots promised.",
    columns=(
        _code("the order's code"),
        _ref("taxon", "taxa", "the fern", required=True),
        _whole("quantity", "pots", least=1, most=WHOLE, required=True),
        _text("pot_size", 20, "like `9 cm`"),
        _day("wanted_on", "day they are wanted", required=True, future=True),
        _text("customer", 120, "for whom"),
    ),
)  # fmt: skip

TREATMENTS = RecordsFile(
    name="treatments", noun="treatment", model=models.Treatment, key="id",
    order=("done_at", "id"),
    about="Products and biological controls as the operator wrote them down from the label.",
    columns=(
        _id(),
        _moment("done_at", "when it was done", required=True),
        _text("product", 120, "the product", required=True),
        _text("rate", 80, "the rate as on its label"),
        _column("place_or_trays", Kind.REFS, "codes of houses, benches or trays",
                refers=("houses", "benches", "trays"), required=True),
        _text("operator", 80, "who did it", required=True),
        _number("reentry_hours", "hours until the place may be entered again", least=0, most=1440),
    ),
)  # fmt: skip

HOUSE_READINGS = RecordsFile(
    name="house_readings", noun="reading", model=models.HouseReading, order=("on",),
    about="The lowest and highest temperature of a day in a house.",
    columns=(
        _ref("house", "houses", "the house", required=True),
        _day("on", "the day", required=True),
        _number("lowest_c", "lowest, °C", least=-90, most=90),
        _number("highest_c", "highest, °C", least=-90, most=90),
    ),
)  # fmt: skip

FILES: tuple[RecordsFile, ...] = (
    TAXA, SOURCES, SPORE_LOTS, GERMINATION_TESTS, MEDIA_BATCHES, HOUSES, BENCHES, BATCHES, TRAYS,
    CHECKS, TRANSITIONS, MOVEMENTS, PLACES, ORDERS, TREATMENTS, HOUSE_READINGS,
)  # fmt: skip
FILE_NAMED: dict[str, RecordsFile] = {file.name: file for file in FILES}
#: files of things with codes
NOUNS: tuple[RecordsFile, ...] = tuple(file for file in FILES if file.code_kind)
#: files of what happened to trays, struck out by later rows of the same file
EVENTS: tuple[RecordsFile, ...] = (CHECKS, TRANSITIONS, MOVEMENTS, PLACES)
