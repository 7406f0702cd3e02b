"""Does the trail of a thing stand on one page?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import PlantMovement
from tests.factories import NOW, TODAY, BenchFactory, OrderFactory, TrayFactory
from tests.labels.paper import PRINTER
from tests.labels.paper import words as text_of
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_back_forward_and_counts_stand_on_one_page(hand):
    mat = TrayFactory()
    cells = TrayFactory(batch=mat.batch, cells_of_84=True, parents=[mat])
    PlantMovement.objects.create(
        tray=mat, on=TODAY, kind="out", quantity=40, arrived=84, to_tray=cells, recorded_at=NOW
    )
    PlantMovement.objects.create(
        tray=cells, on=TODAY, kind="dispatch", quantity=4, recipient="Marsh Lane Stall",
        recorded_at=NOW,
    )  # fmt: skip
    page = hand.get(reverse("batches:trace", args=[mat.batch.spore_lot.code])).content.decode()
    for words in (mat.code, cells.code, "84 plants", "Marsh Lane Stall", mat.batch.code):
        assert words in page


def test_a_code_in_any_case_leads_to_its_trail(hand):
    one = TrayFactory()
    answer = hand.get(reverse("batches:trace", args=[one.code.lower()]))
    assert answer["Location"] == reverse("batches:trace", args=[one.code])


def test_what_has_no_trail_says_so(hand):
    for code in (BenchFactory().code, "NOTHING"):
        answer = hand.get(reverse("batches:trace", args=[code]))
        assert answer.status_code == 404
        assert "No trail" in answer.content.decode()


def test_without_a_code_it_is_asked_for(hand):
    assert "Scan or type" in hand.get(reverse("batches:trace-start")).content.decode()
    answer = hand.get(reverse("batches:trace-start"), {"code": "T1"})
    assert answer["Location"] == reverse("batches:trace", args=["T1"])


def test_what_stood_on_a_bench_is_traced_by_its_days(hand):
    bench = BenchFactory()
    here = TrayFactory(bench=bench, started_on=TODAY - timedelta(days=50))
    later = TrayFactory(bench=bench, started_on=TODAY)
    days = {"bench": bench.code, "from": f"{TODAY - timedelta(days=20)}",
            "until": f"{TODAY - timedelta(days=10)}"}  # fmt: skip
    told = page(hand, "trace-start", **days)
    assert f">{here.code}<" in told
    assert here.batch.spore_lot.code in told
    assert f">{later.code}<" not in told
    assert f"bench {bench.code}" in told


def test_a_bench_asks_for_its_days_and_an_order_shows_what_was_sent_for_it(hand):
    bench = BenchFactory()
    answer = hand.get(reverse("batches:trace", args=[bench.code]))
    assert "which?" in answer.content.decode()
    assert f'<option value="{bench.code}" selected>' in answer.content.decode()
    pots = TrayFactory(carrier=True, counted=40)
    order = OrderFactory(taxon=pots.batch.taxon)
    sale = PlantMovement.objects.create(
        tray=pots, on=TODAY, kind="dispatch", quantity=4, recipient="Kiln Yard", order=order,
        recorded_at=NOW,
    )  # fmt: skip
    answer = hand.get(reverse("batches:trace", args=[order.code]), follow=True)
    told = answer.content.decode()
    for found in (pots.code, "Kiln Yard", "4 pots", pots.batch.spore_lot.code):
        assert found in told
    for asked in ({"sent": str(sale.pk)}, {"to": "kiln yard"}):
        assert pots.code in page(hand, "trace-start", **asked)
    bad = {"sent": "x"}, {"to": "Nobody"}, {"order": pots.code}, {"bench": "B", "from": "soon"}
    for asked in bad:
        answer = hand.get(reverse("batches:trace-start"), asked)
        assert answer.status_code == 404
        assert "No trail" in answer.content.decode()


@PRINTER
def test_a_trail_without_a_code_is_printed_with_its_recipients(hand, tmp_path):
    pots = TrayFactory(carrier=True, counted=40)
    PlantMovement.objects.create(
        tray=pots, on=TODAY, kind="dispatch", quantity=4, recipient="Kiln Yard", recorded_at=NOW
    )
    answer = hand.get(reverse("batches:trace-print-asked"), {"to": "Kiln Yard"})
    assert answer["Content-Type"] == "application/pdf"
    file = tmp_path / "trail.pdf"
    file.write_bytes(answer.content)
    text = text_of(file)
    for found in (pots.code, "Kiln Yard", "Who got of it", "4 pots", "What each tray came to"):
        assert found in text
    assert hand.get(reverse("batches:trace-print-asked"), {"to": "Nobody"}).status_code == 302
