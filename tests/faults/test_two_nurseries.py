"""Do two nurseries on one PostgreSQL server write at once, and does neither see the other's?"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg
import pytest
from django.conf import settings

from tests.faults.bench_tablets import make_tablets
from tests.faults.many_tablets import go_round
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.postgres, pytest.mark.faults]

TABLETS, TRAYS, SECONDS = 2, 4, 3.0


@pytest.fixture
def sites(tmp_path: Path) -> Iterator[list[RunningNursery]]:
    """Two servers, each with a data folder and a new database of its own, on one PostgreSQL."""
    here = settings.DATABASES["default"]
    where = {"host": here["HOST"], "user": here["USER"], "dbname": "postgres", "autocommit": True}
    names = [f"{name}_{os.getpid()}" for name in ("upper", "lower")]
    found: list[RunningNursery] = []
    with psycopg.connect(**where) as server:
        try:
            for name in names:
                server.execute(f"CREATE DATABASE {name}")
                url = f"postgresql://{here['USER']}@/{name}?host={here['HOST']}"
                address = {"NURSERY_DATABASE_URL": url}
                found.append(RunningNursery(tmp_path / name, more_environment=address))
                found[-1].command("migrate", "--verbosity", "0")
                found[-1].start()
            yield found
        finally:
            for one in found:
                one.kill()
            for name in names:
                server.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def test_each_keeps_all_of_its_own_looks_and_none_of_the_others(
    sites: list[RunningNursery],
) -> None:
    held = [make_tablets(site, tablets=TABLETS, trays=TRAYS) for site in sites]

    def work(number: int) -> list[str]:
        tablets, trays = held[number]
        done = go_round(sites[number], tablets, trays, seconds=SECONDS, pause=0.1)
        return done.refusals

    with ThreadPoolExecutor(2) as both:
        assert list(both.map(work, (0, 1))) == [[], []]
    for site, (tablets, _) in zip(sites, held, strict=True):
        made = sum(tablet.made for tablet in tablets)
        assert made >= TABLETS
        ask = "from batches.models import TrayCheck; print(TrayCheck.objects.count())"
        stored = site.command("shell", "--no-imports", "--command", ask).stdout.split()[-1]
        assert int(stored) == made
        assert site.answer("check_stored_dates")["differing"] == 0
