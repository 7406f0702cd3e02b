"""Are passports set up by the manager, printed by the office, entered in the register?"""

from __future__ import annotations

import csv
import io

import pytest
from django.urls import reverse

from batches.models import LabelPrint, PassportIssue
from batches.services.passports import passport_terms, set_passport_terms
from tests.factories import TaxonFactory, TrayFactory
from tests.labels.paper import PRINTER, words
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
TERMS = {"form": "EU", "title": "Pas Phlandaí", "member_state": "IE", "registration": "00012345",
         "origin": "IE"}  # fmt: skip


@pytest.fixture
def terms():
    set_passport_terms(**TERMS, gb_ni=False)


@pytest.fixture
def pots():
    fern = TaxonFactory(genus="Osmunda", species="regalis", care_line="Wet feet, full sun.")
    return TrayFactory(batch__taxon=fern, carrier=True, counted=40)


def asked(tray, **more):
    return {"codes": tray.code, "kind": "pot", "stock": "a4-24", "copies": "12", "start_at": "1",
            "with_size": "on"} | more  # fmt: skip


def test_the_manager_sets_them_up_under_a_caution(manager, office):
    told = page(manager, "passport-settings")
    assert "Only operators" in told
    assert "no legal advice" in told
    address = reverse("batches:passport-settings")
    assert office.get(address).status_code == 403
    answer = manager.post(address, TERMS | {"registration": ""})
    assert answer.status_code == 422
    assert passport_terms() is None
    manager.post(address, TERMS)
    found = passport_terms()
    assert found is not None
    assert found.b == "IE-00012345"
    assert reverse("batches:passport-settings") in page(manager, "settings")


def test_without_terms_or_for_a_hand_no_passport_is_offered(office, hand, pots):
    assert "with_passport" not in page(office, "labels", tray=pots.code, kind="pot")
    set_passport_terms(**TERMS, gb_ni=False)
    assert "with_passport" in page(office, "labels", tray=pots.code, kind="pot")
    assert "with_passport" not in page(hand, "labels", tray=pots.code, kind="pot")
    hand.post(reverse("batches:labels"), asked(pots, with_passport="on"))
    assert not PassportIssue.objects.exists()


@PRINTER
def test_a_print_with_passports_is_entered_and_says_all_that_was_asked(
    office, pots, terms, tmp_path
):
    body = asked(pots, with_passport="on", with_care="on", price="€6.50")
    answer = office.post(reverse("batches:labels"), body)
    assert answer["Content-Type"] == "application/pdf"
    file = tmp_path / "labels.pdf"
    file.write_bytes(answer.content)
    text = words(file)
    for said in ("Pas Phlandaí / Plant Passport", f"C. {pots.code}", "Wet feet", "€6.50", "9 cm"):
        assert said in text
    row = PassportIssue.objects.get()
    assert (row.c, row.labels, row.a, row.by) == (pots.code, 12, "Osmunda regalis", "Odile Marsh")
    assert LabelPrint.objects.get().labels == 12
    told = page(office, "passports")
    assert pots.code in told
    assert "IE-00012345" in told
    office.post(reverse("batches:passport-spoiled", args=[row.pk]))
    assert "destroyed" in page(office, "passports")
    again = office.post(reverse("batches:passport-spoiled", args=[row.pk]), follow=True)
    assert "destroyed already" in again.content.decode()


@PRINTER
def test_without_ticks_a_pot_label_says_no_price_care_or_passport(office, pots, terms, tmp_path):
    answer = office.post(reverse("batches:labels"), {**asked(pots), "with_size": ""})
    file = tmp_path / "labels.pdf"
    file.write_bytes(answer.content)
    text = words(file)
    for unsaid in ("Passport", "Wet feet", "9 cm"):
        assert unsaid not in text
    assert not PassportIssue.objects.exists()


def test_a_passport_on_a_tray_s_label_or_on_the_browser_s_page_is_refused(office, pots, terms):
    body = asked(pots, with_passport="on") | {"kind": "tray"}
    answer = office.post(reverse("batches:labels"), body)
    assert answer.status_code == 422
    assert "pot labels only" in answer.content.decode()
    answer = office.post(
        reverse("batches:labels"), asked(pots, with_passport="on") | {"page": "yes"}
    )
    assert answer.status_code == 422
    assert not PassportIssue.objects.exists()


@PRINTER
def test_the_register_is_given_out_as_file_and_print(office, pots, terms, tmp_path):
    office.post(reverse("batches:labels"), asked(pots, with_passport="on"))
    text = office.get(reverse("batches:passports-csv")).content.decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text))
    assert (row["entry"], row["code"], row["labels"]) == ("issued", pots.code, "12")
    file = tmp_path / "register.pdf"
    file.write_bytes(office.get(reverse("batches:passports-print")).content)
    assert pots.code in words(file)
    assert "Nothing left under these" in page(office, "passports")
