"""How quick are the pages of a nursery ten times too large: 50,000 trays, 1.5 million looks?

Each figure stands beside the plainest thing that answers the same, measured by turns in the same
process: a bare SQL statement, a plain template loop, single requests. Processor time, because
other work on the machine does not lengthen it; the median of five. Eight writers at once are timed
by the clock, against a server of its own.
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.bench.figure import Figure
from tests.faults.bench_tablets import make_tablets
from tests.faults.many_tablets import go_round
from tests.running_nursery import RunningNursery
from tests.simulate.at_scale import LARGE, NOW, TENTH, TODAY, Size

if TYPE_CHECKING:
    from batches.services.trace import Trail

REPEATS = 5
CELLS, LOOKS = 3_000, 1_000
#: lots as they went far: 50, 500 and 5,000 trays; the second is large for a nursery of 50,000
MATS = {50: 2, 500: 20, 5_000: 200}
LARGEST_LOT = 500
WRITERS, WRITE_S = 8, 10
#: every step from the lot on, and to it, with what left and what arrived, and of what was sent the
#: day, the unit and to whom: all that a trail holds
TRAIL = """
WITH RECURSIVE found(id) AS (
    SELECT t.id FROM batches_sporelot l JOIN batches_batch b ON b.spore_lot_id = l.id
    JOIN batches_tray t ON t.batch_id = b.id WHERE l.code = :lot
    UNION SELECT m.to_tray_id FROM found JOIN batches_plantmovement m ON m.tray_id = found.id
    WHERE m.to_tray_id IS NOT NULL)
SELECT s.code, l.code, NULL, NULL, NULL, NULL, NULL
FROM batches_sporelot l JOIN batches_source s ON s.id = l.source_id WHERE l.code = :lot
UNION ALL SELECT l.code, b.code, NULL, NULL, NULL, NULL, NULL
FROM batches_sporelot l JOIN batches_batch b ON b.spore_lot_id = l.id WHERE l.code = :lot
UNION ALL SELECT b.code, t.code, NULL, NULL, NULL, NULL, NULL
FROM found JOIN batches_tray t ON t.id = found.id JOIN batches_batch b ON b.id = t.batch_id
UNION ALL SELECT t.code, k.code, SUM(m.quantity), SUM(COALESCE(m.arrived, m.quantity)),
    NULL, NULL, NULL
FROM found CROSS JOIN batches_plantmovement m JOIN batches_tray t ON t.id = m.tray_id
JOIN batches_tray k ON k.id = m.to_tray_id
WHERE m.tray_id = found.id AND +m.strikes_out_id IS NULL
    AND NOT EXISTS (SELECT 1 FROM batches_plantmovement s WHERE s.strikes_out_id = m.id)
GROUP BY t.code, k.code
UNION ALL SELECT t.code, m.id, m.quantity, m.quantity, m."on", t.unit, m.recipient
FROM found CROSS JOIN batches_plantmovement m JOIN batches_tray t ON t.id = m.tray_id
WHERE m.tray_id = found.id AND +m.kind = 'dispatch' AND +m.strikes_out_id IS NULL
    AND NOT EXISTS (SELECT 1 FROM batches_plantmovement s WHERE s.strikes_out_id = m.id)
