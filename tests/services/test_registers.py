"""Are treatments and examinations kept as they were written down, and mended in the open?"""

from __future__ import annotations

import csv
import io
import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from batches.core.errors import (
    AlreadyTaken,
    NotPossibleNow,
    NotUnderstood,
    NurseryError,
    OutOfTime,
    UnknownCode,
)
from batches.models import Examination, Treatment
from batches.services.examinations import ExaminationWords, record_examination, record_rows
from batches.services.named_places import places_named
from batches.services.shut_places import shut_places
from batches.services.treatments import (
    TreatmentWords,
    mend_treatment,
    record_treatment,
    register_rows,
    treatments_between,
)
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def words(house=None, **more) -> TreatmentWords:
    place = (house or make.HouseFactory()).code
    given: dict[str, Any] = {
        "done_at": NOW - timedelta(hours=2), "product": "fatty-acid soap",
        "rate": "as on its label", "place_or_trays": place, "operator": "Una Tarn",
        "reentry_hours": 24.0,
    }  # fmt: skip
    return TreatmentWords(**(given | more))


# Where


def test_places_are_named_by_codes_in_any_case_and_once_each():
    house, bench, tray = make.HouseFactory(), make.BenchFactory(), make.TrayFactory()
    text = f" {house.code.lower()}, {bench.code};{tray.code}\n{bench.code.lower()} "
    assert places_named(text) == f"{house.code} {bench.code} {tray.code}"


@pytest.mark.parametrize("text", ["", " , ; "])
def test_somewhere_has_to_be_named(text):
    with pytest.raises(NotUnderstood, match="Say where"):
        places_named(text)


def test_what_is_no_place_or_not_known_is_refused():
    with pytest.raises(NotUnderstood, match="code of a lot"):
        places_named(make.SporeLotFactory().code)
    with pytest.raises(UnknownCode, match="NOWHERE") as refused:
        places_named("NOWHERE")
    assert refused.value.field == "place_or_trays"


# Treatments


def test_a_treatment_shuts_its_place_until_its_hours_are_over():
    house = make.HouseFactory()
    stored = record_treatment(words=words(house), now=NOW)
    assert stored.created
    # Done at 07:00 in Dublin (UTC+1 in June), 24 hours.
    assert "Nobody goes in before Thu 11 Jun 2026, 07:00" in stored.message
    shut = shut_places(on=TODAY, now=NOW).shut
    assert shut[house.code].until == NOW + timedelta(hours=22)
    assert shut_places(on=TODAY, now=NOW + timedelta(hours=23)).shut == {}


def test_a_treatment_without_hours_shuts_nothing():
    stored = record_treatment(words=words(reentry_hours=None), now=NOW)
    assert "Nobody" not in stored.message
    assert shut_places(on=TODAY, now=NOW).shut == {}


def test_the_same_treatment_sent_twice_is_one_and_an_id_stands_for_one():
    house, record_id = make.HouseFactory(), uuid.uuid4()
    first = record_treatment(words=words(house), now=NOW, record_id=record_id)
    again = record_treatment(words=words(house), now=NOW, record_id=record_id)
    assert (again.treatment, again.created) == (first.treatment, False)
    assert Treatment.objects.count() == 1
    with pytest.raises(AlreadyTaken):
        record_treatment(words=words(house, product="other"), now=NOW, record_id=record_id)


@pytest.mark.parametrize(
    ("more", "error", "field"),
    [
        ({"done_at": NOW + timedelta(minutes=6)}, OutOfTime, "done_at"),
        ({"product": "  "}, NotUnderstood, "product"),
        ({"operator": " "}, NotUnderstood, "operator"),
        ({"reentry_hours": -1.0}, NotUnderstood, "reentry_hours"),
        ({"reentry_hours": 1441.0}, NotUnderstood, "reentry_hours"),
        ({"reentry_hours": float("nan")}, NotUnderstood, "reentry_hours"),
        ({"place_or_trays": "H99"}, UnknownCode, "place_or_trays"),
    ],
)
def test_a_treatment_that_cannot_be_is_refused(more, error, field):
    with pytest.raises(error) as refused:
        record_treatment(words=words(**more), now=NOW)
    assert refused.value.field == field
    assert Treatment.objects.count() == 0


