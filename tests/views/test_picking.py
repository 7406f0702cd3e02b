"""Are labels laid out before a tray is opened, and then filled?"""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import LaidOutTray, Tray
from batches.services import standing
from tests.factories import NOW, TODAY, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def mat():
    one = TrayFactory(start_stage="sown", unit="patches", counted=84)
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def page_of(tray, way="prick-out") -> str:
    return reverse(f"batches:{way}", args=[tray.code])


def lay_out(client, tray, how_many=2):
    return client.post(page_of(tray), {"lay-how_many": how_many, "lay-container": "cell tray 84"})


def filling(tray, pairs, **more):
    body = {"on": TODAY.isoformat(), "after": "keep", "record_id": str(uuid4()),
            "revision": tray.revision}  # fmt: skip
    for code, (left, arrived) in pairs.items():
        body |= {f"left_{code}": left, f"arrived_{code}": arrived}
    return body | more


def codes():
    return list(LaidOutTray.objects.order_by("code").values_list("code", flat=True))


def test_codes_are_laid_out_and_their_labels_offered(hand, mat):
    lay_out(hand, mat)
    page = hand.get(page_of(mat)).content.decode()
    assert len(codes()) == 2
    for code in codes():
        assert code in page
    assert f"/labels/?tray={codes()[0]}" in page
    assert "Legionella" in page


def test_patches_out_and_plants_in_are_two_numbers(hand, mat):
    lay_out(hand, mat)
    first, second = codes()
    body = filling(mat, {first: (40, 84), second: (20, 50)}, after="more",
                   come_back_on="2026-07-01")  # fmt: skip
    answer = hand.post(page_of(mat), body, follow=True)
    assert answer.status_code == 200
    mat.refresh_from_db()
    children = {tray.code: tray.alive for tray in Tray.objects.filter(start_stage="pricked_out")}
    assert children == {first: 84, second: 50}
    assert (mat.alive, mat.stage, str(mat.come_back_on)) == (24, "first_frond", "2026-07-01")
    assert LaidOutTray.objects.waiting().count() == 0


@pytest.mark.parametrize(
    ("pairs", "more", "words"),
    [
        ({}, {}, "at least one tray"),
        ({0: (10, "")}, {}, "belong together"),
        ({0: (200, 300)}, {}, "Nothing was stored"),
        ({0: (10, 20)}, {"after": "more"}, "On which day"),
        ({0: (10, 20)}, {"on": "2027-01-01"}, "future"),
    ],
)
def test_bad_numbers_are_told_and_nothing_is_stored(hand, mat, pairs, more, words):
    lay_out(hand, mat)
    named = {codes()[place]: pair for place, pair in pairs.items()}
    answer = hand.post(page_of(mat), filling(mat, named, **more))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Tray.objects.count() == 1


def test_two_people_picking_one_mat_at_once(hand, office, mat):
    lay_out(hand, mat)
    first, second = codes()
    shown = filling(mat, {second: (10, 20)})
    hand.post(page_of(mat), filling(mat, {first: (10, 20)}))
    answer = office.post(page_of(mat), shown)
    assert answer.status_code == 422
    assert "Somebody else" in answer.content.decode()


def test_an_unfilled_code_is_handed_back_and_never_given_out_again(hand, mat):
    lay_out(hand, mat, 1)
    (code,) = codes()
    hand.post(reverse("batches:give-back", args=[code]))
    assert code not in hand.get(page_of(mat)).content.decode().split("Fill them")[1]
    lay_out(hand, mat, 1)
    assert len(set(codes())) == 2
    answer = hand.get(reverse("batches:laid-out", args=[code]), follow=True)
    assert "handed back" in answer.content.decode()


def test_a_discarded_tray_is_not_pricked_out(hand, mat):
    Tray.objects.filter(pk=mat.pk).update(ended_on=TODAY, end="discarded", end_cause="mould")
    answer = hand.get(page_of(mat), follow=True)
    assert "was discarded" in answer.content.decode()


def test_a_standing_tray_is_continued(hand, mat):
    lay_out(hand, mat, 1)
    (code,) = codes()
    hand.post(page_of(mat), filling(mat, {code: (10, 20)}))
    mat.refresh_from_db()
    assert "stands, holds 20 plants" in hand.get(page_of(mat)).content.decode()
    hand.post(page_of(mat), filling(mat, {code: (5, 9)}))
    assert Tray.objects.get(code=code).alive == 29


def test_full_less_gaps_is_what_arrived_and_the_yield_is_the_sum_of_pickings(hand, mat):
    hand.post(page_of(mat), {"lay-how_many": 2, "lay-container": "cell tray 84", "lay-cells": 84})
    first, second = codes()
    body = filling(mat, {first: (40, "")}, after="more", come_back_on="2026-07-01")
    hand.post(page_of(mat), body | {f"gaps_{first}": 4})
    assert Tray.objects.get(code=first).alive == 80
    mat.refresh_from_db()
    hand.post(page_of(mat), filling(mat, {second: (44, 120)}, after="end"))
    page = " ".join(hand.get(reverse("batches:tray", args=[mat.code])).content.decode().split())
    assert "200 plants (pricked out) from 84 patches, in 1 picking" in page
    assert "was cleared" in page
    assert f"40 patches moved to {first} (80 plants arrived)." in page


@pytest.mark.parametrize(
    ("fields", "words"), [({"gaps": 84}, "less than or equal to 83"), ({"gaps": 3}, "not both")]
)
def test_gaps_that_make_no_sense_are_told(hand, mat, fields, words):
    hand.post(page_of(mat), {"lay-how_many": 1, "lay-container": "cell tray 84", "lay-cells": 84})
    (code,) = codes()
    body = filling(mat, {code: (40, 80)}) | {f"gaps_{code}": fields["gaps"]}
    answer = hand.post(page_of(mat), body)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Tray.objects.count() == 1
