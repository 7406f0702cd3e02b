"""Do the pages tell what the year brings: shut doors, suspicion, codes left over, winter?"""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import Tray, TrayCheck, WorkShare
from batches.services.checks import record_check
from batches.services.glances import record_glance
from batches.services.label_log import unlabelled_codes
from batches.services.laid_out import hand_back, lay_out, mark_printed
from batches.services.standing import refold
from batches.services.this_week import weeks_work
from batches.services.treatments import TreatmentWords, record_treatment
from batches.services.winter import tender_in_the_cold
from tests import factories as make
from tests.factories import NOW, TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def bench():
    return make.BenchFactory(house=make.HouseFactory(code="MIST", name="Mist house"))


@pytest.fixture
def tray(bench):
    one = make.TrayFactory(bench=bench, row=1, column=1)
    refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def page(client, name, *args, **query) -> str:
    answer = client.get(reverse(f"batches:{name}", args=args), query, follow=True)
    return " ".join(answer.content.decode().split())


def shut(place: str, *, hours: float = 48, done_at=NOW - timedelta(hours=1)):
    words = TreatmentWords(
        done_at=done_at, product="soap spray", place_or_trays=place, operator="Greta Lunn",
        reentry_hours=hours,
    )  # fmt: skip
    return record_treatment(words=words, now=NOW)


def look(client, tray, **fields):
    form = {"record_id": str(uuid4()), "revision": tray.revision} | fields
    return client.post(reverse("batches:tray", args=[tray.code]), form, follow=True)


# Shut doors


def test_a_shut_house_says_so_at_its_door_and_leaves_the_round(hand, tray, bench):
    assert f"line-look-{tray.code}" in page(hand, "today")
    shut("MIST")
    today = page(hand, "today")
    assert f"line-look-{tray.code}" not in today
    for name, args in (("today", ()), ("bench-map", ()), ("tray", (tray.code,)),
                       ("look-over", (bench.code,))):  # fmt: skip
        assert "shut" in page(hand, name, *args), name
        assert "soap spray" in page(hand, name, *args) or name == "bench-map"


def test_a_look_over_leaves_out_the_one_tray_that_is_shut(hand, tray, bench):
    other = make.TrayFactory(bench=bench, row=2, column=1)
    shut(other.code)
    answer = page(hand, "look-over", bench.code)
    assert f"{other.code} is shut" in answer
    hand.post(reverse("batches:look-over", args=[bench.code]), {"record_id": uuid4()})
    assert list(TrayCheck.objects.values_list("tray__code", flat=True)) == [tray.code]


def test_a_look_behind_a_shut_door_is_a_fact_and_warned_of(hand, tray):
    shut("MIST")
    answer = look(hand, tray).content.decode()
    assert TrayCheck.objects.count() == 1
    assert "The look is stored, but MIST is shut after soap spray until" in answer


def test_a_door_that_opened_while_the_page_stood_open_is_no_matter(hand, tray):
    shut("MIST", hours=0.5, done_at=NOW - timedelta(hours=1))
    answer = look(hand, tray).content.decode()
    assert TrayCheck.objects.count() == 1
    assert "whoever was in there" not in answer


def test_a_look_from_the_time_before_the_treatment_that_comes_late_is_no_matter(hand, tray):
    shut("MIST", done_at=NOW - timedelta(hours=2))
    before = (make.at(TODAY, 6)).strftime("%Y-%m-%dT%H:%M")
    answer = look(hand, tray, seen_at=before).content.decode()
    assert "whoever was in there" not in answer


def test_when_the_door_opens_today_sends_somebody_back(hand, tray):
    shut("MIST", hours=1, done_at=NOW - timedelta(hours=30))
    assert 'id="line-return-MIST"' in page(hand, "today")
    look(hand, tray)
    assert 'id="line-return-MIST"' not in page(hand, "today")


# Suspicion


def test_a_rogue_fern_is_told_of_wherever_its_sisters_are_shown(hand, tray):
    sister = make.TrayFactory(batch=tray.batch, bench=tray.bench, row=1, column=2)
    record_check(tray=sister, seen_at=NOW, now=NOW, by="Bryn Hale", signs=["rogue_fern"])
    assert "2 trays under suspicion" in page(hand, "today")
    assert "Under suspicion." in page(hand, "tray", tray.code)
    lot = page(hand, "lot", tray.batch.spore_lot.code)
    assert "Under suspicion." in lot
    assert tray.code in lot.split("Under suspicion.")[1].split("</div>")[0]
    other = make.TrayFactory(bench=tray.bench, row=1, column=3)
    narrowed = page(hand, "bench-map", sign="suspect")
    assert "under suspicion: rogue fern" in narrowed
    cells = {
        code: classes
        for classes, code in re.findall(
            r'<a class="cell([^"]*)"[^>]* href="/trays/([^/"]+)', narrowed
        )
    }
    assert "faded" not in cells[tray.code]
    assert "faded" in cells[other.code]


def test_stray_spores_in_a_control_name_what_was_sown_there_then(hand, tray):
    control = make.TrayFactory(bench=tray.bench, control=True, row=1, column=4)
    record_check(tray=control, seen_at=NOW, now=NOW, by="Bryn Hale", signs=["moss_liverwort"])
    today = page(hand, "today")
    assert "<strong>Stray spores</strong> in Mist house around 1 Apr 2026" in today
    assert tray.code in today.split("Stray spores")[1].split("</p>")[0]
    assert "strays may have blown in here" in page(hand, "tray", tray.code)


