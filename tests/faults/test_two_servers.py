"""Do several servers write to one PostgreSQL database at once, and is nothing lost or twice?"""

from __future__ import annotations

import os
import shutil
import threading
import time
import urllib.request
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import psycopg
import pytest
from django.conf import settings

from tests.faults.bench_tablets import BenchTablet, make_tablets
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.postgres, pytest.mark.faults]

TABLETS, TRAYS, SECONDS = 6, 12, 6.0


@pytest.fixture
def address() -> Iterator[str]:
    """The address of a new database of its own."""
    here = settings.DATABASES["default"]
    name = f"shared_{os.getpid()}"
    where = {"host": here["HOST"], "user": here["USER"], "dbname": "postgres", "autocommit": True}
    with psycopg.connect(**where) as server:
        server.execute(f"CREATE DATABASE {name}")
        try:
            yield f"postgresql://{here['USER']}@/{name}?host={here['HOST']}"
        finally:
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def two_servers(address: str, tmp_path: Path) -> Iterator[list[RunningNursery]]:
    """Two servers with data folders of their own, one key, one database and one photo folder."""
    shared = {"NURSERY_DATABASE_URL": address, "NURSERY_PHOTOS": str(tmp_path / "photos")}
    first = RunningNursery(tmp_path / "first", more_environment=shared)
    first.command("migrate", "--verbosity", "0")
    second = RunningNursery(tmp_path / "second", more_environment=shared)
    second.data.mkdir(mode=0o700)
    shutil.copy2(first.data / "secret-key", second.data / "secret-key")
    first.start()
    second.start()
    try:
        yield [first, second]
    finally:
        second.kill()
        first.kill()


def test_tablets_that_send_now_here_now_there_lose_nothing(
    two_servers: list[RunningNursery], address: str
) -> None:
    tablets, trays = make_tablets(two_servers[0], tablets=TABLETS, trays=TRAYS)
    until = time.monotonic() + SECONDS
    refused: list[str] = []

    def go_round(tablet: BenchTablet, first: int) -> None:
        # All of them at the same trays, each look sent to the one server and offered to the other.
        for number, tray in enumerate(cycle(trays[first:] + trays[:first])):
            if time.monotonic() > until:
                return
            item = tablet.look(tray)
            for server in (two_servers[number % 2], two_servers[(number + 1) % 2]):
                tablet.waiting = [item]
                status, answer = tablet.send(server.url)
                if status != 200:
                    refused.append(f"{status} {answer}")

    walkers = [
        threading.Thread(target=go_round, args=(tablet, 2 * number))
        for number, tablet in enumerate(tablets)
    ]
    for walker in walkers:
        walker.start()
    for walker in walkers:
        walker.join()
    assert refused == []
    made = sum(tablet.made for tablet in tablets)
    assert made > TABLETS
    answers = [answer for tablet in tablets for answer in tablet.answers]
    assert (answers.count("created"), answers.count("duplicate")) == (made, made)
    with psycopg.connect(address) as database:
        (looks,) = database.execute("SELECT count(*) FROM batches_traycheck").fetchone() or (0,)
        (lost,) = database.execute(
            "SELECT sum(quantity) FROM batches_plantmovement WHERE kind = 'loss'"
        ).fetchone() or (0,)
    assert (looks, lost) == (made, made)
    assert two_servers[1].answer("check_stored_dates")["differing"] == 0
    link = two_servers[0].link_for("hand").replace(two_servers[0].url, two_servers[1].url)
    with urllib.request.urlopen(link, timeout=30) as page:
        assert "Sign in as Bryn Hale" in page.read().decode()
