"""Do Today, the map, its filter and the tablets call the same trays late?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.models import Tray
from batches.services.bench_day import bench_day
from batches.services.bench_map import state_of
from batches.services.due_entries import due_entries
from batches.services.overdue import overdue_lines
from batches.services.shut_places import ShutPlaces
from tests.factories import NOW, TODAY, TrayFactory

#: name → (days since the late day, days since the last close look, stored columns of the tray)
TRAYS = {
    "seen late": (9, 3, {}),
    "seen on the late day": (9, 9, {}),
    "late today, seen today": (0, 0, {}),
    "past its late day, seen before it": (9, 20, {}),
    "past its late day, never seen": (9, None, {}),
    "late tomorrow": (-1, 0, {}),
    "ended": (9, 3, {"ended_on": TODAY, "end": "discarded", "end_cause": "mould"}),
}
LATE = {"seen late", "seen on the late day", "late today, seen today"}
#: the tests' present lies in week 24
RESTS = {
    "resting": (20, 26), "resting over New Year": (22, 3), "late in a rest over New Year": (45, 24),
    "resting in spring": (8, 12), "resting from autumn on": (44, 10),
}  # fmt: skip


@pytest.mark.django_db
def test_late_is_the_same_on_every_page() -> None:
    codes: dict[str, str] = {}
    for name, (since, looked, more) in TRAYS.items():
        codes[name] = _tray(since, looked, **more).code
    for name, (first, last) in RESTS.items():
        codes[name] = _tray(
            9, 3, cells_of_84=True, batch__bought_in=True,
            batch__source__taxon__rest_from_week=first, batch__source__taxon__rest_to_week=last,
        ).code  # fmt: skip
    late = LATE | {"resting in spring", "resting from autumn on"}
    names = {code: name for name, code in codes.items()}

    nowhere_shut = ShutPlaces(shut={}, returns=())
    trays = Tray.objects.with_fern()
    told: dict[str, set[str | None]] = {
        "Today": {x.tray for x in overdue_lines(on=TODAY, today=TODAY) if x.kind == "stage"},
        "Today in brief": {x.tray for x in due_entries(on=TODAY, now=NOW) if x.kind == "stage"},
        "the map": {x.code for x in trays.active()
                    if state_of(x, today=TODAY, shut=nowhere_shut) == "late"},
        "its filter": {x.code for x in trays.late_in_stage(TODAY)},
        "one by one": {x.code for x in trays if x.is_late_in_stage(TODAY)},
        "tablets": {x["code"] for x in bench_day(today=TODAY, now=NOW)["trays"] if x["late"]},
    }  # fmt: skip
    for place, found in told.items():
        assert {names[code] for code in found if code} == late, place


def _tray(since: int, looked: int | None, **more: object) -> Tray:
    """Return a tray whose late day was ``since`` days ago, last looked at closely then."""
    last = None if looked is None else TODAY - timedelta(days=looked)
    late_on = TODAY - timedelta(days=since)
    tray: Tray = TrayFactory(
        late_on=late_on, due_on=min(late_on, TODAY), look_due_on=min(late_on, TODAY),
        last_look_on=last, last_close_look_on=last, **more,
    )  # fmt: skip
    return tray