def test_a_wrong_entry_is_mended_and_what_it_said_stays_readable():
    house = make.HouseFactory()
    treatment = record_treatment(words=words(house, reentry_hours=480), now=NOW).treatment
    mended = mend_treatment(
        treatment=treatment, words=words(house, reentry_hours=48), by="Maeve Corrin", now=NOW
    )
    row = Treatment.objects.get()
    assert row == mended.treatment
    assert row.reentry_hours == 48
    assert row.said_before.startswith("Wed 10 Jun 2026, mended by Maeve Corrin; before: ")
    assert "re-entry after 480 h" in row.said_before
    assert shut_places(on=TODAY, now=NOW).shut[house.code].until == NOW + timedelta(hours=46)
    mend_treatment(
        treatment=row, words=words(house, rate="1 in 50", reentry_hours=48), by="", now=NOW
    )
    assert Treatment.objects.get().said_before.count("\n") == 1


def test_mending_nothing_or_over_somebody_else_is_refused():
    house = make.HouseFactory()
    treatment = record_treatment(words=words(house), now=NOW).treatment
    with pytest.raises(NotPossibleNow, match="Nothing differs"):
        mend_treatment(treatment=treatment, words=words(house), by="Maeve Corrin", now=NOW)
    stale = Treatment.objects.get()
    mend_treatment(treatment=treatment, words=words(house, rate="1 %"), by="", now=NOW)
    with pytest.raises(NotPossibleNow, match="meanwhile"):
        mend_treatment(treatment=stale, words=words(house, rate="2 %"), by="", now=NOW)
    assert Treatment.objects.get().rate == "1 %"


def test_the_register_is_bounded_by_days_of_the_nursery():
    house = make.HouseFactory()
    # 23:30 UTC on 8 June is half past midnight of the 9th in Dublin.
    late = datetime(2026, 6, 8, 23, 30, tzinfo=UTC)
    record_treatment(words=words(house, done_at=late), now=NOW)
    ninth = date(2026, 6, 9)
    assert treatments_between(first=ninth, last=ninth).count() == 1
    assert treatments_between(first=None, last=date(2026, 6, 8)).count() == 0
    assert treatments_between(first=TODAY, last=None).count() == 0


def test_the_file_of_the_register_runs_nothing_in_a_spreadsheet():
    record_treatment(words=words(product="=2+3", rate='1 "in" 50, or 2 %'), now=NOW)
    text = io.StringIO()
    csv.writer(text).writerows(register_rows(Treatment.objects.newest_first()))
    header, row = csv.reader(io.StringIO(text.getvalue()))
    found = dict(zip(header, row, strict=True))
    assert found["product"] == "'=2+3"
    assert found["rate"] == '1 "in" 50, or 2 %'
    assert (found["done_at"], found["reentry_at"]) == (
        "2026-06-10T07:00:00+01:00", "2026-06-11T07:00:00+01:00",
    )  # fmt: skip


# Examinations


def examination(**more) -> ExaminationWords:
    place = more.pop("place", None) or make.BenchFactory().code
    given: dict[str, Any] = {
        "on": TODAY, "examiner": "Maeve Corrin", "place_or_trays": place,
        "looked_for": "leaf eelworm", "finding": "nothing found",
    }  # fmt: skip
    return ExaminationWords(**(given | more))


def test_an_examination_is_stored_once_for_one_form():
    record_id, bench = uuid.uuid4(), make.BenchFactory().code
    first = record_examination(words=examination(place=bench), now=NOW, record_id=record_id)
    again = record_examination(words=examination(place=bench), now=NOW, record_id=record_id)
    assert again == first
    assert Examination.objects.get().place_or_trays == bench
    with pytest.raises(AlreadyTaken):
        record_examination(words=examination(examiner="Una Tarn"), now=NOW, record_id=record_id)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"on": TODAY + timedelta(days=1)}, "on"),
        ({"examiner": " "}, "examiner"),
        ({"looked_for": "", "finding": " "}, "finding"),
        ({"place": "H99"}, "place_or_trays"),
    ],
)
def test_an_examination_that_says_too_little_is_refused(more, field):
    with pytest.raises(NurseryError) as refused:
        record_examination(words=examination(**more), now=NOW)
    assert refused.value.field == field
    assert Examination.objects.count() == 0


def test_the_file_of_examinations_holds_them_newest_first():
    bench = make.BenchFactory().code
    for days in (3, 1, 2):
        record_examination(
            words=examination(place=bench, on=TODAY - timedelta(days=days), action="-"), now=NOW
        )
    header, *rows = record_rows(Examination.objects.newest_first())
    assert header[0] == "on"
    assert [row[0] for row in rows] == ["2026-06-09", "2026-06-08", "2026-06-07"]
    assert rows[0][-1] == "'-"
