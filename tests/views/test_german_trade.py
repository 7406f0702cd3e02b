"""Is no English word left on the pages of orders, passports, holds, trails, forecast and sums?"""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import AlarmDrill, Person, TrayHold
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    BenchFactory,
    MediumBatchFactory,
    OrderFactory,
    PlantMovementFactory,
    SporeLotFactory,
    TrayCheckFactory,
    TrayFactory,
)
from tests.views.test_german import english_in
from tests.views.test_german_office import MORE_ENGLISH, TEMPLATES

FOLDERS = (
    "availability", "orders", "dispatches", "passports", "holds", "drills", "trace",
    "shared_causes", "forecast", "sowing_plan", "reckon",
)  # fmt: skip
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def english(answer) -> list[str]:
    """Return what is left in English on a page."""
    return english_in(answer, MORE_ENGLISH)


def test_the_pages_of_the_trade_are_marked() -> None:
    for folder in FOLDERS:
        for path in (TEMPLATES / folder).glob("*.html"):
            assert "{% translate" in path.read_text(encoding="utf-8"), path


@pytest.fixture
def german(manager, manager_person):
    """A manager who reads German, and a lot that became pots, some of them sent and ordered."""
    Person.objects.filter(pk=manager_person.pk).update(language="de")
    Person.objects.create_user("Una Tarn", role="manager")
    bench = BenchFactory(name="Tisch 1", rows=9, columns=9, house__name="Haus 1")
    mix = MediumBatchFactory(code="M26-001-X", treatment="steam")
    lot = SporeLotFactory(code="L26-001-N", taxon__common_name="Wurmfarn")
    batch = BatchFactory(taxon=lot.taxon, spore_lot=lot, medium_batch=mix)
    mat = TrayFactory(batch=batch, bench=bench, stage="first_frond", counted=30, unit="patches")
    cells = TrayFactory(batch=batch, cells_of_84=True, counted=80, parents=[mat], bench=bench)
    order = OrderFactory(taxon=lot.taxon, code="R26-001-B", pot_size="9 cm")
    OrderFactory(taxon=lot.taxon, wanted_on=TODAY - timedelta(days=9), code="R26-002-C")
    for row in range(2):
        pots = TrayFactory(batch=batch, carrier=True, counted=40, parents=[cells], stage="ready",
                           pot_size="9 cm", bench=bench, row=row + 1, column=1)  # fmt: skip
        TrayCheckFactory(tray=pots, seen_at=NOW - timedelta(days=1), by="Bryn Hale", signs="mould")
    sent = PlantMovementFactory(tray=pots, kind="dispatch", quantity=7, order=order, on=TODAY)
    PlantMovementFactory(tray=pots, kind="dispatch", quantity=1, recipient="", on=TODAY)
    return {"client": manager, "lot": lot, "mat": mat, "pots": pots, "bench": bench, "sent": sent,
            "order": order, "mix": mix}  # fmt: skip


def trails(nursery) -> list[str]:
    """Return the addresses of a trail of each kind, and of what has none."""
    codes = [nursery[kind].code for kind in ("lot", "mat", "pots", "mix", "bench")]
    batch = nursery["pots"].batch
    codes += [batch.code, batch.spore_lot.source.code, "NICHTS"]
    asked = [
        {},
        {"bench": nursery["bench"].code},
        {"bench": nursery["bench"].house.code, "from": "2026-11-24", "until": "2026-11-01"},
        {"bench": nursery["bench"].code, "from": "gestern"},
        {"sent": nursery["sent"].pk},
        {"sent": uuid4()},
        {"to": nursery["sent"].recipient, "from": "2020-01-01"},
        {"to": "Niemand", "until": "2026-11-01"},
        {"order": nursery["order"].code, "until": TODAY},
        {"order": nursery["lot"].code},
    ]
    start = reverse("batches:trace-start")
    return [reverse("batches:trace", args=[code]) for code in codes] + [
        f"{start}?{urlencode(query)}" for query in asked
    ]


def sums() -> list[str]:
    """Return the addresses of the small sums, asked and answered."""
    answered: dict[str, dict[str, object]] = {
        "suspension": {"counts": "20 30", "dilution": 1, "ml_counted": 0.0001, "want": 5000,
                       "ml": 200},
        "density": {"trays": 3, "cm2": 693, "per_cm2": 60, "germination": 60, "strength": 5000,
                    "per_mg": 4000},
        "mix": {"containers": 84, "ml_each": 30, "recipe": "torf:2 perlit:1", "loss": 15},
        "feed": {"nitrogen": 20, "mg_n": 50, "litres": 10, "injector": 100},
    }  # fmt: skip
    thin = answered["suspension"] | {"counts": "0 0", "want": 9_000_000}
    asked: list[tuple[str, dict[str, object]]] = [(what, {}) for what in answered] + [
        *answered.items(),
        ("suspension", thin),
    ]
    return [
        reverse("batches:reckon", args=[what])
        + (f"?reckon=yes&{urlencode(query)}" if query else "")
        for what, query in asked
    ]


