"""How many plants entered a stage and how many moved on?"""

from __future__ import annotations

from datetime import date

from batches.core.history import Passage
from batches.core.ledger import Change
from batches.core.passing import CountedTray, Entry, Passed, passed
from batches.core.stages import Route, Stage


def entry(day: int, kind: str, quantity: int, **more) -> Entry:
    return Entry(on=date(2026, 6, day), kind=Change(kind), quantity=quantity, **more)


def cells(*entries: Entry, left: int | None = 30, **more) -> CountedTray:
    settings = {
        "route": Route.SPORE, "start_stage": Stage.PRICKED_OUT, "passages": (),
        "entries": entries, "left_on": None if left is None else date(2026, 6, left),
    }  # fmt: skip
    return CountedTray(**(settings | more))


def test_out_over_in_for_a_tray_that_has_left():
    found = passed(
        cells(entry(1, "out", 84, arrived_here=True), entry(9, "loss", 10), entry(20, "out", 74))
    )
    assert found == (
        Passed(from_stage=Stage.PRICKED_OUT, to_stage=Stage.POTTED_UP, plants_in=84, plants_out=74),
    )


def test_a_tray_that_still_stands_has_no_row():
    assert passed(cells(entry(1, "in", 84), left=None)) == ()


def test_surplus_says_nothing_of_survival():
    assert passed(cells(entry(1, "in", 84), surplus=True)) == ()


def test_ready_is_seen_and_passes_on_what_was_alive_and_what_was_sold_before():
    ready = Passage(
        from_stage=Stage.POTTED_UP, to_stage=Stage.READY, not_before=None, seen_on=date(2026, 6, 15)
    )
    pots = cells(
        entry(1, "in", 50), entry(5, "dispatch", 5), entry(9, "loss", 4), entry(20, "loss", 3),
        entry(25, "dispatch", 38), start_stage=Stage.POTTED_UP, passages=(ready,),
    )  # fmt: skip
    assert passed(pots) == (
        Passed(from_stage=Stage.POTTED_UP, to_stage=Stage.READY, plants_in=50, plants_out=46),
    )


def test_what_went_to_a_tray_in_the_same_stage_is_counted_there():
    pots = cells(
        entry(1, "in", 50), entry(9, "out", 20, same_stage=True), entry(25, "dispatch", 28),
        start_stage=Stage.POTTED_UP,
    )  # fmt: skip
    (found,) = passed(pots)
    assert (found.plants_in, found.plants_out) == (30, 28)


def test_a_recount_is_neither_in_nor_out():
    (found,) = passed(cells(entry(1, "in", 50), entry(5, "recount", -2), entry(9, "out", 48)))
    assert (found.plants_in, found.plants_out) == (50, 48)


def test_all_lost():
    (found,) = passed(cells(entry(1, "in", 50), entry(9, "loss", 50)))
    assert (found.plants_in, found.plants_out) == (50, 0)
