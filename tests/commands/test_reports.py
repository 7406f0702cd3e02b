"""Do the commands that answer questions give exactly the keys that scripts rely on?"""

from __future__ import annotations

import json
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from batches.models import Parentage, PlantMovement, Tray
from batches.services import standing
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    MediumBatchFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

START = TODAY - timedelta(days=200)


def said(*words: str) -> str:
    out = StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def answer(*words: str) -> Any:
    return json.loads(said(*words, "--json"))


@pytest.fixture
def mat() -> Tray:
    """A tray that showed mould after 40 days and green after 60, and was picked."""
    batch = BatchFactory(started_on=START)
    tray = TrayFactory(batch=batch, started_on=START)
    cells = TrayFactory(batch=batch, cells_of_84=True, started_on=TODAY - timedelta(days=9))
    TrayCheckFactory(tray=tray, seen_at=at(START + timedelta(days=40)), signs="mould")
    green = START + timedelta(days=60)
    TrayCheckFactory(tray=tray, seen_at=at(green), stage_seen="gametophyte")
    Parentage.objects.create(parent=tray, child=cells)
    PlantMovement.objects.create(
        tray=tray, on=cells.started_on, kind="out", quantity=80, to_tray=cells, recorded_at=NOW
    )
    standing.refold(trays=[tray, cells], recorded_at=NOW)
    return Tray.objects.get(pk=tray.pk)


def test_overdue_tells_what_is_late_by_falling_lateness(mat):
    lines = answer("overdue", "--on", TODAY.isoformat())
    assert {frozenset(line) for line in lines} == {frozenset({
        "tray", "lot", "taxon", "bench", "kind", "stage", "due_on", "days_late", "lateness",
        "reason",
    })}  # fmt: skip
    (look,) = [line for line in lines if (line["tray"], line["kind"]) == (mat.code, "look")]
    # The last look was on day 60; it has waited for the next one since.
    assert look["days_late"] == (TODAY - mat.look_due_on).days > 0
    assert look["due_on"] == mat.look_due_on.isoformat()
    lateness = [line["lateness"] for line in lines]
    assert lateness == sorted(lateness, reverse=True)


def test_overdue_knows_only_what_was_seen_by_its_day(mat):
    assert answer("overdue", "--on", (START - timedelta(days=1)).isoformat()) == []
    early = answer("overdue", "--on", (START + timedelta(days=50)).isoformat())
    assert "gametophyte" not in {line["stage"] for line in early}


def test_durations_count_every_tray_once(mat):
    rows = answer("durations", "--taxon", mat.batch.taxon.code)
    assert set(rows[0]) == {
        "taxon", "route", "stage", "next_stage", "trays", "seen", "still_waiting", "lost",
        "expected_days", "late_after_days", "stalled_share", "median_low", "median_high", "basis",
        "curve",
    }  # fmt: skip
    for row in rows:
        assert row["seen"] + row["still_waiting"] + row["lost"] == row["trays"]
    (sown,) = [row for row in rows if row["stage"] == "sown"]
    assert (sown["next_stage"], sown["trays"], sown["seen"]) == ("gametophyte", 1, 1)
    # Between the look on day 40 and the one on day 60: the only bracket there can be.
    assert sown["curve"] == [{"after_days": 40, "by_days": 60, "share": 1.0}]


def test_survival_counts_what_left_a_stage(mat):
    cells = mat.children.get()
    pots = TrayFactory(batch=mat.batch, carrier=True, started_on=TODAY)
    Parentage.objects.create(parent=cells, child=pots)
    for day, kind, quantity, to_tray in (
        (cells.started_on, "loss", 20, None),
        (TODAY, "out", 60, pots),
    ):
        PlantMovement.objects.create(
            tray=cells, on=day, kind=kind, quantity=quantity, to_tray=to_tray, recorded_at=NOW
        )
    standing.refold(trays=[cells, pots], recorded_at=NOW)
    (row,) = [row for row in answer("survival") if row["from_stage"] == "pricked_out"]
    assert set(row) == {
        "taxon", "from_stage", "to_stage", "trays", "plants_in", "plants_out", "rate", "low",
        "high", "expected_rate", "basis",
    }  # fmt: skip
    assert (row["to_stage"], row["trays"], row["plants_in"], row["plants_out"]) == (
        "potted_up", 1, 80, 60,
    )  # fmt: skip
    assert row["rate"] == pytest.approx(0.75)
    assert row["low"] < 0.75 < row["high"]


def test_shared_causes_count_affected_and_well_trays():
    bad, good = MediumBatchFactory(), MediumBatchFactory()
    for medium, signs in ((bad, "mould"), (good, "")):
        for _ in range(6):
            tray = TrayFactory(batch=BatchFactory(medium_batch=medium), started_on=START)
            TrayCheckFactory(tray=tray, seen_at=at(START + timedelta(days=40)), signs=signs)
    assert answer("shared_causes", "--sign", "mould", "--since", TODAY.isoformat()) == []
    lines = answer("shared_causes", "--sign", "mould", "--since", START.isoformat())
    assert {frozenset(line) for line in lines} == {frozenset({
        "factor", "value", "affected", "of", "others_affected", "of_others", "p",
        "cannot_be_told_apart",
    })}  # fmt: skip
    (line,) = [one for one in lines if (one["factor"], one["value"]) == ("media_batch", bad.code)]
    told = [line[name] for name in ("affected", "of", "others_affected", "of_others")]
    assert told == [6, 6, 0, 6]
    assert bad.code in said("shared_causes", "--sign", "mould", "--since", START.isoformat())


def test_a_trail_leads_back_and_forward(mat):
    cells = mat.children.get()
    forward = answer("trace", mat.code)
    assert set(forward) == {"code", "kind", "back", "forward", "edges"}
    assert (forward["code"], forward["kind"]) == (mat.code, "tray")
    assert {"code": cells.code, "kind": "tray"} in forward["forward"]
    assert [mat.code, cells.code, 80, 80] in forward["edges"]
    assert {"code": mat.code, "kind": "tray"} in answer("trace", cells.code)["back"]
    assert f"{mat.code} -> {cells.code}: 80 left, 80 arrived" in said("trace", mat.code)


def test_a_stored_date_that_was_tampered_with_is_found(mat):
    assert answer("check_stored_dates") == {"trays": 2, "differing": 0}
    Tray.objects.filter(pk=mat.pk).update(look_due_on=TODAY + timedelta(days=99))
    assert answer("check_stored_dates") == {"trays": 2, "differing": 1}
    assert mat.code in said("check_stored_dates")


@pytest.mark.parametrize("command", ["durations", "survival"])
def test_a_fern_that_is_not_there_is_told_in_words(command):
    with pytest.raises(CommandError, match="NOBODY"):
        call_command(command, "--taxon", "NOBODY")
