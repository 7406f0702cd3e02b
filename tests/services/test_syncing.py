"""Does any order of arrival end alike, and can no item jam a tablet?"""

from __future__ import annotations

import itertools
from datetime import datetime, timedelta
from uuid import NAMESPACE_OID, uuid4, uuid5

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from batches.models import ToSettle, Tray, TrayCheck
from batches.services.standing import refold
from batches.services.syncing import BadBody, Sender, take_items
from tests.factories import BenchFactory, LaidOutTrayFactory, TrayFactory
from tests.factories.days import NOW

pytestmark = pytest.mark.django_db


def item(ago: float, kind: str = "check", **more):
    at = (NOW - timedelta(hours=ago)).isoformat()
    return {"id": str(uuid4()), "kind": kind, "by": "Wilf", "occurred_at": at} | more


def send(*items, sent_at: str = "", now: datetime = NOW):
    body = {"sent_at": sent_at or now.isoformat(), "items": list(items)}
    return take_items(body=body, sender=Sender(), now=now)


def new_tray(counted: int = 60) -> Tray:
    tray: Tray = TrayFactory(counted=counted)
    refold(trays=[tray], recorded_at=NOW)
    return tray


def state(tray: Tray):
    tray.refresh_from_db()
    waits = ToSettle.objects.open().filter(tray=tray).count()
    return tray.alive, tray.stage, str(tray.last_look_on), tray.last_signs, waits


def counts(code):
    return [
        item(9, tray=code, count=50),
        item(5, tray=code, count=55),
        item(3, tray=code, count=52),
    ]


def losses(code):
    lost = [{"quantity": 40, "cause": "rot"}]
    return [item(9, tray=code, count=45), item(5, tray=code, losses=lost)]


def struck(code):
    look = item(9, tray=code, count=50)
    return [look, item(5, "strike_out", strikes_out=look["id"]), item(4, tray=code, signs=["dry"])]


def behind(code):
    """Seen further on first, and behind later: it waits, whichever came first."""
    return [
        item(9, tray=code, stage_seen="first_frond"),
        item(5, tray=code, stage_seen="gametophyte"),
        item(3, tray=code, signs=["dry"]),
    ]


def at_once(code):
    """Two looks of one and the same instant: the number that the tablet gave them parts them."""
    return [
        item(9, tray=code, stage_seen="gametophyte", device_seq=1),
        item(9, tray=code, stage_seen="first_frond", device_seq=2),
    ]


def picked_before_it_was_seen(code):
    """A look that says prothalli, of a day by which the mat had been picked, as came out later."""
    batch = Tray.objects.get(code=code).batch
    early, late = (LaidOutTrayFactory(batch=batch).code for _ in range(2))
    return [
        item(120, "prick_out", tray=code, quantity=5, trays=[{"code": early, "quantity": 5}]),
        item(72, tray=code, stage_seen="gametophyte", signs=["mould"]),
        item(24, "prick_out", tray=code, quantity=5, trays=[{"code": late, "quantity": 5}]),
    ]


def picked(code):
    """A look at what was filled, a count of what stayed, on the day of the picking."""
    child = LaidOutTrayFactory(batch=Tray.objects.get(code=code).batch).code
    into = [{"code": child, "quantity": 20}]
    return [
        item(9, "prick_out", tray=code, quantity=20, trays=into),
        item(7, tray=code, count=38),
        item(5, tray=child, count=19),
    ]


def picked_twice(code):
    """Two days' pickings into one tray; its first day is the earlier one's."""
    child = LaidOutTrayFactory(batch=Tray.objects.get(code=code).batch).code
    into = [{"code": child, "quantity": 5}]
    return [
        item(50, "prick_out", tray=code, quantity=5, trays=into),
        item(4, "prick_out", tray=code, quantity=5, trays=into),
        item(30, tray=child, signs=["dry"]),
    ]


def picked_and_taken_back(code):
    """A picking with the wrong number, taken back and logged anew into one of its trays."""
    batch = Tray.objects.get(code=code).batch
    child, other = (LaidOutTrayFactory(batch=batch).code for _ in range(2))
    wrong = [{"code": child, "quantity": 20}, {"code": other, "quantity": 10}]
    picking = item(5, "prick_out", tray=code, quantity=30, trays=wrong)
    return [
        picking,
        item(4.9, "strike_out", tray=code, strikes_out=picking["id"]),
        item(4.8, "prick_out", tray=code, quantity=24, trays=[{"code": child, "quantity": 24}]),
    ]


def struck_twice(code):
    """Two tablets undo one look."""
    look = item(9, tray=code, count=50)
    return [
        look,
        item(5, "strike_out", strikes_out=look["id"]),
        item(4, "strike_out", strikes_out=look["id"]),
    ]


def moved(code):
    """Moved twice in one day; another tray is put on the same place."""
    benches = [BenchFactory(rows=2, columns=2).code for _ in range(2)]
    other = new_tray()
    return [
        item(4, "move", tray=code, bench=benches[0], row=1, column=1),
        item(2, "move", tray=code, bench=benches[1], row=1, column=1),
        item(3, "move", tray=other.code, bench=benches[1], row=1, column=1),
    ]


