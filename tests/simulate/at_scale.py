"""A nursery ten times too large: 50,000 standing trays, 30 looks each, 300 ferns, for speed alone.

Its stored dates are those that the program itself works out: what decides them (the last looks) is
folded by `standing.refold`; the older looks, “nothing new” all of them, are added beside, as bare
rows, and change nothing. It is stored by way of Django in whatever database is set.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

from batches.core.codes import batch_code, tray_code

if TYPE_CHECKING:
    from batches.models import Tray


TODAY = date(2026, 11, 25)
NOW = datetime.combine(TODAY, time(8, 0), tzinfo=UTC)
A_BATCH = 10
A_BENCH = 100
_LOTS = 1_000
#: trays filled out of one mixing, and plants of a cell tray or pots of a carrier
A_MIXING, _PLANTS = 500, 60
_RECIPES = ("peat:2 perlite:1", "bark:1 peat:1", "peat:3 grit:1")
#: a look beside: its id, the tray, the day
_Look = tuple[uuid.UUID, int, date]


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How large: standing trays, looks of each, ferns."""

    trays: int
    looks: int = 30
    ferns: int = 300


#: the nursery of the figures, and a tenth of it
LARGE = Size(trays=50_000)
TENTH = Size(trays=5_000)


def make_nursery(size: Size, *, seed: int = 7) -> None:
    """Store it in an empty database; about a minute and a half for `LARGE`."""
    from batches.models import (
        Batch,
        Bench,
        CodeEntry,
        House,
        MediumBatch,
        Source,
        SporeLot,
        Taxon,
        Tray,
    )

    chance = random.Random(seed)
    ferns = Taxon.objects.bulk_create(
        Taxon(
            code=f"F{n:03d}", genus=f"Genus{n // 6}", species=f"species{n}",
            common_name=f"Fern of the {n}th kind", spore_kind="not_green", routes="spore",
        )
        for n in range(size.ferns)
    )  # fmt: skip
    house = House.objects.create(code="H1", name="Long house")
    benches = Bench.objects.bulk_create(
        Bench(
            code=f"B{n:04d}", house=house, name=f"Bench {n}", rows=10, columns=10, walk_order=n
        )
        for n in range(-(-size.trays // A_BENCH))
    )  # fmt: skip
    origins = Source.objects.bulk_create(
        Source(code=f"S{n}", taxon=fern, kind="purchase", provenance="Z")
        for n, fern in enumerate(ferns)
    )
    how_many = max(1, min(_LOTS, size.trays // 50))
    lots = SporeLot.objects.bulk_create(
        SporeLot(
            code=f"L{n}", taxon=ferns[n % size.ferns], source=origins[n % size.ferns],
            collected_on=TODAY - timedelta(days=900), cleaned_on=TODAY - timedelta(days=890),
        )
        for n in range(how_many)
    )  # fmt: skip
    batches = Batch.objects.bulk_create(
        Batch(
            code=batch_code(TODAY, n + 1), taxon=lots[n % how_many].taxon, route="spore",
            spore_lot=lots[n % how_many],
            started_on=TODAY - timedelta(days=_age(n, chance)),
        )
        for n in range(-(-size.trays // A_BATCH))
    )  # fmt: skip
    mixings = MediumBatch.objects.bulk_create(
        MediumBatch(
            code=f"M{n}", recipe=_RECIPES[n % len(_RECIPES)], made_on=TODAY - timedelta(days=400)
        )
        for n in range(-(-size.trays // A_MIXING))
    )
    trays = [
        Tray(
            code=tray_code(batches[n // A_BATCH].code, n % A_BATCH + 1),
            batch=batches[n // A_BATCH],
            container="covered tray", started_on=batches[n // A_BATCH].started_on,
            stage_seen_on=batches[n // A_BATCH].started_on, start_stage=_start(n // A_BATCH),
            stage=_start(n // A_BATCH), label_printed_on=TODAY - timedelta(days=30),
            bench=benches[n // A_BENCH], row=n % A_BENCH // 10 + 1, column=n % 10 + 1,
            medium_batch=mixings[n // A_MIXING],
            unit="pots" if _start(n // A_BATCH) == "potted_up" else "plants",
        )
        for n in range(size.trays)
    ]  # fmt: skip
    Tray.objects.bulk_create(trays, batch_size=2_000)
    CodeEntry.objects.bulk_create(
        (
            CodeEntry(code=one.code, folded=one.code.lower(), kind=kind)
            for kind, ones in (("lot", lots), ("batch", batches), ("tray", trays))
            for one in ones
        ),
        batch_size=2_000,
    )
    _count_in([tray for tray in trays if tray.stage != "sown"])
    _look_at(trays, size, chance)


def _count_in(trays: list[Tray]) -> None:
    """Count every cell tray and carrier on the day it was filled."""
    from batches.models import PlantMovement

    PlantMovement.objects.bulk_create(
        (
            PlantMovement(
                tray=tray, on=tray.started_on, kind="in", quantity=_PLANTS, recorded_at=NOW
            )
            for tray in trays
        ),
        batch_size=2_000,
    )


def _start(batch: int) -> str:
    return ("sown", "pricked_out", "potted_up")[batch % 3]


def _age(batch: int, chance: random.Random) -> int:
    """Return a batch's age in days: one in a hundred is late in its stage, the others are not."""
    usual, late = ((80, 100), (120, 260), (190, 390))[batch % 3]
    return late if batch % 100 == 0 else chance.randrange(35, usual)


def _look_at(trays: list[Tray], size: Size, chance: random.Random) -> None:
    """Store every tray's last look, fold, and add the older ones."""
    from django.db import connection, transaction

    from batches.models import TrayCheck
    from batches.services.standing import refold

    # One in about twenty-five is due or late, as on a morning on which most was done yesterday.
    last = {
        tray.pk: TODAY - timedelta(days=chance.choice((1, 2, 3, 4, 5, 6)) + 11 * (n % 25 == 0))
        for n, tray in enumerate(trays)
    }
    TrayCheck.objects.bulk_create(
        (
            TrayCheck(tray=tray, seen_at=_at(last[tray.pk]), recorded_at=_at(last[tray.pk]))
            for tray in trays
        ),
        batch_size=2_000,
    )
    for first in range(0, len(trays), 2_000):
        refold(trays=trays[first : first + 2_000], recorded_at=NOW)
    table = TrayCheck._meta.db_table
    sql = (
        f'INSERT INTO {table} (id, "by", recorded_at, tray_id, seen_at, device, stage_seen, about, '  # noqa: S608 - the table's own name
        "signs, opened, glance, note, source) "
        "VALUES (%s, %s, %s, %s, %s, '', '', %s, '', %s, %s, '', '')"
    )
    adapt = connection.ops.adapt_datetimefield_value
    # PostgreSQL takes a UUID, SQLite its hexadecimal digits.
    native = connection.features.has_native_uuid_field
    with transaction.atomic(), connection.cursor() as cursor:
        for rows in _lots_of(_older(trays, last, size, chance), 20_000):
            cursor.executemany(
                sql,
                [
                    (
                        number if native else number.hex, "Ines Calder", adapt(_at(day)), tray,
                        adapt(_at(day)), False, False, False,
                    )
                    for number, tray, day in rows
                ],
            )  # fmt: skip


def _older(
    trays: list[Tray], last: dict[int, date], size: Size, chance: random.Random
) -> Iterator[_Look]:
    for tray in trays:
        for back in range(1, size.looks):
            day = last[tray.pk] - timedelta(days=back)
            yield uuid.UUID(int=chance.getrandbits(128), version=4), tray.pk, day


def _lots_of(rows: Iterator[_Look], how_many: int) -> Iterator[list[_Look]]:
    lot: list[_Look] = []
    for row in rows:
        lot.append(row)
        if len(lot) == how_many:
            yield lot
            lot = []
    if lot:
        yield lot


def _at(day: date) -> datetime:
    return datetime.combine(day, time(9, 0), tzinfo=UTC)
