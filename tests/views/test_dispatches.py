"""Do the dispatch list and the availability list say what is there, as pages, files and prints?"""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.services.availability import availability
from batches.services.dispatch_list import to_pick
from batches.services.dispatching import dispatch
from tests.factories import NOW, TODAY, OrderFactory, TaxonFactory, TrayFactory
from tests.labels.paper import PRINTER, words
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def ready(taxon, pots, **more):
    return TrayFactory(
        batch__taxon=taxon, carrier=True, stage="ready", start_stage="ready", counted=pots, **more
    )


def rows_of(client, name, **query):
    text = client.get(reverse(f"batches:{name}"), query).content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_ready_promised_and_coming_pots_are_told_apart():
    fern = TaxonFactory()
    ready(fern, 60)
    ready(fern, 40)
    ready(fern, 500, isolated=True)
    for days, pots in ((30, 10), (-5, 20)):
        TrayFactory(
            batch__taxon=fern, carrier=True, stage="potted_up", counted=pots,
            expected_on=TODAY + timedelta(days=days),
        )  # fmt: skip
    OrderFactory(taxon=fern, quantity=70, pot_size="9 cm")
    OrderFactory(taxon=fern, quantity=70, pot_size="9 cm", closed_on=TODAY)
    (row,) = availability(today=TODAY)
    assert (row.size, row.ready, row.promised, row.free, row.coming) == ("9 cm", 100, 70, 30, 30)
    assert row.expected_from == TODAY


def test_an_order_for_what_is_not_there_shows_as_short(office):
    OrderFactory(quantity=7, pot_size="9 cm")
    (row,) = availability(today=TODAY)
    assert row.free == -7
    assert "short" in page(office, "availability")
    assert rows_of(office, "availability-csv")[0]["free"] == "0"


def test_earlier_orders_take_first_and_older_trays_are_taken_from_first():
    fern = TaxonFactory()
    young = ready(fern, 50, started_on=TODAY - timedelta(days=10))
    old = ready(fern, 30, started_on=TODAY - timedelta(days=90))
    other = ready(fern, 99, pot_size="1 L")
    later = OrderFactory(
        taxon=fern, quantity=60, pot_size="9 cm", wanted_on=TODAY + timedelta(days=9)
    )
    sooner = OrderFactory(
        taxon=fern, quantity=40, pot_size="9 cm", wanted_on=TODAY + timedelta(days=2)
    )
    first, second = to_pick()
    assert (first.order, second.order) == (sooner, later)
    assert [(pick.tray, pick.pots) for pick in first.picks] == [(old, 30), (young, 10)]
    assert [(pick.tray, pick.pots) for pick in second.picks] == [(young, 40)]
    assert (first.short, second.short) == (0, 20)
    assert other not in [pick.tray for one in (first, second) for pick in one.picks]


def test_what_left_is_a_page_and_a_file_of_the_days_asked_for(office):
    tray = ready(TaxonFactory(), 60, started_on=TODAY - timedelta(days=90))
    for days, who in ((1, "=1+1 Gardens"), (40, "Rill Cottage")):
        dispatch(
            tray=tray, quantity=5, on=TODAY - timedelta(days=days), by="Odile Marsh", now=NOW,
            recipient=who,
        )  # fmt: skip
    assert "Rill Cottage" in page(office, "dispatches")
    since = {"from": (TODAY - timedelta(days=7)).isoformat()}
    assert "Rill Cottage" not in page(office, "dispatches", **since)
    (row,) = rows_of(office, "dispatches-csv", **since)
    assert (row["quantity"], row["tray"], row["unit"]) == ("5", tray.code, "pots")
    assert not row["recipient"].startswith("=")


@PRINTER
def test_both_lists_are_printed(office, tmp_path):
    fern = TaxonFactory()
    tray = ready(fern, 60)
    order = OrderFactory(taxon=fern, quantity=7, customer="Rill Cottage", pot_size="9 cm")
    told = {
        "availability": ("53", fern.name.text),
        "dispatches": (order.code, f"7 of {tray.code}", "Rill Cottage"),
    }
    for name, parts in told.items():
        file = tmp_path / f"{name}.pdf"
        file.write_bytes(office.get(reverse(f"batches:{name}-print")).content)
        for part in parts:
            assert part in words(file)
        assert reverse(f"batches:{name}-print") in page(office, name)


def test_a_line_to_pick_leads_to_the_dispatch_filled_in(office):
    fern = TaxonFactory()
    tray = ready(fern, 60)
    order = OrderFactory(taxon=fern, quantity=7, customer="Rill Cottage", pot_size="9 cm")
    address = f"{reverse('batches:tray-deed', args=[tray.code, 'dispatch'])}?order={order.code}"
    assert f"{address}&amp;quantity=7" in page(office, "dispatches")
    told = office.get(f"{address}&quantity=7").content.decode()
    assert f'<option value="{order.code}" selected>' in told
    assert 'name="quantity" value="7"' in told


def test_the_lists_ask_the_database_as_often_for_thirty_rows_as_for_three(office):
    def queries(name):
        with CaptureQueriesContext(connection) as seen:
            page(office, name)
        return len(seen)

    counts = []
    for more in (3, 27):
        for _ in range(more):
            fern = TaxonFactory()
            tray = ready(fern, 60, started_on=TODAY - timedelta(days=90))
            OrderFactory(taxon=fern, quantity=7)
            dispatch(tray=tray, quantity=5, on=TODAY, by="Odile Marsh", now=NOW)
        counts.append((queries("availability"), queries("dispatches")))
    assert counts[0] == counts[1]
