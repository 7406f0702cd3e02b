"""Is a fern named, changed and given its own days from its pages, by those who may?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import OwnWindow, Taxon
from batches.services.standing import differing, refold
from tests.factories import NOW, BatchFactory, SporeLotFactory, TaxonFactory, TrayFactory
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def fern_form(**more) -> dict[str, str]:
    given: dict[str, object] = {
        "genus": "dryopteris", "species": "affinis", "cultivar": "'Cristata'",
        "common_name": "crested male fern", "spore_kind": "not_green", "form": "fern",
        "routes": "spore", "rest_from_week": 44, "rest_to_week": 10, "tender": "True",
    }  # fmt: skip
    return filled(**(given | more))


def test_an_empty_list_teaches_and_only_the_office_may_begin(hand, office):
    link = reverse("batches:starter-ferns")
    assert "No ferns yet" in page(hand, "ferns")
    assert link not in page(hand, "ferns")
    assert link in page(office, "ferns")


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_list_asks_the_same_of_3_and_30_ferns(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        TrayFactory()
    # The session and the person; the count, the page, its lots and its trays; the first steps.
    with django_assert_num_queries(7):
        page(hand, "ferns")


def test_the_list_is_narrowed_by_any_part_of_a_name(hand):
    royal, shield = TaxonFactory(green=True), TaxonFactory()
    words = page(hand, "ferns", fern="osm reg")
    assert royal.code in words
    assert shield.code not in words
    assert "No fern of that name" in page(hand, "ferns", fern="palm")


def test_a_fern_is_named_and_its_name_put_right(office):
    answer = office.post(reverse("batches:fern-new"), fern_form(), follow=True)
    taxon = Taxon.objects.get()
    assert answer.redirect_chain == [(reverse("batches:fern", args=["DRYAFF-CRI"]), 302)]
    assert "<i>Dryopteris affinis</i> ‘Cristata’" in answer.content.decode()
    assert (taxon.rest_weeks, taxon.routes, taxon.tender) == ((44, 10), "spore", True)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"rest_from_week": 0}, "There is no week 0: weeks of the year run from 1 to 53."),
        ({"rest_to_week": 54}, "There is no week 54"),
        ({"rest_to_week": ""}, "first and its last week"),
        ({"last_pot_up_week": 54}, "There is no week 54"),
        ({"genus": ""}, "Genus"),
        ({"infra_epithet": "borreri"}, "A rank and its epithet stand together"),
        ({"routes": None}, "Raised from"),
        ({"sow_by_days": 0}, "Days to sow within"),
        ({"own_code": "two words"}, "cannot be a code"),
    ],
)
def test_a_fern_that_cannot_be_comes_back_with_what_was_typed(office, more, words):
    answer = office.post(reverse("batches:fern-new"), fern_form(**more))
    body = answer.content.decode()
    assert answer.status_code == 422
    assert words in body
    assert 'value="crested male fern"' in body
    assert Taxon.objects.count() == 0


def test_the_same_form_sent_twice_names_one_fern(office):
    form = fern_form()
    first, again = (office.post(reverse("batches:fern-new"), form) for _ in range(2))
    assert first["Location"] == again["Location"]
    other = office.post(reverse("batches:fern-new"), fern_form())
    assert "is here already, as DRYAFF-CRI" in other.content.decode()
    assert Taxon.objects.count() == 1


def test_a_fern_shows_its_windows_and_what_there_is_of_it(hand):
    lot = SporeLotFactory()
    tray = TrayFactory(batch=BatchFactory(spore_lot=lot))
    words = page(hand, "fern", lot.taxon.code)
    for piece in (
        lot.code, lot.source.code, tray.batch.code, "prothalli (gametophyte)", "1,045 days",
    ):  # fmt: skip
        assert piece in words
    assert reverse("batches:fern-edit", args=[lot.taxon.code]) not in words


@pytest.mark.parametrize("how_many", [3, 30])
def test_a_fern_asks_the_same_of_3_and_30_lots(hand, how_many, django_assert_num_queries):
    first = SporeLotFactory()
    for _ in range(how_many):
        TrayFactory(batch__spore_lot=SporeLotFactory(source=first.source))
    with django_assert_num_queries(8):
        page(hand, "fern", first.taxon.code)


def test_a_code_in_any_case_opens_the_fern(hand):
    taxon = TaxonFactory(code="OSMREG")
    answer = hand.get(reverse("batches:fern", args=["osmreg"]))
    assert answer["Location"] == reverse("batches:fern", args=[taxon.code])


def test_the_form_of_a_change_holds_what_is_stored(office):
    taxon = TaxonFactory(rest_from_week=44, rest_to_week=10, notes="hardy", tree_fern=True)
    words = page(office, "fern-edit", taxon.code)
    for piece in ('value="Dicksonia"', 'value="44"', "hardy", "CITES Appendix II"):
        assert piece in words


def test_a_change_moves_the_dates_of_its_trays(office):
    tray = TrayFactory()
    refold(trays=[tray], recorded_at=NOW)
    tray.refresh_from_db()
    before = tray.late_on
    taxon = tray.batch.taxon
    form = fern_form(genus="Osmunda", species="regalis", cultivar="", spore_kind="green")
    answer = office.post(reverse("batches:fern-edit", args=[taxon.code]), form)
    assert answer["Location"] == reverse("batches:fern", args=[taxon.code])
    tray.refresh_from_db()
    assert before - tray.late_on == timedelta(days=69)
    assert differing() == (1, ())


# Own days


def days_form(**more) -> dict[str, str]:
    lines = {"spore-sown-early": 5, "spore-sown-usual": 20, "spore-sown-late": 40}
    return {name: str(value) for name, value in (lines | more).items()}


def test_own_days_are_set_shown_and_taken_back(office):
    tray = TrayFactory()
    taxon = tray.batch.taxon
    address = reverse("batches:fern-windows", args=[taxon.code])
    assert 'placeholder="28"' in office.get(address).content.decode()
    answer = office.post(address, days_form(**{"spore-sown-look_every": 3}))
    assert answer["Location"] == reverse("batches:fern", args=[taxon.code])
    assert "<strong>its own</strong>" in page(office, "fern", taxon.code)
    assert 'value="40.0"' in office.get(address).content.decode()
    tray.refresh_from_db()
    assert tray.late_on == tray.started_on + timedelta(days=40)
    office.post(address, {"spore-sown-early": ""})
    assert OwnWindow.objects.count() == 0
    tray.refresh_from_db()
    assert tray.late_on == tray.started_on + timedelta(days=90)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"spore-sown-early": 30}, "sown on: early, usual and late are days above 0"),
        ({"spore-sown-usual": ""}, "sown: give early, usual and late, or none"),
        ({"spore-sown-late": "soon"}, "sown, late: Enter a number"),
        ({"spore-gametophyte-look_every": 3}, "days between looks need early"),
        ({"spore-sown-look_every": 0}, "A look is every 1 to 365 days"),
    ],
)
def test_days_that_make_no_sense_come_back_with_what_was_typed(office, more, words):
    taxon = TaxonFactory()
    answer = office.post(reverse("batches:fern-windows", args=[taxon.code]), days_form(**more))
    body = answer.content.decode()
    assert answer.status_code == 422
    assert words in body
    assert 'value="40"' in body or 'value="soon"' in body
    assert OwnWindow.objects.count() == 0


def test_ferns_are_ticked_on_the_list_and_stored_together(office, hand):
    assert hand.get(reverse("batches:starter-ferns")).status_code == 403
    words = page(office, "starter-ferns")
    assert "common practice, no source" in words
    ticked = {"fern": ["Osmunda regalis", "Struthiopteris spicant"]}
    answer = office.post(reverse("batches:starter-ferns"), ticked)
    assert answer["Location"] == reverse("batches:ferns")
    assert sorted(Taxon.objects.values_list("code", flat=True)) == ["OSMREG", "STRSPI"]
    assert "here already" in page(office, "starter-ferns")


def test_nothing_ticked_is_answered_in_words_and_what_was_ticked_stays(office):
    answer = office.post(reverse("batches:starter-ferns"), {})
    assert answer.status_code == 422
    assert "Tick the ferns that you raise" in answer.content.decode()
    forged = {"fern": ["Osmunda regalis", "Nosuchia"]}
    answer = office.post(reverse("batches:starter-ferns"), forged)
    assert answer.status_code == 422
    assert 'value="Osmunda regalis" checked' in answer.content.decode()
    assert not Taxon.objects.exists()
