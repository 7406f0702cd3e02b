"""Does a lot of spores come in, get clean, and go into the drawer, with nothing lost on the way?"""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import CodeEntry, SporeLot
from batches.services.lots import (
    batches_of,
    clean_lot,
    collect_lot,
    end_lot,
    mend_lot,
    sow_by_of,
    sowing_warning,
    use_from_lot,
)
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def collect(**more):
    source = more.pop("source", None) or make.SourceFactory()
    given: dict[str, Any] = {"collected_on": TODAY, "by": " Una Tarn ", "now": NOW} | more
    return collect_lot(source=source, **given)


def test_a_lot_gets_a_code_of_its_year_and_leads_back_to_its_origin():
    source = make.SourceFactory()
    stored = collect(source=source, method="scraped", ripeness=" dark ")
    lot = stored.lot
    assert lot.code.startswith("L26-001-")
    assert CodeEntry.objects.get(code=lot.code).kind == "lot"
    assert (lot.source, lot.taxon, lot.collected_by) == (source, source.taxon, "Una Tarn")
    assert (lot.drying_since, lot.ripeness) == (TODAY, "dark")
    assert lot.code in stored.message
    assert stored.warning == ""


# 14 days for green spores, common practice, no source; 1,045 days for others: mean viability after
# Lloyd & Klekowski 1970, Biotropica 2:129-137, from memory.
@pytest.mark.parametrize(("green", "days"), [(True, 14), (False, 1_045)])
def test_its_sow_by_follows_the_colour_of_its_spores(green, days):
    taxon = make.TaxonFactory(green=green)
    lot = collect(source=make.SourceFactory(taxon=taxon)).lot
    assert lot.sow_by == TODAY + timedelta(days=days)


def test_a_ferns_own_days_come_before_the_kind_of_its_spores():
    taxon = make.TaxonFactory(sow_by_days=90)
    lot = collect(source=make.SourceFactory(taxon=taxon)).lot
    assert lot.sow_by == sow_by_of(lot) == TODAY + timedelta(days=90)
    lot.sow_by = None
    assert sow_by_of(lot) == TODAY + timedelta(days=90)


def test_the_same_form_sent_twice_makes_one_lot():
    source, record_id = make.SourceFactory(), uuid.uuid4()
    first = collect(source=source, record_id=record_id)
    again = collect(source=source, record_id=record_id)
    assert again == first
    assert SporeLot.objects.count() == 1


def test_an_id_of_another_thing_is_refused():
    record_id = uuid.uuid4()
    first = collect(record_id=record_id).lot
    from batches.services.media import mix_medium

    with pytest.raises(AlreadyTaken, match=first.code):
        mix_medium(recipe="peat:1", made_on=TODAY, now=NOW, record_id=record_id)


def test_an_own_code_is_kept_as_it_is_and_taken_once():
    assert collect(own_code=" Drawer-7 ").lot.code == "Drawer-7"
    with pytest.raises(AlreadyTaken, match="Drawer-7"):
        collect(own_code="Drawer-7")
    assert SporeLot.objects.count() == 1


def test_tomorrow_is_refused_and_nothing_is_stored():
    with pytest.raises(OutOfTime, match="Thu 11 Jun 2026 lies in the future"):
        collect(collected_on=TODAY + timedelta(days=1))
    assert SporeLot.objects.count() == 0
    assert CodeEntry.objects.filter(kind="lot").count() == 0


def test_protection_and_a_missing_permit_are_said_as_it_is_stored():
    fern = make.TaxonFactory(tree_fern=True)
    wild = make.SourceFactory(taxon=fern, kind="wild", provenance="W")
    words = collect(source=wild).warning
    assert "CITES Appendix II" in words
    assert "permit" in words
    wild.permit = "AW 26/114"
    wild.save()
    assert "permit" not in collect(source=wild).warning


# Cleaning


@pytest.mark.parametrize(
    ("days", "words"),
    # Four to five days are usual: common practice, no source.
    [(2, "dried for 2 days only; 4 are usual"), (4, ""), (14, ""), (15, "15 days; more than 14")],
)
def test_cleaning_says_when_it_dried_too_short_or_too_long(days, words):
    lot = make.SporeLotFactory(
        collected_on=TODAY - timedelta(days=days),
        drying_since=TODAY - timedelta(days=days),
        cleaned_on=None, mass_mg=None, remaining_mg=None, storage="",
    )  # fmt: skip
    done = clean_lot(lot=lot, cleaned_on=TODAY, now=NOW, mass_mg=85.5, storage=" packet, 4 °C ")
    assert words in done.warning
    assert bool(words) == bool(done.warning)
    lot.refresh_from_db()
    assert (lot.cleaned_on, lot.mass_mg, lot.remaining_mg) == (TODAY, 85.5, 85.5)
    assert lot.storage == "packet, 4 °C"


def test_a_lot_is_cleaned_once():
    lot = make.SporeLotFactory()
    with pytest.raises(NotPossibleNow, match="cleaned already"):
        clean_lot(lot=lot, cleaned_on=TODAY, now=NOW, mass_mg=1)
    lot.refresh_from_db()
    assert lot.mass_mg == 120


