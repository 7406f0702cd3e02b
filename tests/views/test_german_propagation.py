"""Is no English word left on the pages of ferns, houses, lots, batches, origins and registers?"""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import Examination, HouseReading, Person, Source, SporeLot, Treatment
from batches.services.language import said
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    BenchFactory,
    GerminationTestFactory,
    LaidOutTrayFactory,
    MediumBatchFactory,
    SourceFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
)
from tests.views.test_german import english_in
from tests.views.test_german_office import MORE_ENGLISH, TEMPLATES

FOLDERS = (
    "ferns", "houses", "lots", "batches", "stock_plants", "media", "readings", "examinations",
    "treatments", "sow", "search",
)  # fmt: skip
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def english(answer) -> list[str]:
    """Return what is left in English on a page; a cultivar keeps its name in every language."""
    return [
        text
        for text in english_in(answer, MORE_ENGLISH)
        if "The King" not in text and "doi 10." not in text
    ]


def test_the_pages_of_propagation_are_marked() -> None:
    for folder in FOLDERS:
        texts = [path.read_text(encoding="utf-8") for path in (TEMPLATES / folder).glob("*.html")]
        assert any("{% translate" in text for text in texts), folder


def test_the_pages_of_every_long_list_are_counted_in_german() -> None:
    texts = " ".join(path.read_text(encoding="utf-8") for path in TEMPLATES.rglob("*.html"))
    for things in set(re.findall(r'_pager.html" with[^%]* things="(\w+)"', texts)):
        for words in (f"1–50 of 135 {things}", f"More {things}"):
            assert said(words, language="de") != words


@pytest.fixture
def german(manager, manager_person):
    """A manager who reads German; a fern from wild spores to a struck-out tray, and registers."""
    Person.objects.filter(pk=manager_person.pk).update(language="de")
    bench = BenchFactory(name="Tisch 1", rows=9, columns=9, house__name="Haus 1")
    fern = TaxonFactory(
        common_name="Schildfarn", cultivar="Divisilobum", rest_from_week=44, rest_to_week=8,
        protection="BNatSchG",
    )  # fmt: skip
    plant = SourceFactory(taxon=fern, bench=bench, ripe_from_week=30, ripe_to_week=50)
    wild = SourceFactory(taxon=fern, kind="wild", provenance="W", locality="Moorklamm")
    bought = SourceFactory(taxon=fern, kind="purchase", supplier="Kahnhof")
    kept = {"storage": "Tüte"}
    lot = SporeLotFactory(code="L26-001-N", source=plant, **kept)
    drying = SporeLotFactory(
        source=wild, collected_on=TODAY - timedelta(days=30), drying_since=TODAY, mass_mg=None,
        cleaned_on=None, remaining_mg=None, storage="",
    )  # fmt: skip
    ended = SporeLotFactory(source=plant, ended_on=TODAY, **kept)
    for germinated in (83, 90):
        GerminationTestFactory(lot=lot, germinated=germinated)
    GerminationTestFactory(lot=lot, sown_on=TODAY - timedelta(days=40), counted_on=None,
                           counted=None, germinated=None)  # fmt: skip
    mix = MediumBatchFactory(recipe="torf:2 perlite:1", treatment="steam", temperature_c=50)
    MediumBatchFactory(recipe="torf:1", treatment="", temperature_c=None, minutes=None)
    batch = BatchFactory(spore_lot=lot, medium_batch=mix, sown_mg=12.5)
    there = {"batch": batch, "container": "Schale"}
    mat = TrayFactory(bench=bench, row=1, column=1, stage="first_frond", counted=40,
                      unit="patches", label_printed_on=None, **there)  # fmt: skip
    TrayFactory(control=True, **there)
    TrayFactory(ended_on=TODAY, end="discarded", **there)
    LaidOutTrayFactory(batch=batch, container="Zellplatte")
    TrayCheckFactory(tray=mat, seen_at=NOW - timedelta(days=1), by="Bryn Hale", signs="rogue_fern")
    HouseReading.objects.create(house=bench.house, on=TODAY, lowest_c=-1.5, recorded_at=NOW)
    Treatment.objects.create(
        product="Nützlinge", operator="Bryn Hale", place_or_trays=bench.code, done_at=NOW,
        reentry_hours=4, recorded_at=NOW,
    )  # fmt: skip
    Examination.objects.create(on=TODAY, examiner="Bryn Hale", place_or_trays=bench.code,
                               looked_for="Rost", recorded_at=NOW)  # fmt: skip
    return {"client": manager, "fern": fern, "bench": bench, "plant": plant, "wild": wild,
            "bought": bought,
            "lot": lot, "drying": drying, "ended": ended, "batch": batch, "mat": mat,
            "house": bench.house, "mix": mix}  # fmt: skip