# Codes


def test_codes_not_filled_and_handed_back_are_listed_on_the_tray_and_the_batch(hand, tray):
    rows = lay_out(batch=tray.batch, parents=[tray], deed="prick_out", how_many=2,
                   container="cell tray 84", by="", today=TODAY)  # fmt: skip
    hand_back(codes=[rows[0].code], today=TODAY)
    for name, code in (("tray", tray.code), ("batch", tray.batch.code)):
        text = page(hand, name, code)
        assert "handed back 10 Jun 2026" in text.split(rows[0].code)[-1][:200]
        assert "not filled yet" in text.split(rows[1].code)[-1][:200]


def test_a_code_laid_out_without_its_label_is_told_of_and_can_be_printed(hand, tray):
    lay_out(batch=tray.batch, parents=[tray], deed="prick_out", how_many=2,
            container="cell tray 84", by="", today=TODAY)  # fmt: skip
    today = page(hand, "today")
    assert "2 trays, standing or laid out, without a printed label" in today
    assert "/labels/?unlabelled=yes" in today
    mark_printed(codes=unlabelled_codes(), today=TODAY)
    assert "without a printed label" not in page(hand, "today")


def test_a_cleared_trays_old_label_says_what_became_of_it(hand, tray):
    Tray.objects.filter(pk=tray.pk).update(ended_on=TODAY, end="cleared")
    assert f"Tray {tray.code} was cleared on Wed 10 Jun 2026." in page(
        hand, "tray-short", tray.code
    )


# Winter and the week


def test_a_tender_fern_in_a_frosty_house_is_told_of_in_winter_alone(hand, tray):
    winter = TODAY.replace(month=12)
    assert tender_in_the_cold(today=winter) == ()
    make.HouseFactory(frost_free=True)
    assert tender_in_the_cold(today=TODAY) == ()
    assert tender_in_the_cold(today=winter) == ()
    fern = tray.batch.taxon
    fern.form = "tree_fern"
    fern.save()
    (cold,) = tender_in_the_cold(today=winter)
    assert (cold.house.code, [one.code for one in cold.trays]) == ("MIST", [tray.code])
    fern.tender = False
    fern.save()
    assert tender_in_the_cold(today=winter) == ()
    fern.form, fern.tender = "fern", True
    fern.save()
    assert [one.code for one in tender_in_the_cold(today=winter)[0].trays] == [tray.code]
    Tray.objects.filter(pk=tray.pk).update(bench=make.BenchFactory(house__frost_free=True))
    assert tender_in_the_cold(today=winter) == ()


def test_the_map_says_which_house_is_frost_free(hand, tray):
    assert "frost-free" not in page(hand, "bench-map")
    house = tray.bench.house
    house.frost_free = True
    house.save()
    assert "MIST, frost-free" in page(hand, "bench-map")


def test_the_weeks_mix_is_named_by_recipe(hand):
    peat, bark = make.MediumBatchFactory(), make.MediumBatchFactory(recipe="bark:1 loam:1")
    fern = make.BatchFactory()
    for batch, medium, days in (
        (fern, peat, 30), (fern, bark, 20), (None, peat, 10), (None, peat, 9),
    ):  # fmt: skip
        started = TODAY - timedelta(days=days)
        more = {} if batch is None else {"batch": batch}
        make.TrayFactory(carrier=True, medium_batch=medium, started_on=started, ended_on=TODAY,
                         end="cleared", **more)  # fmt: skip
    for batch, plants in ((fern, 80), (make.BatchFactory(), 40)):
        plugs = make.TrayFactory(batch=batch, cells_of_84=True, counted=plants)
        Tray.objects.filter(pk=plugs.pk).update(expected_on=TODAY)
    mixes = {mix.recipe: mix.litres for mix in weeks_work(today=TODAY).pot_up_needs.mixes}
    # half a litre a pot: the fern's own last recipe, and the most used for one without
    assert mixes == {"bark:1 loam:1": 40.0, "peat:2 perlite:1": 20.0}
    assert "40.0 L bark:1 loam:1" in page(hand, "today")


def test_a_line_given_to_a_person_is_on_their_round_and_no_others(hand, hand_person, office):
    plugs = [make.TrayFactory(cells_of_84=True, counted=80) for _ in range(2)]
    Tray.objects.update(expected_on=TODAY)
    WorkShare.objects.create(line=f"pot_up:{plugs[0].code}", on=TODAY, person=hand_person,
                             given_by="Greta Lunn")  # fmt: skip
    mine = page(hand, "today", mine="yes")
    assert f'id="work-{plugs[0].code}"' in mine
    assert f'id="work-{plugs[1].code}"' not in mine
    assert "work-" not in page(office, "today", mine="yes")


def test_a_glance_by_page_never_moves_a_not_before(hand, tray):
    record_check(tray=tray, seen_at=NOW - timedelta(days=9), now=NOW, by="", stage_seen="")
    record_glance(trays=[tray], seen_at=NOW - timedelta(days=2), now=NOW, by="")
    record_check(tray=tray, seen_at=NOW, now=NOW, by="", stage_seen="gametophyte")
    tray.refresh_from_db()
    assert tray.stage_not_before == TODAY - timedelta(days=9)
