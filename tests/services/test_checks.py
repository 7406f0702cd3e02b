"""Is a look stored once, believed, and refused in words when it cannot be?"""

from __future__ import annotations

import random
import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from batches.core.errors import (
    AlreadyTaken,
    ChangedMeanwhile,
    LedgerDoesNotBalance,
    NotPossibleNow,
    NotUnderstood,
    OutOfTime,
)
from batches.models import PlantMovement, StageTransition, Tray, TrayCheck
from batches.services.checks import record_check
from batches.services.standing import differing
from batches.services.stock_book import book_of
from batches.services.suspicion import lots_under_suspicion, trays_under_suspicion
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


def look(tray, **more):
    more.setdefault("seen_at", make.NOW)
    more.setdefault("now", make.NOW)
    return record_check(tray=tray, by="Una Tarn", **more)


def days_ago(days: int, hour: int = 9) -> datetime:
    return make.at(TODAY - timedelta(days=days), hour)


def test_nothing_new_is_a_look_and_says_when_the_next_one_is():
    tray = make.TrayFactory()

    result = look(tray)

    assert result.created
    assert TrayCheck.objects.get() == result.check
    assert result.next_look_on == result.tray.look_due_on == date(2026, 6, 24)
    assert "looked, nothing new" in result.message
    assert "Wed 24 Jun 2026" in result.message
    assert differing() == (1, ())


def test_the_same_look_sent_twice_is_stored_once_and_answers_as_the_first_time():
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    seen: dict[str, Any] = {
        "record_id": uuid.uuid4(),
        "count": 70,
        "signs": ["mould", "algae"],
        "losses": [(4, "mould"), (1, "")],
        "note": " wet corner ",
    }

    first = look(tray, **seen)
    again = look(tray, **seen, seen_at_device=None)

    assert (first.created, again.created) == (True, False)
    assert again.message == first.message
    assert again.recount == first.recount
    assert TrayCheck.objects.count() == 1
    assert sorted(PlantMovement.objects.values_list("kind", "quantity")) == [
        ("in", 84), ("loss", 1), ("loss", 4), ("recount", -9),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "change",
    [
        {"count": 69},
        {"signs": ["algae"]},
        {"losses": [(5, "mould")]},
        {"note": "another"},
        {"seen_at": make.NOW - timedelta(hours=1)},
    ],
)
def test_another_content_under_the_same_id_is_refused(change):
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    seen: dict[str, Any] = {
        "record_id": uuid.uuid4(), "count": 70, "signs": ["mould"], "losses": [(4, "mould")],
        "seen_at": make.NOW,
    }  # fmt: skip
    look(tray, **seen)

    with pytest.raises(AlreadyTaken, match="What was stored stays"):
        look(tray, **(seen | change))

    assert TrayCheck.objects.count() == 1


def test_a_clock_put_right_twice_by_different_seconds_is_still_the_same_look():
    tray = make.TrayFactory()
    said = make.NOW - timedelta(hours=2)
    record_id = uuid.uuid4()
    look(tray, record_id=record_id, seen_at_device=said, seen_at=make.NOW)

    again = look(
        tray, record_id=record_id, seen_at_device=said, seen_at=make.NOW + timedelta(seconds=3)
    )

    assert not again.created


def test_a_look_in_the_future_or_before_the_start_is_refused():
    tray = make.TrayFactory()
    look(tray, seen_at=make.NOW + timedelta(minutes=5))

    with pytest.raises(OutOfTime, match="future") as future:
        look(tray, seen_at=make.NOW + timedelta(minutes=6))
    with pytest.raises(OutOfTime, match=r"before tray .* was started") as early:
        look(tray, seen_at=make.at(make.STARTED_ON - timedelta(days=1)))

    assert future.value.field == early.value.field == "seen_at"
    assert TrayCheck.objects.count() == 1


def test_a_look_half_an_hour_before_midnight_belongs_to_that_day():
    # 22:45 UTC on 1 July is 23:45 in the nursery's summer time.
    tray = make.TrayFactory(cells_of_84=True, counted=10)
    moment = datetime(2026, 7, 1, 22, 45, tzinfo=UTC)

    result = look(tray, seen_at=moment, now=moment, losses=[(1, "rot")])

    assert PlantMovement.objects.get(kind="loss").on == date(2026, 7, 1)
    assert result.tray.last_look_on == date(2026, 7, 1)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"signs": ["mildew"]}, "signs"),
        ({"stage_seen": "heart"}, "stage_seen"),
        ({"losses": [(0, "rot")]}, "losses"),
        ({"losses": [(3, "eaten")]}, "losses"),
        ({"losses": [(3, "heart_shapes")]}, "losses"),
        ({"count": -1}, "count"),
        ({"about": True}, "count"),
        ({"seen_at": datetime(2026, 6, 1, 9)}, "seen_at"),  # noqa: DTZ001
    ],
)
def test_words_and_numbers_the_records_do_not_know_are_refused(wrong, field):
    with pytest.raises(NotUnderstood) as refused:
        look(make.TrayFactory(), **wrong)

    assert refused.value.field == field
    assert not TrayCheck.objects.exists()


