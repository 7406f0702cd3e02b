"""One lot that went far: mats pricked out into cell trays, potted into carriers, and sold.

Bare rows, for the speed of trails alone: they balance, and nobody looked at them.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from batches.models import Batch, PlantMovement, SporeLot, Tray

#: cell trays out of a mat, carriers out of a cell tray: 25 trays for every mat
CELL_TRAYS, CARRIERS = 4, 5
TRAYS_A_MAT = 1 + CELL_TRAYS * (1 + CARRIERS)
_MATS_A_BATCH = 10


def raise_lot(*, mats: int, today: date, now: datetime) -> SporeLot:
    """Store a lot, its batches of ten mats and all they became: `TRAYS_A_MAT` for every mat."""
    from batches.models import (
        Batch,
        CodeEntry,
        MediumBatch,
        Parentage,
        PlantMovement,
        Source,
        SporeLot,
        Tray,
    )

    source = Source.objects.select_related("taxon").order_by("pk")[0]
    lot = SporeLot.objects.create(
        code=f"LL{mats}", taxon=source.taxon, source=source,
        collected_on=today - timedelta(days=900), cleaned_on=today - timedelta(days=890),
    )  # fmt: skip
    medium = MediumBatch.objects.create(
        code=f"MM{mats}", recipe="peat:2 perlite:1", made_on=today - timedelta(days=600)
    )
    batches = Batch.objects.bulk_create(
        Batch(
            code=f"LL{mats}-{n}", taxon=lot.taxon, route="spore", spore_lot=lot,
            medium_batch=medium, started_on=today - timedelta(days=600),
        )
        for n in range(-(-mats // _MATS_A_BATCH))
    )  # fmt: skip
    sown = Tray.objects.bulk_create(
        _tray(batches[n // _MATS_A_BATCH], f"LL{mats}-T{n}", "sown", today=today)
        for n in range(mats)
    )
    cells = _out_of(sown, CELL_TRAYS, "pricked_out", today=today)
    pots = _out_of([cell for _, cell in cells], CARRIERS, "potted_up", today=today)
    steps = [(giver, taker, 20, 200) for giver, taker in cells]
    steps += [(giver, taker, 40, 40) for giver, taker in pots]
    Parentage.objects.bulk_create(
        (Parentage(parent=giver, child=taker) for giver, taker, _, _ in steps), batch_size=2_000
    )
    rows = [
        PlantMovement(
            tray=giver, on=taker.started_on, kind="out", quantity=left, arrived=arrived,
            to_tray=taker, recorded_at=now,
        )
        for giver, taker, left, arrived in steps
    ]  # fmt: skip
    rows += [_sale(pot, n, today=today, now=now) for n, (_, pot) in enumerate(pots)]
    PlantMovement.objects.bulk_create(rows, batch_size=2_000)
    CodeEntry.objects.create(code=lot.code, folded=lot.code.lower(), kind="lot")
    return lot


def _out_of(givers: list[Tray], each: int, stage: str, *, today: date) -> list[tuple[Tray, Tray]]:
    """Store trays that were filled out of these, so many out of each, and return the pairs."""
    from batches.models import Tray

    pairs = [
        (giver, _tray(giver.batch, f"{giver.code}-{n}", stage, today=today))
        for giver in givers
        for n in range(each)
    ]
    Tray.objects.bulk_create((taker for _, taker in pairs), batch_size=2_000)
    return pairs


def _tray(batch: Batch, code: str, stage: str, *, today: date) -> Tray:
    """Return a tray, not stored yet; mats and cell trays were cleared, carriers stand."""
    from batches.models import Tray

    age = {"sown": 600, "pricked_out": 300, "potted_up": 150}[stage]
    started = today - timedelta(days=age)
    carrier = stage == "potted_up"
    return Tray(
        code=code, batch=batch, container="carrier 9 cm" if carrier else "tray",
        started_on=started, stage_seen_on=started, start_stage=stage, stage=stage,
        unit={"sown": "patches", "pricked_out": "plants", "potted_up": "pots"}[stage],
        label_printed_on=started, alive=25 if carrier else 0,
        ended_on=None if carrier else started + timedelta(days=150),
        end="" if carrier else "cleared",
    )  # fmt: skip


def _sale(pot: Tray, n: int, *, today: date, now: datetime) -> PlantMovement:
    from batches.models import PlantMovement

    return PlantMovement(
        tray=pot, on=today - timedelta(days=n % 60), kind="dispatch", quantity=15,
        recipient=f"Garden {n % 40}", recorded_at=now,
    )  # fmt: skip