"""


def figures() -> list[Figure]:
    """Make both nurseries and measure in child processes; takes two to three minutes."""
    with tempfile.TemporaryDirectory() as folder:
        large = _measured(Path(folder) / "large", LARGE)
        writers = _writers(Path(folder) / "large")
        tenth = _measured(Path(folder) / "tenth", TENTH)
    today, of_tenth = large["today"], tenth["today"]
    return [
        _below("Today, 50 trays and their number by the ORM", today["orm"], today["raw"], 6),
        _below("Today, all of its page beside what it reads", today["view"], today["reads"], 4),
        _below("Today's page, 50,000 trays beside 5,000", today["view"], of_tenth["view"], 1.5),
        _below("Today's queries, beside 5,000 trays", today["queries"], of_tenth["queries"], 1,
               unit="queries"),
        Figure("Today's trays are found by the index on the due date", today["by_index"], "of 1",
               None, None, "= 1", today["by_index"] == 1),
        _below("a tray's page, 50,000 trays beside 5,000", large["tray"], tenth["tray"], 1.5),
        _below("map of 3,000 places, drawn", large["map"]["ours"], large["map"]["loop"], 0.1),
        Figure("map of 3,000 places, the whole page", large["map"]["view"], "ms", None, None,
               "told", True),
        _below("1,000 looks sent in requests of 50", large["sync"]["fifties"],
               large["sync"]["singles"], 0.25),
        *writers,
        *(_trail_figure(int(trays), found) for trays, found in large["trails"].items()),
    ]  # fmt: skip


def _trail_figure(trays: int, found: dict[str, float]) -> Figure:
    """Hold the trail of the largest lot to its bar; of a small or unreal lot it is told."""
    name = f"trace of a lot of {trays:,} trays"
    if trays == LARGEST_LOT:
        return _below(f"{name}, the largest", found["ours"], found["sql"], 5)
    return Figure(name, found["ours"], "ms", found["sql"], found["ours"] / found["sql"], "told",
                  True)  # fmt: skip


def _below(name: str, value: float, floor: float, bar: float, unit: str = "ms") -> Figure:
    ratio = value / floor
    return Figure(name, value, unit, floor, ratio, f"≤ {bar:g} ×", ratio <= bar)


def _measured(folder: Path, size: Size) -> dict[str, Any]:
    nursery = RunningNursery(folder)
    nursery.command("migrate", "--verbosity", "0")
    code = f"from tests.bench import at_scale; at_scale.measure({size.trays})"
    said = nursery.command("shell", "--no-imports", "--command", code, timeout=900).stdout
    found: dict[str, Any] = json.loads(said.splitlines()[-1])
    return found


def measure(trays: int) -> None:
    """Make the nursery and print all times in milliseconds as JSON; for the child alone."""
    from django.conf import settings
    from django.test import Client

    from batches.models import Person, Tray
    from batches.views import clock
    from tests.simulate.at_scale import make_nursery

    make_nursery(Size(trays=trays))
    settings.ALLOWED_HOSTS = ["*"]
    clock.now, clock.today = lambda: NOW, lambda: TODAY
    client = Client()
    client.force_login(Person.objects.create_user("Greta Lunn", role="manager"))
    a_tray = Tray.objects.order_by("pk")[7].code
    found: dict[str, Any] = {
        "today": _today(client),
        "tray": _median_ms(lambda: client.get(f"/trays/{a_tray}/")),
    }
    if trays == LARGE.trays:
        found |= {"map": _map(client), "sync": _sync(client), "trails": _trails()}
    sys.stdout.write(json.dumps(found) + "\n")


def _median_ms(ask: Callable[[], object]) -> float:
    return _by_turns({"": ask})[""]


def _by_turns(asked: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Return the median milliseconds of processor time of each, asked one after the other."""
    times: dict[str, list[float]] = {name: [] for name in asked}
    for turn in range(REPEATS + 1):
        for name, ask in asked.items():
            begun = time.process_time()
            ask()
            if turn:  # the first fills caches
                times[name].append(time.process_time() - begun)
    return {name: 1_000 * statistics.median(some) for name, some in times.items()}


def _today(client: Any) -> dict[str, float]:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from batches.models import Tray
    from batches.services.due_entries import due_entries, lines_of
    from batches.services.planned_sowings import sowings_ahead
    from batches.services.this_week import weeks_work
    from batches.services.today import morning_note
    from batches.services.work_shares import people_to_give_to, shares_of_day

    raw = sqlite3.connect(connection.settings_dict["NAME"])
    page = (
        "SELECT t.code, t.due_on, b.code, x.genus, x.species, n.code FROM batches_tray t "
        "JOIN batches_batch b ON b.id = t.batch_id JOIN batches_taxon x ON x.id = b.taxon_id "
        "LEFT JOIN batches_bench n ON n.id = t.bench_id "
        "WHERE t.ended_on IS NULL AND t.due_on <= ? ORDER BY t.due_on, t.id LIMIT 50"
    )
    count = "SELECT COUNT(*) FROM batches_tray WHERE ended_on IS NULL AND due_on <= ?"

    def by_sql() -> None:
        raw.execute(page, [TODAY.isoformat()]).fetchall()
        raw.execute(count, [TODAY.isoformat()]).fetchone()

    def by_orm() -> None:
        due = Tray.objects.due(TODAY)
        shown = ("code", "due_on", "bench__code", "batch__taxon__genus", "batch__taxon__species")
        list(due.order_by("due_on", "pk").values_list(*shown, "batch__code")[:50])
        due.count()

    def reads() -> None:
        lines = due_entries(on=TODAY, now=NOW)
        lines_of(entries=lines[:60], on=TODAY)
        morning_note(kinds=lines.kinds, today=TODAY, now=NOW)
        weeks_work(today=TODAY)
        sowings_ahead(today=TODAY)
        shares_of_day(on=TODAY)
        people_to_give_to()

    found = _by_turns(
        {"raw": by_sql, "orm": by_orm, "reads": reads, "view": lambda: client.get("/")}
    )
    with CaptureQueriesContext(connection) as asked:
        client.get("/")
    plan = Tray.objects.due(TODAY).order_by("due_on", "pk")[:50].explain()
    return found | {"queries": len(asked), "by_index": float("tray_due" in plan)}


