"""How long do the numbers of a large nursery take: 20,000 trays of 40 ferns?

The records are made with bare rows in a child process with a data folder of its own. Half of the
trays stand; looks are weekly for the covered stages.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

from tests.bench.figure import Figure
from tests.running_nursery import RunningNursery

TRAYS, FERNS, A_BATCH = 20_000, 40, 10
TODAY = date(2026, 11, 25)
#: every command answers within this, on this nursery too
BAR_S = 55.0


def figures() -> list[Figure]:
    """Measure in a child process; takes two to three minutes."""
    with tempfile.TemporaryDirectory() as folder:
        nursery = RunningNursery(Path(folder) / "data")
        nursery.command("migrate", "--verbosity", "0")
        code = "from tests.bench import numbers_at_size; numbers_at_size.measure()"
        said = nursery.command("shell", "--no-imports", "--command", code, timeout=900).stdout
    found: dict[str, float] = json.loads(said.splitlines()[-1])
    return [
        Figure(f"{name}, 20,000 trays", took, "s", None, None, f"≤ {BAR_S:g}", took <= BAR_S)
        for name, took in found.items()
    ]


def measure() -> None:
    """Print the times as one line of JSON; for the child process alone."""
    from batches.models import Taxon
    from batches.services.failing_trays import what_trays_share
    from batches.services.forecasting import forecast_nursery
    from batches.services.refits import refit
    from batches.services.sowing_planner import plan_for
    from batches.services.stage_times import stage_times
    from batches.services.survival_rates import survival_rates

    now = make_nursery(random.Random(20))
    fern = Taxon.objects.first()
    assert fern is not None
    one_fern = [fern.pk]
    asked: dict[str, Callable[[], object]] = {
        "stage times": lambda: stage_times(on=TODAY),
        "refit of all ferns": lambda: refit(on=TODAY, now=now),
        "refit of one fern": lambda: refit(on=TODAY, now=now, taxon_ids=one_fern),
        "survival": lambda: survival_rates(on=TODAY),
        "forecast of a year": lambda: forecast_nursery(on=TODAY, weeks=52),
        "sowing plan": lambda: plan_for(
            taxon=fern, pots=2_000, by=TODAY + timedelta(days=700), on=TODAY
        ),
        "shared causes": lambda: what_trays_share(
            sign="mould", since=TODAY - timedelta(days=90), on=TODAY
        ),
    }
    times = {}
    for name, ask in asked.items():
        begun = time.perf_counter()
        ask()
        times[name] = time.perf_counter() - begun
    sys.stdout.write(json.dumps(times) + "\n")


def make_nursery(chance: random.Random) -> datetime:
    """Store the ferns, batches, trays and looks, and fold them; return the moment used."""
    from batches.models import Batch, PlantMovement, Source, SporeLot, Taxon, Tray, TrayCheck
    from batches.services.standing import refold
    from tests.factories.days import NOW, at

    ferns = Taxon.objects.bulk_create(
        Taxon(
            code=f"F{n:03d}", genus=f"Genus{n // 4}", species=f"species{n}",
            spore_kind="not_green", routes="spore",
        )
        for n in range(FERNS)
    )  # fmt: skip
    sources = Source.objects.bulk_create(
        Source(code=f"S{n}", taxon=fern, kind="purchase", provenance="Z")
        for n, fern in enumerate(ferns)
    )
    lots = SporeLot.objects.bulk_create(
        SporeLot(code=f"L{n}", taxon=fern, source=source, collected_on=TODAY - timedelta(days=900))
        for n, (fern, source) in enumerate(zip(ferns, sources, strict=True))
    )
    batches = Batch.objects.bulk_create(
        Batch(
            code=f"B{n:05d}", taxon=ferns[n % FERNS], route="spore", spore_lot=lots[n % FERNS],
            started_on=TODAY - timedelta(days=chance.randrange(40, 800)),
        )
        for n in range(TRAYS // A_BATCH)
    )  # fmt: skip
    trays, looks, counts = [], [], []
    for number in range(TRAYS):
        batch = batches[number // A_BATCH]
        potted = number % 4 == 3
        trays.append(
            Tray(
                code=f"T{number:06d}", batch=batch,
                container="carrier" if potted else "covered tray",
                started_on=batch.started_on, stage_seen_on=batch.started_on,
                start_stage="potted_up" if potted else "sown",
                stage="potted_up" if potted else "sown", unit="pots" if potted else "plants",
            )
        )  # fmt: skip
    Tray.objects.bulk_create(trays, batch_size=2_000)
    for number, tray in enumerate(trays):
        potted = tray.start_stage == "potted_up"
        days = chance.weibullvariate(160 if potted else 30, 3.5)
        every, age = (14 if potted else 7), (TODAY - tray.started_on).days
        if potted:
            counts.append(
                PlantMovement(
                    tray=tray, on=tray.started_on, kind="in", quantity=40, recorded_at=NOW
                )
            )
        # Only the looks that count: the last ones before the sign, and the one that saw it.
        seen_at = (int(days) // every + 1) * every
        for day in (seen_at - every, seen_at, seen_at + 7 * every):
            if 0 < day <= age:
                sign = "ready" if potted else "gametophyte"
                mould = "mould" if number % 17 == 0 and day > seen_at else ""
                looks.append(
                    TrayCheck(
                        tray=tray, seen_at=at(tray.started_on + timedelta(days=day)),
                        recorded_at=NOW,
                        stage_seen=sign if day >= seen_at else "", signs=mould,
                    )
                )  # fmt: skip
    TrayCheck.objects.bulk_create(looks, batch_size=2_000)
    PlantMovement.objects.bulk_create(counts, batch_size=2_000)
    for first in range(0, TRAYS, 2_000):
        refold(trays=trays[first : first + 2_000], recorded_at=NOW)
    return NOW
