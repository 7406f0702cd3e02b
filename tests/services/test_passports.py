"""Are passports off until set up, and is what was issued kept for good?"""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.models import PassportIssue
from batches.services.passport_register import HEADER, register_of, register_rows
from batches.services.passports import (
    Printed,
    note_issued,
    note_spoiled,
    passport_terms,
    set_passport_terms,
    years_back,
)
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    LaidOutTrayFactory,
    PlantMovementFactory,
    SourceFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db
TERMS: dict[str, Any] = {
    "form": "EU", "title": "Pas Phlandaí", "member_state": "IE", "registration": "00012345",
    "origin": "ie", "gb_ni": False,
}  # fmt: skip


def printed(code, labels=12):
    return Printed(
        form="EU", title="Plant Passport", a="Osmunda regalis", b="IE-00012345", c=code, d="IE",
        e="", labels=labels,
    )  # fmt: skip


def issue(*codes, now=NOW, run=None):
    return note_issued(
        printed=[printed(code) for code in codes], run=run or uuid4(), by="Odile Marsh", now=now
    )


def test_there_are_none_until_a_manager_writes_the_registration_down():
    assert passport_terms() is None
    set_passport_terms(**TERMS)
    terms = passport_terms()
    assert terms is not None
    assert (terms.b, terms.origin) == ("IE-00012345", "IE")
    set_passport_terms(**TERMS | {"form": ""})
    assert passport_terms() is None


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"registration": " "}, "registration"),
        ({"member_state": "I"}, "member_state"),
        ({"member_state": "Ír"}, "member_state"),
        ({"origin": ""}, "origin"),
    ],
)
def test_a_part_that_is_missing_is_asked_for(change, field):
    with pytest.raises(NotUnderstood) as refused:
        set_passport_terms(**TERMS | change)
    assert refused.value.field == field
    assert passport_terms() is None


def test_bought_in_plants_keep_the_link_to_the_passport_they_came_with():
    source = SourceFactory(kind="purchase", supplier="Marl Lane", passport="NL-123 C. 77")
    bought = TrayFactory(
        batch=BatchFactory(source=source, spore_lot=None, route="bought_in", taxon=source.taxon),
        carrier=True,
    )
    own, ahead = TrayFactory(), LaidOutTrayFactory()
    assert issue(bought.code, own.code, ahead.code) == 3
    assert dict(PassportIssue.objects.values_list("c", "replaces")) == {
        bought.code: "NL-123 C. 77", own.code: "", ahead.code: "",
    }  # fmt: skip


def test_a_print_is_entered_once_and_spoiled_labels_are_noted_beside_it():
    tray, run = TrayFactory(), uuid4()
    assert issue(tray.code, run=run) == 1
    assert issue(tray.code, run=run) == 0
    row = PassportIssue.objects.get()
    note_spoiled(issue=row, by="Odile Marsh", now=NOW)
    with pytest.raises(NotPossibleNow):
        note_spoiled(issue=row, by="Odile Marsh", now=NOW)
    assert PassportIssue.objects.count() == 2
    (shown,) = register_of(first=None, last=None).issued
    assert shown.struck_by.by == "Odile Marsh"


def test_an_entry_is_neither_changed_nor_deleted():
    issue(TrayFactory().code)
    for deed in (
        lambda: PassportIssue.objects.update(labels=1),
        lambda: PassportIssue.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
            deed()


def test_the_register_says_to_whom_it_went_and_from_whom_it_came():
    source = SourceFactory(kind="purchase", supplier="=Marl Lane", passport="NL-123 C. 77")
    batch = BatchFactory(source=source, spore_lot=None, route="bought_in", taxon=source.taxon)
    tray, other, spoiled = TrayFactory(batch=batch), TrayFactory(), TrayFactory()
    issue(tray.code, spoiled.code)
    note_spoiled(issue=PassportIssue.objects.get(c=spoiled.code), by="x", now=NOW)
    for one, to in ((tray, "Kiln Yard"), (other, "Tarn Foot"), (spoiled, "Nobody")):
        PlantMovementFactory(tray=one, kind="dispatch", quantity=4, recipient=to)
    found = register_of(first=None, last=None)
    assert [(sent.code, sent.to, sent.quantity) for sent in found.sent] == [
        (tray.code, "Kiln Yard", 4)
    ]
    (received,) = found.received
    assert (received.passport, received.on) == ("NL-123 C. 77", batch.started_on)
    rows = list(register_rows(found))
    assert tuple(rows[0]) == HEADER
    table = [dict(zip(HEADER, row, strict=True)) for row in rows[1:]]
    assert [row["entry"] for row in table] == ["issued", "issued", "sent", "received"]
    assert table[-1]["from_or_to"] == "'=Marl Lane"
    assert next(row for row in table if row["code"] == spoiled.code)["spoiled_on"] == str(TODAY)


def test_days_narrow_what_is_shown_and_three_years_and_more_are_shown_unasked():
    old = TrayFactory()
    issue(old.code, now=NOW - timedelta(days=400))
    assert register_of(first=TODAY, last=TODAY).issued == ()
    assert len(register_of(first=years_back(TODAY), last=None).issued) == 1
    # Article 69(4) of Regulation (EU) 2016/2031: at least three years (from memory).
    assert (TODAY - years_back(TODAY)).days > 3 * 365
