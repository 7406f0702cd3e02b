"""Do the commands answer in the agreed form, from what was seen by their day?"""

from __future__ import annotations

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from batches.services import standing
from tests.factories import NOW, TODAY, BatchFactory, TaxonFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def answer(*args):
    out = StringIO()
    call_command(*args, "--json", stdout=out)
    return json.loads(out.getvalue())


@pytest.fixture
def pots():
    start = TODAY - timedelta(days=150)
    batch = BatchFactory(taxon=TaxonFactory(), started_on=start)
    one = TrayFactory(batch=batch, carrier=True, counted=100, started_on=start)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


def test_forecast_has_a_row_a_fern_and_week_named_by_its_last_day(pots):
    rows = answer("forecast", "--on", TODAY.isoformat(), "--weeks", "30", "--seed", "1")
    assert len(rows) == 30
    first = rows[0]
    assert set(first) == {
        "taxon", "week", "p10", "p50", "p90", "cumulative_p10", "cumulative_p50", "cumulative_p90",
    }  # fmt: skip
    year, week, _ = (TODAY + timedelta(days=7)).isocalendar()
    assert (first["taxon"], first["week"]) == (pots.batch.taxon.code, f"{year}-W{week:02d}")
    assert 0 < rows[-1]["cumulative_p50"] <= 100
    assert rows == answer("forecast", "--on", TODAY.isoformat(), "--weeks", "30", "--seed", "1")


def test_forecast_knows_nothing_of_trays_started_later(pots):
    before = (pots.started_on - timedelta(days=1)).isoformat()
    assert answer("forecast", "--on", before, "--weeks", "4") == []


def test_sowing_plan_has_the_agreed_form_and_says_why_not(pots):
    code = pots.batch.taxon.code
    by = (TODAY + timedelta(days=1_200)).isoformat()
    met = answer("sowing_plan", "--taxon", code, "--pots", "100", "--by", by)
    assert set(met) == {"taxon", "trays", "sow_by", "chance", "expected_pots", "reason", "table"}
    assert met["trays"] >= 1
    assert TODAY.isoformat() < met["sow_by"] < by
    assert met["chance"] >= 0.9
    assert set(met["table"][0]) == {"sow_on", "trays", "chance"}
    soon = (TODAY + timedelta(days=30)).isoformat()
    unmet = answer("sowing_plan", "--taxon", code, "--pots", "100", "--by", soon)
    assert (unmet["trays"], unmet["sow_by"]) == (None, None)
    assert "cannot" in unmet["reason"] or "at best" in unmet["reason"]


def test_an_unknown_fern_and_a_day_that_is_none_are_refused():
    with pytest.raises(CommandError):
        answer("sowing_plan", "--taxon", "NOTHING", "--pots", "1", "--by", "2027-01-01")
    with pytest.raises(CommandError, match="is not a day"):
        answer("forecast", "--on", "soon", "--weeks", "4")
