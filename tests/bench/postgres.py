"""Is any page slower by its class on PostgreSQL, and may two nurseries write there at once?

The same nursery of 5,000 standing trays and 150,000 looks in both kinds of database; a PostgreSQL
server of our own, reached by a socket. Elapsed time, because the database works in a process of
its own; the median of five. Where no PostgreSQL is installed, nothing is measured.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from tests.bench.figure import Figure
from tests.faults.bench_tablets import make_tablets
from tests.faults.many_tablets import Round, go_round
from tests.postgres import programs, running_server
from tests.running_nursery import ROOT, RunningNursery
from tests.simulate.at_scale import NOW, TENTH, TODAY

REPEATS, LOOKS = 5, 50
#: every query is a message to another process and back: pages of many small ones pay most
TIMES_SLOWER = 3
TABLETS, TRAYS, SECONDS, PAUSE = 5, 10, 15.0, 1.0


def figures() -> list[Figure]:
    """Fill both databases and measure in child processes; takes about a minute and a half."""
    bin_folder = programs()
    if bin_folder is None:
        return []
    with tempfile.TemporaryDirectory() as folder, running_server(bin_folder) as url:
        of_file = [RunningNursery(Path(folder) / name) for name in ("file", "file-demo")]
        here = _measured(*of_file)
        there = _measured(*(_nursery_at(url, Path(folder) / one, one) for one in ("large", "demo")))
        two = _two_nurseries(url, Path(folder))
    slower = [
        Figure(f"on PostgreSQL beside SQLite: {name}", there[name], "ms", here[name],
               there[name] / here[name], f"≤ {TIMES_SLOWER} ×",
               there[name] <= TIMES_SLOWER * here[name])
        for name in here
    ]  # fmt: skip
    return [*slower, *two]


def _nursery_at(url: str, folder: Path, database: str) -> RunningNursery:
    """Give a nursery in a new database of that server."""
    import psycopg

    with psycopg.connect(url, autocommit=True) as server:
        server.execute(f"CREATE DATABASE {database}".encode())
    address = url.replace("/postgres?", f"/{database}?")
    return RunningNursery(folder, more_environment={"NURSERY_DATABASE_URL": address})


def _measured(nursery: RunningNursery, empty: RunningNursery) -> dict[str, float]:
    for one in (nursery, empty):
        one.command("migrate", "--verbosity", "0")
    begun = time.monotonic()
    empty.command("import_records", str(ROOT / "demo_fixtures"), timeout=300)
    imported = 1_000 * (time.monotonic() - begun)
    code = "from tests.bench import postgres; postgres.measure()"
    said = nursery.command("shell", "--no-imports", "--command", code, timeout=600).stdout
    found: dict[str, float] = json.loads(said.splitlines()[-1])
    return found | {"import of the demo nursery": imported}


def measure() -> None:
    """Make the nursery and print all times in milliseconds as JSON; for the child alone."""
    from django.conf import settings
    from django.db import connection
    from django.db.models import Count
    from django.test import Client

    from batches.models import Person, SporeLot, Tray
    from batches.views import clock
    from tests.simulate.at_scale import make_nursery

    make_nursery(TENTH)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")  # its own round does so within a minute
    settings.ALLOWED_HOSTS = ["*"]
    clock.now, clock.today = lambda: NOW, lambda: TODAY
    client = Client()
    client.force_login(Person.objects.create_user("Greta Lunn", role="manager"))
    tray = Tray.objects.order_by("pk")[7].code
    lot = SporeLot.objects.annotate(trays=Count("batches__trays")).latest("trays", "-code")
    codes = list(Tray.objects.active().order_by("pk").values_list("code", flat=True))
    turns = iter(range(REPEATS + 1))
    pages: dict[str, Callable[[], object]] = {
        "Today": lambda: client.get("/"),
        "the map": lambda: client.get("/bench-map/"),
        "a tray's page": lambda: client.get(f"/trays/{tray}/"),
        "trail of the largest lot": lambda: client.get(f"/trace/{lot.code}/"),
        f"{LOOKS} looks of a tablet": lambda: _send(client, codes[LOOKS * next(turns) :][:LOOKS]),
    }
    found = {name: _median_ms(ask) for name, ask in pages.items()}
    sys.stdout.write(json.dumps(found) + "\n")


def _median_ms(ask: Callable[[], object]) -> float:
    times = []
    for _ in range(REPEATS + 1):
        begun = time.perf_counter()
        ask()
        times.append(time.perf_counter() - begun)
    return 1_000 * statistics.median(times[1:])  # the first fills caches


def _send(client: Any, codes: list[str]) -> None:
    from batches.services.generation import current_generation
    from tests.bench.at_scale import _item

    items = [_item(code, number) for number, code in enumerate(codes)]
    body = {"sent_at": NOW.isoformat(), "generation": current_generation(), "items": items}
    answer = client.post("/sync/", body, content_type="application/json").json()
    if {one["status"] for one in answer["results"]} != {"created"}:
        raise AssertionError(answer["results"][0])


def _two_nurseries(url: str, folder: Path) -> list[Figure]:
    """Let the tablets of two nurseries send at once, each to a server and a database of its own."""
    sites = [_nursery_at(url, folder / name, name) for name in ("upper", "lower")]
    for site in sites:
        site.command("migrate", "--verbosity", "0")
        site.start()
    try:
        held = [make_tablets(site, tablets=TABLETS, trays=TABLETS * TRAYS) for site in sites]

        def work(number: int) -> Round:
            tablets, trays = held[number]
            return go_round(sites[number], tablets, trays, seconds=SECONDS, pause=PAUSE)

        with ThreadPoolExecutor(2) as both:
            rounds = list(both.map(work, (0, 1)))
        lost = sum(len(one.refusals) for one in rounds)
        for site, (tablets, _) in zip(sites, held, strict=True):
            made = sum(tablet.made for tablet in tablets)
            lost += abs(made - _looks_of(site))
    finally:
        for site in sites:
            site.stop()
    waited = 1_000 * max(one.waited_at_most(0.95) for one in rounds)
    return [
        Figure("two nurseries on one PostgreSQL, five tablets each: looks refused or lost", lost,
               "looks", None, None, "= 0", lost == 0),
        Figure("their answers, 95 in 100 within", waited, "ms", None, None, "≤ 500", waited <= 500),
    ]  # fmt: skip


def _looks_of(site: RunningNursery) -> int:
    ask = "from batches.models import TrayCheck; print(TrayCheck.objects.count())"
    return int(site.command("shell", "--no-imports", "--command", ask).stdout.split()[-1])