STORIES = [
    counts, losses, struck, behind, at_once, picked, picked_before_it_was_seen, picked_twice,
    struck_twice, moved, picked_and_taken_back,
]  # fmt: skip


@pytest.mark.parametrize("story", STORIES)
def test_every_order_of_arrival_ends_alike(story) -> None:
    ends = set()
    for order in itertools.permutations(range(len(story(new_tray().code)))):
        tray = new_tray()
        items = story(tray.code)
        waited = ToSettle.objects.open().count()
        for place in order:
            send(items[place])
        stands = state(tray)
        children = Tray.objects.filter(parents=tray)
        filled = tuple((child.alive, child.last_signs, child.started_on) for child in children)
        where = bench_of(tray, items)
        ends.add((stands, filled, where, ToSettle.objects.open().count() - waited))
    assert len(ends) == 1


def bench_of(tray, items):
    """Return at which of its moves' benches a tray stands; None where it was not moved."""
    benches = [one["bench"] for one in items if "bench" in one and one["tray"] == tray.code]
    return benches.index(tray.bench.code) if benches else None


def test_a_count_above_a_book_that_an_earlier_look_lowers_later_is_set_aside() -> None:
    tray = new_tray()
    first, second, _ = counts(tray.code)
    send(second)
    send(first)
    tray.refresh_from_db()
    assert tray.alive == 50
    assert TrayCheck.objects.get(pk=second["id"]).count == 55
    assert ToSettle.objects.open().get().reason.startswith("55 were counted")
    assert [one.status for one in send(second)] == ["duplicate"]


def test_a_strike_out_waits_for_its_look() -> None:
    tray = new_tray()
    look, strike, _ = struck(tray.code)
    assert [one.status for one in send(strike)] == ["review"]
    send(look)
    assert (
        TrayCheck.objects.get(pk=strike["id"]).strikes_out_id
        == TrayCheck.objects.get(pk=look["id"]).pk
    )
    assert not ToSettle.objects.open().exists()
    assert [one.status for one in send(strike)] == ["duplicate"]


FAR = ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00")


@pytest.mark.parametrize("at", FAR)
@pytest.mark.parametrize("off", [timedelta(0), timedelta(days=2), timedelta(days=-2)])
def test_a_time_out_of_reach_waits_and_the_rest_of_the_batch_is_stored(at: str, off) -> None:
    tray = new_tray()
    odd, plain = item(1, tray=tray.code) | {"occurred_at": at}, item(1, tray=tray.code)
    answers = send(odd, plain, sent_at=(NOW + off).isoformat())
    assert answers[0].status == "review"
    assert answers[1].status in {"created", "review"}


@pytest.mark.parametrize("sent_at", FAR)
def test_a_body_sent_in_an_impossible_year_is_refused_in_words(sent_at: str) -> None:
    with pytest.raises(BadBody, match="clock"):
        send(sent_at=sent_at)


def test_an_answer_names_the_item_as_the_tablet_wrote_its_id() -> None:
    look = item(1, tray=new_tray().code)
    look["id"] = look["id"].upper()
    assert send(look)[0].id == look["id"]


LOOKS = st.fixed_dictionaries(
    {"hours": st.integers(1, 300), "tablet": st.integers(0, 2)},
    optional={
        "stage_seen": st.sampled_from(["gametophyte", "first_frond"]),
        "count": st.integers(1, 60),
        "signs": st.lists(st.sampled_from(["mould", "dry"]), max_size=2, unique=True),
    },
)


@given(looks=st.lists(LOOKS, min_size=2, max_size=5, unique_by=lambda one: one["hours"]),
       skews=st.tuples(*[st.integers(-48, 48)] * 3), deliveries=st.data())  # fmt: skip
@settings(
    max_examples=15,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_three_tablets_with_wrong_clocks_lost_and_repeated_deliveries_end_alike(
    looks, skews, deliveries
) -> None:
    """What is lost is sent again until it is answered, so every look comes once at the least."""
    everyone = list(range(len(looks)))
    ends = set()
    for _ in range(2):
        tray = new_tray()
        order = deliveries.draw(st.permutations(everyone))
        order += deliveries.draw(st.lists(st.sampled_from(everyone), max_size=4))
        for place in order:
            look = dict(looks[place])
            skew = timedelta(hours=skews[look.pop("tablet")])
            hours = look.pop("hours")
            one = item(hours, tray=tray.code, **look)
            one["id"] = str(uuid5(NAMESPACE_OID, f"{tray.code}|{place}"))
            one["occurred_at"] = (NOW - timedelta(hours=hours) + skew).isoformat()
            send(one, sent_at=(NOW + skew).isoformat())
        assert TrayCheck.objects.filter(tray=tray).count() == len(looks)
        alive, stage, last_look, signs, _ = state(tray)
        ends.add((alive, stage, last_look, signs))
    assert len(ends) == 1