def test_no_english_word_is_left_on_the_pages_of_the_trade(german) -> None:
    names = ("orders", "order-new", "dispatches", "availability", "passports", "passport-settings",
             "holds", "drills", "shared-causes", "forecast", "sowing-plan")  # fmt: skip
    fern = german["lot"].taxon.code
    plan = reverse("batches:sowing-plan")
    pages = [reverse(f"batches:{name}") for name in names] + trails(german) + sums()
    pages += [
        reverse("batches:orders") + "?show=all",
        reverse("batches:orders") + "?show=gone",
        reverse("batches:shared-causes") + "?sign=rot&since=2020-01-01",
        reverse("batches:shared-causes") + "?sign=nichts&since=morgen",
        reverse("batches:forecast") + f"?fern={fern}",
        reverse("batches:forecast") + "?fern=NICHTS",
        f"{plan}?fern={fern}&pots=200&by=2029-05-01",
        f"{plan}?fern={fern}&pots=200&by=2026-12-05",
        f"{plan}?fern={fern}&pots=0&by=2049-12-05",
        reverse("batches:hold-new") + f"?code={german['lot'].code}",
        reverse("batches:hold-new") + f"?bench={german['bench'].code}",
    ]
    client = german["client"]
    left = {address: words for address in pages if (words := english(client.get(address)))}
    assert left == {}


def test_no_english_word_is_left_where_the_trade_is_done_or_refused(german) -> None:
    hold = reverse("batches:hold-new") + f"?code={german['lot'].code}"
    order, plan = german["order"].code, reverse("batches:sowing-plan")
    fern = german["lot"].taxon.code
    made = {"taxon": fern, "quantity": 9, "wanted_on": "2027-05-01", "record_id": uuid4()}
    terms = {"form": "EU", "member_state": "IE", "registration": "51266", "origin": "IE"}
    deeds = [
        (reverse("batches:order-new"), {"record_id": uuid4()}),
        (reverse("batches:order-new"), made | {"quantity": 0}),
        (reverse("batches:order-new"), made | {"wanted_on": "2026-01-01"}),
        (reverse("batches:order-new"), made),
        (reverse("batches:order-close", args=[order]), {"deed": "close"}),
        (reverse("batches:order-close", args=[order]), {"deed": "open"}),
        (reverse("batches:orders"), {}),
        (reverse("batches:passport-settings"), terms | {"registration": ""}),
        (reverse("batches:passport-settings"), terms | {"member_state": "1"}),
        (reverse("batches:passport-settings"), terms),
        (reverse("batches:drills"), {"code": "NICHTS"}),
        (reverse("batches:drills"), {"code": ""}),
        (plan, {"fern": fern, "pots": 9, "by": "2029-05-01", "sow_on": "morgen"}),
        (plan, {"fern": fern, "pots": 9, "by": "2029-05-01", "sow_on": "2029-04-30"}),
        (plan, {"fern": fern, "pots": 9, "by": "2029-05-01", "sow_on": "2026-12-01"}),
        (reverse("batches:tray-deed", args=[german["pots"].code, "dispatch"]),
         {"quantity": 2, "recipient": "Kahnhof", "on": TODAY, "order": order,
          "revision": german["pots"].revision, "record_id": uuid4()}),
        (hold, {"reason": ""}),
        (hold, {"reason": "Flecken auf Wedeln.", "record_id": uuid4()}),
        (reverse("batches:tray-deed", args=[german["pots"].code, "dispatch"]), {"quantity": 1}),
    ]  # fmt: skip
    client = german["client"]
    left: dict[str, list[str]] = {}
    for address, fields in deeds:
        answer = client.post(address, fields, follow=True)
        left |= {f"{address} {fields}": words} if (words := english(answer)) else {}
    held = TrayHold.objects.order_by("pk")[0].alarm
    alarm, lift = reverse("batches:hold", args=[held]), reverse("batches:hold-lift", args=[held])
    drill = reverse("batches:drill", args=[AlarmDrill.objects.get().pk])
    for address, fields in (
        (lift, {"reason": "Geprüft."}),
        (lift, {"reason": "Geprüft.", "which": "all"}),
        (lift, {"reason": "Geprüft.", "which": "all"}),
        (drill, {"tray": [german["pots"].code]}),
        (drill, {}),
    ):
        for answer in (client.get(alarm), client.post(address, fields, follow=True)):
            left |= {f"{address} {fields}": words} if (words := english(answer)) else {}
    for name in ("drills", "holds", "orders", "passports"):
        words = english(client.get(reverse(f"batches:{name}")))
        left |= {name: words} if words else {}
    assert left == {}