def test_a_stage_of_another_route_is_refused():
    tray = make.TrayFactory(batch=make.BatchFactory(bulbil=True))

    with pytest.raises(NotPossibleNow, match="raised from bulbils"):
        look(tray, stage_seen="gametophyte")


def test_a_first_frond_seen_proves_the_green_before_it():
    tray = make.TrayFactory()
    look(tray, seen_at=days_ago(20), now=days_ago(20))

    result = look(tray, stage_seen="first_frond")

    assert result.tray.stage == "first_frond"
    rows = StageTransition.objects.values_list("to_stage", "not_before", "seen_on", "derived")
    assert sorted(rows) == [
        ("first_frond", TODAY - timedelta(days=20), TODAY, True),
        ("gametophyte", TODAY - timedelta(days=20), TODAY, True),
    ]


def test_a_stage_going_backward_is_refused_unless_it_is_a_correction():
    tray = make.TrayFactory()
    look(tray, seen_at=days_ago(10), now=days_ago(10), stage_seen="first_frond")

    with pytest.raises(NotPossibleNow, match="enter it as a correction"):
        look(tray, stage_seen="sown")
    result = look(tray, stage_seen="gametophyte", correction=True)

    assert result.tray.stage == "gametophyte"
    row = StageTransition.objects.get(derived=False)
    assert (row.from_stage, row.to_stage, row.seen_on) == ("first_frond", "gametophyte", TODAY)
    assert differing() == (1, ())


def test_a_look_that_arrives_late_is_judged_by_what_was_known_at_its_time():
    tray = make.TrayFactory()
    look(tray, stage_seen="gametophyte", seen_at=make.at(TODAY, 11), now=make.at(TODAY, 12))

    result = look(tray, stage_seen="sown", seen_at=make.at(TODAY, 8), now=make.at(TODAY, 13))
    look(tray, stage_seen="sown", seen_at=days_ago(9), now=make.at(TODAY, 13))

    assert result.created
    tray.refresh_from_db()
    assert tray.stage == "gametophyte"
    assert StageTransition.objects.standing().get().not_before == TODAY
    with pytest.raises(NotPossibleNow, match="past that"):
        look(tray, stage_seen="sown", seen_at=make.at(TODAY, 12), now=make.at(TODAY, 13))


def test_what_was_moved_on_is_not_seen_at_the_parent():
    tray = make.TrayFactory()
    make.TrayFactory(cells_of_84=True, batch=tray.batch, parents=[tray], counted=20)

    with pytest.raises(NotPossibleNow, match="stands in other trays now"):
        look(tray, stage_seen="pricked_out")
    look(tray, stage_seen="first_frond")


def test_the_first_exact_count_is_counted_in():
    result = look(make.TrayFactory(), count=40, losses=[(2, "rot")])

    assert (result.recount.kind, result.recount.quantity) == ("in", 42)
    assert result.tray.alive == 40


def test_a_first_count_says_what_the_tray_must_have_held():
    tray = make.TrayFactory(unit="patches")
    child = make.TrayFactory(cells_of_84=True, batch=tray.batch, parents=[tray])
    make.PlantMovementFactory(
        tray=tray, to_tray=child, kind="out", quantity=84, on=TODAY - timedelta(days=9)
    )

    result = look(tray, count=100)

    assert result.recount.quantity == 184
    book = book_of(tray)
    assert book.alive == result.tray.alive == 100
    assert book.counted_in + book.recount == book.alive + book.lost + book.moved_out


def test_an_exact_count_that_disagrees_writes_the_difference_and_an_about_never_does():
    tray = make.TrayFactory(cells_of_84=True, counted=84)

    rough = look(tray, count=70, about=True)
    assert (rough.recount, rough.tray.alive) == (None, 84)
    exact = look(tray, count=79)

    assert (exact.recount.kind, exact.recount.quantity) == ("recount", -5)
    assert exact.recount.on == TODAY
    assert exact.tray.alive == 79
    assert "-5 written as a recount" in exact.message


def test_a_count_above_the_stock_is_refused_where_the_caller_wants_it():
    tray = make.TrayFactory(cells_of_84=True, counted=84)

    with pytest.raises(LedgerDoesNotBalance, match="6 more than its stock book holds"):
        look(tray, count=90, above_stock=False)
    assert not TrayCheck.objects.exists()

    assert look(tray, count=90).tray.alive == 90


def test_losses_beyond_the_stock_are_refused_and_nothing_is_stored():
    tray = make.TrayFactory(cells_of_84=True, counted=10)

    with pytest.raises(LedgerDoesNotBalance, match=r"1 more would have left"):
        look(tray, losses=[(8, "rot"), (3, "slugs")])

    assert not TrayCheck.objects.exists()
    assert PlantMovement.objects.count() == 1


def test_losses_of_an_uncounted_tray_are_kept_and_hold_no_stock():
    result = look(make.TrayFactory(), losses=[(8, "rot")])

    assert result.tray.alive is None
    assert PlantMovement.objects.get().cause == "rot"


