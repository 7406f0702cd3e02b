"""Are stage times reckoned beside the pages, one process at a time, and do they stop when told?"""

from __future__ import annotations

import threading
import time
from datetime import datetime, timedelta

import pytest
from django.db import connection, connections

from batches.models import StageFit, Taxon
from batches.services import refit_rounds, refits, standing
from batches.services.refit_rounds import reckon_round, rounds
from batches.services.refits import Refit, refit
from tests.factories import NOW, TODAY, BatchFactory, TrayCheckFactory, TrayFactory, at


def logged_tray():
    """A tray whose first green was just logged: its fern's times are due to be reckoned."""
    start = TODAY - timedelta(days=30)
    tray = TrayFactory(batch=BatchFactory(started_on=start), started_on=start, stage_seen_on=start)
    TrayCheckFactory(tray=tray, seen_at=at(TODAY - timedelta(days=9)))
    TrayCheckFactory(tray=tray, seen_at=at(TODAY - timedelta(days=2)), stage_seen="gametophyte")
    standing.refold(trays=[tray], recorded_at=NOW)
    return tray


def reckoned(now: datetime) -> Refit:
    """Reckon a round that no other process has taken."""
    found = reckon_round(now=now)
    assert found is not None
    return found


@pytest.mark.django_db
def test_a_round_reckons_what_moved_on_and_then_nothing():
    tray = logged_tray()
    assert reckoned(NOW).ferns == 1
    assert StageFit.objects.get(taxon=tray.batch.taxon, stage="sown").trays == 1
    assert reckoned(NOW).fits == 0


@pytest.mark.django_db
def test_the_first_round_of_a_day_reckons_every_fern():
    logged_tray()
    logged_tray()
    reckon_round(now=NOW)
    assert not Taxon.objects.filter(fit_due=True).exists()
    tomorrow = NOW + timedelta(days=1)
    assert reckoned(tomorrow).fits == 4
    assert reckoned(tomorrow).fits == 0


@pytest.mark.django_db
def test_what_is_logged_while_it_reckons_is_reckoned_in_the_next_round(monkeypatch):
    tray = logged_tray()
    reckon = refits._reckon

    def slowly(taxa, *, on):
        found = reckon(taxa, on=on)
        Taxon.objects.filter(pk=tray.batch.taxon_id).update(fit_due=True)  # a look comes in
        return found

    monkeypatch.setattr("batches.services.refits._reckon", slowly)
    reckon_round(now=NOW)
    assert Taxon.objects.get(pk=tray.batch.taxon_id).fit_due


@pytest.mark.django_db
def test_a_round_that_fails_leaves_its_ferns_due(monkeypatch):
    tray = logged_tray()

    def full(*_, **__):
        raise OSError("the disk is full")

    monkeypatch.setattr("batches.services.refits._store", full)
    with pytest.raises(OSError, match="full"):
        refit(on=TODAY, now=NOW)
    assert Taxon.objects.get(pk=tray.batch.taxon_id).fit_due


def beside_the_pages(rounds_done: list[object], how_many: int) -> None:
    """Let rounds go by in their thread until so many are done, or ten seconds.

    Without a pause between rounds: a test must hold on whatever day the clock says, and a pause in
    a thread does not end while the clock is set to another day.
    """
    with rounds(clock=lambda: NOW, every=0.0):
        until = time.monotonic() + 10
        while len(rounds_done) < how_many and time.monotonic() < until:
            time.sleep(0.01)


@pytest.mark.django_db(transaction=True)
def test_the_thread_reckons_by_itself_and_ends_with_the_server(monkeypatch):
    tray = logged_tray()
    done: list[object] = []

    def once(*, now):
        if not done:  # the table is not read here while a further round writes to it
            done.append(reckon_round(now=now))

    monkeypatch.setattr(refit_rounds, "reckon_round", once)
    beside_the_pages(done, 1)
    assert StageFit.objects.filter(taxon=tray.batch.taxon).exists()
    assert "stage-times" not in {thread.name for thread in threading.enumerate()}


def test_a_fault_in_one_round_does_not_end_the_next(monkeypatch, caplog):
    asked: list[object] = []

    def broken(*, now):
        asked.append(1)
        raise OSError("the database went away")

    monkeypatch.setattr(refit_rounds, "reckon_round", broken)
    monkeypatch.setattr(refit_rounds, "close_old_connections", lambda: None)
    beside_the_pages(asked, 3)
    assert len(asked) >= 3
    assert "tried again soon" in caplog.text


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_another_process_at_it_is_left_the_round():
    logged_tray()
    answers: list[object] = []

    def elsewhere() -> None:
        try:
            answers.append(reckon_round(now=NOW))
        finally:
            connections.close_all()

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [refit_rounds._TURN])
        other = threading.Thread(target=elsewhere)
        other.start()
        other.join(30)
        cursor.execute("SELECT pg_advisory_unlock(%s)", [refit_rounds._TURN])
    assert answers == [None]
    assert reckoned(NOW).ferns == 1