def left_in_english(client, asked) -> dict[str, list[str]]:
    """Return the English of each address (and what it is sent), where there is any."""
    left: dict[str, list[str]] = {}
    for address, fields in asked:
        answer = (
            client.get(address) if fields is None else client.post(address, fields, follow=True)
        )
        words = english(answer)
        assert answer.status_code in {200, 404, 422}, (address, answer.status_code)
        left |= {f"{address} {fields or ''}": words} if words else {}
    return left


def test_no_english_word_is_left_on_the_pages_of_propagation(german) -> None:
    names = ("ferns", "fern-new", "starter-ferns", "houses", "house-new", "bench-new", "lots",
             "lot-new", "batches", "stock-plants", "stock-plant-new", "media", "medium-new",
             "readings", "examinations", "examination-new", "treatments", "treatment-new", "sow",
             "search")  # fmt: skip
    named = [("fern", "fern"), ("fern-edit", "fern"), ("fern-windows", "fern"),
             ("house-edit", "house"), ("bench", "bench"), ("bench-edit", "bench"), ("lot", "lot"),
             ("lot", "drying"), ("lot", "ended"), ("batch", "batch"), ("stock-plant", "plant"),
             ("stock-plant", "wild"), ("stock-plant-edit", "wild"),
             ("select-form", "mat")]  # fmt: skip
    pages = [reverse(f"batches:{name}") for name in names]
    named += [("lot", "batch"), ("batch", "lot"), ("fern", "mat"), ("bench", "fern"),
              ("stock-plant", "lot"), ("select-form", "plant")]  # fmt: skip
    pages += [reverse(f"batches:{name}", args=[german[of].code]) for name, of in named]
    pages += [reverse(f"batches:{name}", args=["L26-001-X"]) for name in ("lot", "batch", "fern")]
    pages += [
        reverse("batches:sow-route", args=[way])
        for way in ("spores", "bulbils", "division", "bought-in")
    ]
    pages += [
        reverse("batches:treatment-mend", args=[Treatment.objects.get().pk]),
        reverse("batches:sow-route", args=["spores"]) + f"?lot={german['lot'].code}",
        reverse("batches:search") + "?q=Schild",
        reverse("batches:search") + "?q=nichts",
        reverse("batches:search") + f"?q={german['mat'].code[:3]}",
        reverse("batches:lots") + "?show=all",
        reverse("batches:lots") + "?fern=nichts",
        reverse("batches:batches") + "?show=all&fern=nichts",
        reverse("batches:ferns") + "?q=nichts",
        reverse("batches:stock-plants") + "?kind=wild&fern=nichts",
        reverse("batches:bench-drawing") + "?rows=90&columns=90",
    ]
    left = left_in_english(german["client"], [(page, None) for page in pages])
    assert left == {}, "\n".join(f"{k} {v}" for k, v in left.items())


def test_an_empty_nursery_asks_for_its_first_things_in_german(manager, manager_person) -> None:
    Person.objects.filter(pk=manager_person.pk).update(language="de")
    names = ("ferns", "houses", "lots", "batches", "stock-plants", "media", "readings",
             "examinations", "treatments", "sow")  # fmt: skip
    pages = [(reverse(f"batches:{name}"), None) for name in names]
    assert left_in_english(manager, pages) == {}


