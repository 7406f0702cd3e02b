"""Is it all or nothing, whatever happens on the way, and are the queries bounded?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from batches.core.errors import ChangedMeanwhile
from batches.models import CodeEntry, Tray, TrayCheck
from batches.services import standing
from batches.services.records_io import codes_taken, import_records, storing
from batches.services.records_io.inserting import PORTION, insert
from tests.services.records_io.contradictions import NEW_ID
from tests.services.records_io.folders import NOW, small, write

pytestmark = pytest.mark.django_db


def everything() -> dict[str, int]:
    from django.apps import apps

    models = apps.get_app_config("batches").get_models()
    return {model.__name__: model._default_manager.count() for model in models}


def test_a_dry_run_checks_everything_and_stores_nothing(take_in):
    before = everything()
    result = take_in(small(), dry_run=True)
    assert result.dry_run
    assert result.counts["trays.csv"] == 4
    assert everything() == before
    files = small()
    files["trays"][0]["batch"] = "X"
    assert take_in(files, dry_run=True).errors


@pytest.mark.parametrize("step", range(1, 22))
def test_a_failure_at_any_step_of_storing_leaves_nothing_behind(take_in, monkeypatch, step):
    steps = 0

    def failing(original: Callable[..., object]) -> Callable[..., object]:
        def run(*args: object, **more: object) -> object:
            nonlocal steps
            steps += 1
            if steps == step:
                raise OSError(28, "No space left on device")
            return original(*args, **more)

        return run

    before = everything()
    monkeypatch.setattr(storing, "insert", failing(insert))
    monkeypatch.setattr(codes_taken, "insert", failing(insert))
    monkeypatch.setattr(codes_taken, "_raise_counters", failing(codes_taken._raise_counters))
    monkeypatch.setattr(standing, "refold", failing(standing.refold))
    try:
        take_in(small())
    except OSError:
        assert everything() == before
    else:
        assert steps < step
        assert steps >= 15


def test_somebody_who_takes_a_code_meanwhile_makes_the_import_start_again(take_in, monkeypatch):
    original = storing._claim

    def taken_before(revisions: dict[str, int]) -> None:
        CodeEntry.objects.create(code="A.2", folded="a.2", kind="tray")
        original(revisions)

    monkeypatch.setattr(storing, "_claim", taken_before)
    with pytest.raises(ChangedMeanwhile, match="Nothing was stored: import again"):
        take_in(small())
    assert not Tray.objects.exists()


def test_somebody_who_writes_to_a_tray_meanwhile_makes_the_import_start_again(take_in, monkeypatch):
    take_in(small())
    original = storing._claim

    def written_before(revisions: dict[str, int]) -> None:
        standing.claim(Tray.objects.get(code="A.2"))
        original(revisions)

    monkeypatch.setattr(storing, "_claim", written_before)
    loss = {"id": NEW_ID, "tray": "A.2", "on": "2026-11-20", "kind": "loss", "quantity": "10"}
    with pytest.raises(ChangedMeanwhile, match="Nothing was stored"):
        take_in({"movements": [loss]})
    assert Tray.objects.get(code="A.2").alive == 80


def many_looks(how_many: int) -> dict[str, Any]:
    files = small()
    looks = files["checks"]
    for number in range(how_many):
        looks.append(
            {
                "id": f"5a000000-0000-4000-8000-{number:012d}",
                "tray": "A.1" if number % 2 else "B.1",
                "seen_at": (NOW - timedelta(days=30, minutes=number)).isoformat(),
                "by": "Bram",
            }
        )
    return files


def test_the_number_of_queries_grows_with_portions_not_with_rows(take_in, tmp_path):
    counts = []
    for how_many in (3, 30):
        from tests.services.records_io.emptying import empty_nursery

        empty_nursery()
        folder = write(tmp_path / f"many-{how_many}", many_looks(how_many))
        with CaptureQueriesContext(connection) as seen:
            assert not import_records(path=folder, now=NOW, by="").errors
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_rows_beyond_one_portion_are_stored_and_told(take_in):
    told: list[tuple[str, int, int]] = []
    files = many_looks(PORTION + 10)
    result = take_in(files, progress=lambda *step: told.append(step))
    assert not result.errors
    assert TrayCheck.objects.count() == PORTION + 16
    storing_steps = [(done, total) for what, done, total in told if what == "storing"]
    assert [done for done, _ in storing_steps] == sorted(done for done, _ in storing_steps)
    assert storing_steps[-1][0] == storing_steps[-1][1]
    assert any(what == "reading checks.csv" for what, _, _ in told)


def test_an_integrity_error_is_told_in_words(take_in, monkeypatch):
    def break_a_rule(**_: object) -> int:
        raise IntegrityError("UNIQUE constraint failed")

    monkeypatch.setattr(standing, "refold", break_a_rule)
    with pytest.raises(ChangedMeanwhile):
        take_in(small())
    assert not Tray.objects.exists()


def test_what_is_stored_equals_what_the_history_gives(take_in):
    take_in(small())
    trays, differing = standing.differing()
    assert (trays, differing) == (4, ())