def test_a_late_entry_before_an_exact_count_leaves_that_count_standing():
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    look(tray, count=50, seen_at=days_ago(2), now=days_ago(2))

    look(tray, losses=[(10, "slugs")], seen_at=days_ago(6))

    tray.refresh_from_db()
    assert tray.alive == 50
    recounts = PlantMovement.objects.standing().filter(kind="recount")
    assert [row.quantity for row in recounts] == [-24]


@pytest.mark.parametrize("seed", range(6))
def test_any_order_of_arrival_gives_the_same_stage_and_stock(seed):
    looks: list[dict[str, Any]] = [
        {"seen_at": days_ago(30), "count": 80, "stage_seen": "sown"},
        {"seen_at": days_ago(22), "losses": [(6, "mould")], "signs": ["mould"]},
        {"seen_at": days_ago(15, 8), "count": 71, "losses": [(1, "rot")]},
        {"seen_at": days_ago(15, 14), "losses": [(2, "slugs")]},
        {"seen_at": days_ago(9), "count": 70, "about": True, "stage_seen": "gametophyte"},
        {"seen_at": days_ago(4), "count": 66, "signs": ["heart_shapes"]},
        {"seen_at": days_ago(1), "losses": [(3, "damaged")]},
    ]
    found = []
    for order in (looks, random.Random(seed).sample(looks, len(looks))):
        tray = make.TrayFactory()
        for minute, one in enumerate(order):
            look(tray, **one, now=make.NOW + timedelta(minutes=minute))
        tray.refresh_from_db()
        book = book_of(tray)
        found.append((tray.stage, tray.stage_not_before, tray.alive, tray.last_signs, book))

    assert found[0] == found[1]
    assert found[0][2] == 63


def test_a_look_at_an_ended_tray_is_refused_and_says_what_became_of_it():
    child_of = make.TrayFactory(ended_on=TODAY - timedelta(days=3), end="cleared")
    child = make.TrayFactory(cells_of_84=True, batch=child_of.batch, parents=[child_of])
    make.PlantMovementFactory(
        tray=child_of, to_tray=child, kind="out", quantity=9, on=TODAY - timedelta(days=3)
    )
    thrown = make.TrayFactory(ended_on=TODAY, end="discarded", end_cause="moss_liverwort")

    with pytest.raises(NotPossibleNow, match=f"was cleared on .* moved on to {child.code}"):
        look(child_of)
    with pytest.raises(NotPossibleNow, match=r"was discarded on .* \(moss or liverwort\)"):
        look(thrown)


def test_a_look_from_before_the_ending_that_arrives_late_counts():
    tray = make.TrayFactory(ended_on=TODAY - timedelta(days=1), end="cleared")

    assert look(tray, seen_at=days_ago(2)).created
    with pytest.raises(NotPossibleNow):
        look(tray, seen_at=days_ago(1))


def test_a_glance_with_something_seen_is_refused_with_advice():
    with pytest.raises(NotPossibleNow, match="as a look"):
        look(make.TrayFactory(), glance=True, stage_seen="gametophyte")


def test_a_rogue_fern_flags_the_lot_and_its_sister_trays_at_once():
    batch = make.BatchFactory()
    tray, sister = make.TrayFactory.create_batch(2, batch=batch)
    cousin = make.TrayFactory(batch=make.BatchFactory(spore_lot=batch.spore_lot))
    make.TrayFactory()
    make.TrayFactory(batch=batch, ended_on=TODAY, end="cleared")

    result = look(tray, signs=["rogue_fern"])

    assert set(trays_under_suspicion(tray=tray)) == {sister, cousin}
    assert set(trays_under_suspicion(lot=batch.spore_lot)) == {tray, sister, cousin}
    assert list(lots_under_suspicion()) == [batch.spore_lot]
    assert "2 sister trays are flagged" in result.message


def test_a_batch_confirmed_true_after_the_rogue_is_flagged_no_more():
    tray = make.TrayFactory()
    make.TrayFactory(batch=tray.batch)
    look(tray, signs=["rogue_fern"])
    tray.batch.confirmed_true_on = TODAY
    tray.batch.save()

    assert not trays_under_suspicion(tray=tray).exists()


def test_two_people_at_one_tray_the_second_form_on_old_stock_is_refused():
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    shown = Tray.objects.get(pk=tray.pk).revision
    look(tray)
    look(tray, losses=[(4, "rot")], revision=shown)

    with pytest.raises(ChangedMeanwhile, match="Somebody else wrote"):
        look(tray, losses=[(4, "rot")], revision=shown)

    tray.refresh_from_db()
    assert tray.alive == 80


def test_a_look_costs_the_same_however_many_looks_there_were(django_assert_max_num_queries):
    tray = make.TrayFactory()
    for day in range(40, 0, -1):
        make.TrayCheckFactory(tray=tray, seen_at=days_ago(day))

    with django_assert_max_num_queries(22):
        look(tray)