def test_no_english_word_is_left_where_propagation_is_done_or_refused(german) -> None:
    def page(name: str, of: str = "") -> str:
        return reverse(f"batches:{name}", args=[german[of].code] if of else [])

    def sent(to: str, of: str = "", /, **fields: object) -> tuple[str, dict[str, object]]:
        return page(to, of), {"record_id": uuid4(), "test-record_id": uuid4()} | fields

    fern, days = german["fern"], f"{TODAY:%Y-%m-%d}"
    past = "2020-01-01"
    facts = {"genus": "Dryopteris", "spore_kind": "green", "form": "fern", "routes": ["spore"]}
    lot = {"source": german["wild"].code, "collected_on": days, "method": "scraped"}
    test = german["lot"].germination_tests.get(counted_on=None)
    count = f"count-{test.pk}"
    plant = {"taxon": fern.code, "provenance": "G", "kind": "stock_plant"}
    mix = {"recipe": "torf:2 perlite:1", "made_on": days, "treatment": "steam"}
    reading = {"one-house": german["house"].code, "one-on": days}
    sown = {"lot": german["drying"].code, "each": 9, "record_id": uuid4(), "unit": "plants",
            "how_many": 2, "container": "Schale", "stage": "pricked_out",
            "control": "on"}  # fmt: skip
    treated = {"product": "Nematoden", "operator": "Bryn Hale", "place_or_trays": "TISCH",
               "done_at": f"{days}T08:00"}  # fmt: skip
    posts = [
        sent("fern-new"),
        sent("fern-new", **facts | {"rest_from_week": 60, "sow_by_days": 0}),
        sent("fern-new", **facts | {"rest_from_week": 9, "rest_to_week": 8}),
        sent("fern-new", **facts | {"species": "affinis", "record_id": uuid4()}),
        sent("fern-new", **facts | {"species": "affinis", "record_id": uuid4()}),
        sent("fern-edit", "fern", **facts | {"cultivar": "Divisilobum", "protection": "BNatSchG"}),
        sent("starter-ferns"),
        sent("starter-ferns", fern="Nichts"),
        sent("starter-ferns", fern="Blechnum spicant"),
        sent("fern-windows", "fern", **{"spore-sown-early": 9, "spore-gametophyte-look_every": 4}),
        sent("fern-windows", "fern", **{f"spore-sown-{name}": "9" for name in
                                        ("early", "usual", "late")}),
        sent("fern-windows", "fern", **{"spore-sown-early": "x"}),
        sent("house-new"),
        sent("house-new", code="H9", record_id=uuid4()),
        sent("house-edit", "house", name="Haus 1"),
        sent("bench-new", house=german["house"].code, code="M1", rows=3, alike=200),
        sent("bench-new", house=german["house"].code, code="M1", alike=3, record_id=uuid4()),
        sent("bench-edit", "bench", name="Tisch 1", house=german["house"].code, rows=0, columns=1),
        sent("lot-new"),
        sent("lot-new", **lot | {"record_id": uuid4(), "own_code": "!"}),
        sent("lot-new", **lot | {"record_id": uuid4()}),
        sent("lot", "lot", deed="sow_test", **{"test-sown_on": past}),
        sent("lot", "lot", deed="sow_test", **{"test-sown_on": days}),
        sent("lot", "lot", deed="count", test=test.pk, **{f"{count}-counted_on": past,
             f"{count}-counted": 9, f"{count}-germinated": 12}),
        sent("lot", "lot", deed="count", test=test.pk, **{f"{count}-counted_on": days,
             f"{count}-counted": 9, f"{count}-germinated": 12}),
        sent("lot", "lot", deed="count", test=test.pk, **{f"{count}-counted_on": days,
             f"{count}-counted": 90, f"{count}-germinated": 12}),
        sent("lot", "lot", deed="mend", **{"mend-remaining_mg": -1, "mend-sow_by": past}),
        sent("lot", "lot", deed="mend", **{"mend-remaining_mg": 9}),
        sent("lot", "drying", deed="clean", **{"clean-cleaned_on": past}),
        sent("lot", "drying", deed="clean", **{"clean-cleaned_on": days, "clean-mass_mg": 12}),
        sent("lot", "lot", deed="end", **{"end-on": days, "end-why": "Verbraucht"}),
        sent("lot", "lot", deed="end", **{"end-on": days}),
        sent("batch", "batch", deed="confirm", **{"confirm-on": past, "on": past}),
        sent("batch", "batch", deed="confirm", **{"confirm-on": days, "on": days}),
        sent("batch", "batch", deed="sold_as", sold_as="Neuer Name"),
        sent("stock-plant-new"),
        sent("stock-plant-new", **plant | {"kind": "wild"}),
        sent("stock-plant-new", **plant | {"kind": "purchase", "bench": german["bench"].code}),
        sent("stock-plant-new", **plant | {"kind": "tray", "mothers": "NICHTS"}),
        sent("stock-plant-new", **plant | {"record_id": uuid4(), "ripe_from_week": 3}),
        sent("stock-plant-new", **plant | {"record_id": uuid4()}),
        sent("stock-plant", "plant", deed="sori", on=days),
        sent("stock-plant", "plant", deed="sori", on=past),
        sent("stock-plant-edit", "plant", **plant),
        sent("medium-new"),
        sent("medium-new", **mix | {"recipe": "torf", "litres": 0}),
        sent("medium-new", **mix | {"minutes": -1, "temperature_c": 900}),
        sent("medium-new", **mix | {"keep_as": "Mischung"}),
        sent("medium-new", **mix | {"keep_as": "Mischung", "recipe": "torf:1"}),
        sent("readings", deed="type"),
        sent("readings", **reading),
        sent("readings", **reading | {"one-lowest_c": 9, "one-highest_c": -3}),
        sent("readings", **reading | {"one-lowest_c": -300}),
        sent("readings", **reading | {"one-lowest_c": -9}),
        sent("readings", **reading | {"one-lowest_c": -9, "one-replace": "on"}),
        sent("readings", deed="paste", **{"many-pasted": ""}),
        sent("readings", deed="paste", **{"many-pasted": "NICHTS,2026-11-24,1,2\nx"}),
        sent("readings", deed="paste", **{"many-pasted": f"{german['house'].code},03/04/2026,1,2"}),
        sent("readings", deed="paste", **{"many-pasted": f"{german['house'].code},gestern,1,2"}),
        sent("readings", deed="paste", **{"many-pasted": f"{german['house'].code},2026-11-01,x,"}),
        sent("readings", deed="paste", **{"many-pasted": f"{german['house'].code},2026-11-01,1,2"}),
        sent("examination-new"),
        sent("examination-new", on=days, examiner="Bryn Hale", place_or_trays="NICHTS"),
        sent("examination-new", on=days, examiner="Bryn Hale", looked_for="Rost",
             place_or_trays=german["bench"].code, record_id=uuid4()),
        sent("treatment-new"),
        sent("treatment-new", **treated | {"reentry_hours": -1}),
        sent("treatment-new", **treated | {"place_or_trays": german["bench"].code,
             "reentry_hours": 4, "record_id": uuid4()}),
        (reverse("batches:treatment-mend", args=[Treatment.objects.latest("recorded_at").pk]), {}),
        sent("select-form", "mat"),
        sent("select-form", "mat", quantity=900, on=days, container="Topf", unit="plants",
             revision=german["mat"].revision),
        sent("select-form", "mat", quantity=1, on=days, container="Topf", unit="plants",
             revision=german["mat"].revision, record_id=uuid4()),
        *(
            (reverse("batches:sow-route", args=[way]), sown | {"on": on, "source": german[of].code})
            for way, of in (("spores", "plant"), ("bulbils", "plant"), ("division", "plant"),
                            ("bought-in", "plant"), ("bought-in", "bought"))
            for on in ("", past, days)
        ),
    ]  # fmt: skip
    left = left_in_english(german["client"], posts)
    assert left == {}, "\n".join(f"{k} {v}" for k, v in left.items())
    assert Source.objects.count() == 5
    assert SporeLot.objects.count() == 4