@pytest.mark.parametrize(
    ("more", "error"),
    [
        ({"cleaned_on": date(2025, 8, 10)}, OutOfTime),
        ({"cleaned_on": TODAY + timedelta(days=1)}, OutOfTime),
        ({"mass_mg": -1}, NotUnderstood),
        ({"mass_mg": 1_000_001}, NotUnderstood),
        ({"mass_mg": float("nan")}, NotUnderstood),
    ],
)
def test_cleaning_that_cannot_be_is_refused(more, error):
    lot = make.SporeLotFactory(cleaned_on=None)
    with pytest.raises(error):
        clean_lot(lot=lot, now=NOW, **({"cleaned_on": TODAY} | more))
    lot.refresh_from_db()
    assert lot.cleaned_on is None


# Taking out, mending, ending


def test_no_more_spores_leave_than_a_lot_holds():
    lot = make.SporeLotFactory(remaining_mg=10.0)
    use_from_lot(lot=lot, mg=4)
    lot.refresh_from_db()
    assert lot.remaining_mg == 6
    with pytest.raises(NotPossibleNow, match="holds 6 mg; 7 mg cannot be taken") as refused:
        use_from_lot(lot=lot, mg=7)
    assert refused.value.field == "sown_mg"
    use_from_lot(lot=lot, mg=6)
    lot.refresh_from_db()
    assert lot.remaining_mg == 0


def test_of_two_at_once_only_what_is_there_leaves():
    lot = make.SporeLotFactory(remaining_mg=10.0)
    stale = SporeLot.objects.get(pk=lot.pk)
    use_from_lot(lot=lot, mg=8)
    with pytest.raises(NotPossibleNow):
        use_from_lot(lot=stale, mg=8)
    lot.refresh_from_db()
    assert lot.remaining_mg == 2


def test_an_unweighed_lot_gives_what_is_taken():
    lot = make.SporeLotFactory(mass_mg=None, remaining_mg=None)
    use_from_lot(lot=lot, mg=5)
    lot.refresh_from_db()
    assert lot.remaining_mg is None


def test_facts_are_noted_anew():
    lot = make.SporeLotFactory()
    facts: dict[str, Any] = {
        "remaining_mg": 40.0, "sow_by_day": TODAY, "storage": "tin", "collected_by": "Una Tarn",
        "ripeness": "brown", "notes": " weighed again ",
    }  # fmt: skip
    mend_lot(lot=lot, **facts)
    assert (lot.remaining_mg, lot.sow_by, lot.storage) == (40, TODAY, "tin")
    assert lot.notes == "weighed again"
    with pytest.raises(OutOfTime, match="cannot lie before"):
        mend_lot(lot=lot, **(facts | {"sow_by_day": lot.collected_on - timedelta(days=1)}))
    with pytest.raises(NotUnderstood) as refused:
        mend_lot(lot=lot, **(facts | {"remaining_mg": -2}))
    assert refused.value.field == "remaining_mg"


def test_an_ended_lot_says_why_and_keeps_its_batches():
    batch = make.BatchFactory()
    lot = batch.spore_lot
    end_lot(lot=lot, on=TODAY, now=NOW, why=" used up ")
    assert lot.ended_on == TODAY
    assert "Wed 10 Jun 2026: ended, used up." in lot.notes
    assert batches_of(lot=lot) == [batch]
    with pytest.raises(NotPossibleNow, match="ended already"):
        end_lot(lot=lot, on=TODAY, now=NOW, why="again")
    with pytest.raises(NotPossibleNow, match="ended on Wed 10 Jun 2026"):
        clean_lot(lot=lot, cleaned_on=TODAY, now=NOW)


# What to know before sowing


def test_a_sound_lot_needs_no_words():
    assert sowing_warning(lot=make.SporeLotFactory(), on=TODAY) == ""


def test_what_to_know_before_sowing_is_said_in_one_go():
    fern = make.TaxonFactory(green=True, protection="protected by law")
    lot = make.SporeLotFactory(
        source=make.SourceFactory(taxon=fern, kind="wild", provenance="W"),
        collected_on=TODAY - timedelta(days=15),
        cleaned_on=None,
    )
    words = sowing_warning(lot=lot, on=TODAY)
    for piece in ("past their sow-by of Tue 9 Jun 2026", "chaff", "protected by law", "permit"):
        assert piece in words
    assert "sow-by" not in sowing_warning(lot=lot, on=TODAY - timedelta(days=1))


def test_a_lot_in_which_another_fern_came_up_says_so_before_it_is_sown_again():
    lot = make.SporeLotFactory()
    batch = make.BatchFactory(spore_lot=lot, taxon=lot.taxon)
    tray = make.TrayFactory(batch=batch, ended_on=TODAY, end="cleared")
    make.TrayCheckFactory(tray=tray, signs="rogue_fern")
    assert "rogue fern" in sowing_warning(lot=lot, on=TODAY)
    assert sowing_warning(lot=make.SporeLotFactory(), on=TODAY) == ""
    batch.confirmed_true_on = TODAY
    batch.save()
    assert sowing_warning(lot=lot, on=TODAY) == ""