def _map(client: Any) -> dict[str, float]:
    """Time the drawing of 3,000 places, ours and by a plain template loop, and the whole page."""
    from django.template import engines

    from batches.services.bench_map import house_plans
    from batches.services.map_filters import Filters, benches_of_map, pages_of
    from batches.templatetags.bench_grid import bench_rows

    benches = pages_of(benches_of_map(filters=Filters(), today=TODAY))[0]
    (house,) = house_plans(today=TODAY, now=NOW, filters=Filters(), benches=benches)
    cells = [one for plan in house.benches for here in plan.places.values() for one in here]
    if len(cells) != CELLS:
        raise AssertionError(f"{len(cells)} cells instead of {CELLS}")
    loop = engines["django"].from_string(
        "{% for cell in cells %}<td><a class=\"cell{% if not cell.fits %} faded{% endif %}\" "
        "{% if cell.state != 'well' %}data-state=\"{{ cell.state }}\"{% endif %} "
        "href=\"{% url 'batches:tray' cell.code %}\">"
        "<svg class=\"glyph\" role=\"img\" aria-label=\"{{ cell.words }}\">"
        "<use href=\"#glyph-{{ cell.glyph }}\"/></svg><span>{{ cell.short }}</span></a></td>"
        "{% endfor %}"
    )  # fmt: skip
    return _by_turns(
        {
            "loop": lambda: loop.render({"cells": cells}),
            "ours": lambda: [bench_rows(plan) for plan in house.benches],
            "view": lambda: client.get("/bench-map/"),
        }
    )


def _trails() -> dict[int, dict[str, float]]:
    """Time the trails of lots of several sizes, and one recursive statement for the same steps."""
    from django.db import connection

    from batches.services.trace import trail_of
    from tests.simulate.large_lot import raise_lot

    raw = sqlite3.connect(connection.settings_dict["NAME"])
    found = {}
    for trays, mats in MATS.items():
        lot = raise_lot(mats=mats, today=TODAY, now=NOW)

        def by_sql(code: str = lot.code) -> list[Any]:
            return raw.execute(TRAIL, {"lot": code}).fetchall()

        if _steps_of(trail_of(code=lot.code)) != set(by_sql()):
            raise AssertionError(f"the trail of {lot.code} is not what plain SQL finds")
        found[trays] = _by_turns({"sql": by_sql, "ours": partial(trail_of, code=lot.code)})
    return found


def _steps_of(trail: Trail) -> set[tuple[object, ...]]:
    """Return the edges of a trail as the plain statement gives them, ids without dashes."""
    sent = {one.id: (one.on.isoformat(), one.unit, one.recipient) for one in trail.dispatches}
    none = (None, None, None)
    return {
        (
            edge.giver.code,
            edge.taker.code.replace("-", "") if edge.taker.code in sent else edge.taker.code,
            edge.left,
            edge.arrived,
            *sent.get(edge.taker.code, none),
        )
        for edge in trail.edges
    }


def _writers(folder: Path) -> list[Figure]:
    """Let eight writers send look after look, without a pause, to a server of this nursery.

    No photos: what they cost the server is no waiting for the database (`tablets` has them).
    """
    nursery = RunningNursery(folder)
    tablets, trays = make_tablets(nursery, tablets=WRITERS, trays=WRITERS * 20)
    nursery.start()
    try:
        cold = go_round(nursery, tablets, trays, seconds=1, pause=0, photos=False)
        done = go_round(nursery, tablets, trays, seconds=WRITE_S, pause=0, photos=False)
    finally:
        nursery.stop()
    slowest = 1_000 * max(done.seconds)
    name = f"{WRITERS} writers at once, {len(done.seconds):,} looks in {WRITE_S} s"
    lost = sum(tablet.made - len(tablet.stored) for tablet in tablets)
    refused = len(cold.refusals) + len(done.refusals) + lost
    first = 1_000 * max(cold.seconds)
    return [
        Figure(f"{name}: refused, locked or lost", refused, "looks", None, None, "= 0",
               refused == 0),
        Figure(f"{name}: the slowest answer", slowest, "ms", None, None, "≤ 500",
               slowest <= 500),
        Figure(f"{WRITERS} writers, the slowest answer in the first second after the start", first,
               "ms", None, None, "told", True),
    ]  # fmt: skip


def _sync(client: Any) -> dict[str, float]:
    """Time 1,000 looks in requests of 50, and 1,000 requests of one; each once, all stored."""
    from batches.models import Tray, TrayCheck
    from batches.services.generation import current_generation

    codes = list(Tray.objects.active().values_list("code", flat=True)[: 2 * LOOKS])
    before = TrayCheck.objects.count()

    def send(some: list[str], at_once: int) -> float:
        begun = time.process_time()
        for first in range(0, len(some), at_once):
            items = [
                _item(code, number) for number, code in enumerate(some[first : first + at_once])
            ]
            body = {"sent_at": NOW.isoformat(), "generation": current_generation(), "items": items}
            answer = client.post("/sync/", body, content_type="application/json").json()
            if {one["status"] for one in answer["results"]} != {"created"}:
                raise AssertionError(answer["results"][0])
        return 1_000 * (time.process_time() - begun)

    found = {"fifties": send(codes[:LOOKS], 50), "singles": send(codes[LOOKS:], 1)}
    if TrayCheck.objects.count() != before + 2 * LOOKS:
        raise AssertionError("not every look was stored")
    return found


def _item(code: str, number: int) -> dict[str, Any]:
    return {
        "id": str(uuid.uuid4()), "device_seq": number, "kind": "check", "tray": code,
        "by": "Bryn Hale", "occurred_at": (NOW - timedelta(minutes=5)).isoformat(),
    }  # fmt: skip
