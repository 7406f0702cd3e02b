"""Can what a trail leads to be held in two steps, seen everywhere, and let go by a manager?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import TrayHold
from tests.factories import TODAY, BenchFactory, PlantMovementFactory, TrayFactory
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
WHY = "Leaf spots on pots of this lot."


@pytest.fixture
def pots():
    mat = TrayFactory()
    return TrayFactory(
        batch=mat.batch, carrier=True, counted=40, parents=[mat], bench=BenchFactory()
    )


@pytest.fixture
def alarm(hand, pots):
    lot = pots.batch.spore_lot.code
    address = f"{reverse('batches:hold-new')}?code={lot}"
    assert pots.code in hand.get(address).content.decode()
    answer = hand.post(address, filled(reason=WHY))
    assert answer.status_code == 302
    return answer["Location"]


def test_a_hand_holds_what_a_lot_led_to_and_everybody_sees_it(hand, alarm, pots):
    assert TrayHold.objects.standing().count() == 2
    for name, args in (
        ("today", ()),
        ("tray", (pots.code,)),
        ("trace", (pots.code,)),
        ("tray-deed", (pots.code, "dispatch")),
        ("holds", ()),
        ("bench-card", (pots.code,)),
    ):
        assert WHY in page(hand, name, *args), name
    assert 'data-state="held"' in page(hand, "bench-map")
    assert WHY in page(hand, "labels", tray=pots.code)
    assert "Hold these" in page(hand, "trace", pots.code)


def test_a_dispatch_is_refused_in_words_that_say_whom_to_ask(hand, alarm, pots, manager_person):
    address = reverse("batches:tray-deed", args=[pots.code, "dispatch"])
    assert f"Ask {manager_person.name}" in hand.get(address).content.decode()
    body = filled(quantity=3, recipient="Kiln Yard", on=TODAY, revision=pots.revision)
    answer = hand.post(address, body)
    assert answer.status_code == 422
    assert "Nothing of it may leave" in answer.content.decode()
    pots.refresh_from_db()
    assert pots.alive == 40


def test_only_a_manager_lets_go_and_says_why(hand, manager, alarm, pots):
    lift = alarm + "lift/"
    assert hand.post(lift, {"which": "all", "reason": "x"}).status_code == 403
    assert "Let them go" not in hand.get(alarm).content.decode()
    assert "Let them go" in manager.get(alarm).content.decode()
    assert manager.post(lift, {"which": "all", "reason": ""}).status_code == 422
    assert "Tick the trays" in manager.post(lift, {"reason": "Clean."}).content.decode()
    manager.post(lift, {"tray": pots.code, "reason": "Only scorch."})
    assert TrayHold.objects.standing().count() == 1
    told = page(hand, "tray", pots.code)
    assert "Was held" in told
    assert "Only scorch." in told
    manager.post(lift, {"which": "all", "reason": "Clean after a week."})
    assert "Nothing is held" in page(hand, "holds")
    assert "All are let go" in hand.get(alarm).content.decode()


def test_a_trail_that_is_none_leads_back_and_an_unknown_hold_is_not_found(hand):
    answer = hand.get(reverse("batches:hold-new"), {"code": "NOTHING"})
    assert answer["Location"] == reverse("batches:trace-start")
    missing = reverse("batches:hold", args=["00000000-0000-0000-0000-000000000000"])
    assert hand.get(missing).status_code == 404


def test_from_a_dispatch_the_tray_it_was_taken_from_is_held(hand, pots):
    sale = PlantMovementFactory(tray=pots, kind="dispatch", quantity=4, recipient="Kiln Yard")
    elsewhere = TrayFactory()
    address = f"{reverse('batches:hold-new')}?sent={sale.pk}"
    hand.post(address, filled(reason=WHY))
    assert {row.tray for row in TrayHold.objects.all()} == {pots}
    assert elsewhere.code not in hand.get(address).content.decode()
