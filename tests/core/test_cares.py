"""Is a care due when its time has come, and never before the first frond or in a rest?"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from batches.core.cares import Care, CaredFor, cares_due
from batches.core.stages import Route, Stage

START = date(2026, 6, 1)
ALL = frozenset(Care)


def tray(stage: Stage, **more) -> CaredFor:
    settings: dict[str, Any] = {
        "route": Route.SPORE, "stage": stage, "stage_since": START, "cover": "closed",
        "rest": None, "done": {},
    }  # fmt: skip
    return CaredFor(**(settings | more))


def due(one: CaredFor, after: int, wanted=ALL):
    found = cares_due(one, on=START + timedelta(days=after), wanted=wanted)
    return {line.care: line for line in found}


@pytest.mark.parametrize("stage", [Stage.SOWN, Stage.GAMETOPHYTE])
def test_nothing_is_fed_or_weaned_before_the_first_frond(stage):
    assert due(tray(stage), 300) == {}


def test_weaning_goes_step_by_step_until_the_lid_is_off():
    one = tray(Stage.PRICKED_OUT)
    assert Care.WEAN not in due(one, 3)
    assert "step 1 of 4" in due(one, 4)[Care.WEAN].reason
    stepped = tray(Stage.PRICKED_OUT, done={Care.WEAN: (START + timedelta(days=4),)})
    assert Care.WEAN not in due(stepped, 7)
    assert "step 2 of 4" in due(stepped, 8)[Care.WEAN].reason
    assert Care.WEAN not in due(tray(Stage.PRICKED_OUT, cover="off"), 20)


def test_feed_comes_round_and_slow_release_once():
    one = tray(Stage.POTTED_UP, cover="off")
    assert set(due(one, 21)) == {Care.FEED, Care.SLOW_RELEASE}
    done = {Care.FEED: (START + timedelta(days=20),), Care.SLOW_RELEASE: (START,)}
    fed = tray(Stage.POTTED_UP, cover="off", done=done)
    assert due(fed, 40) == {}
    assert set(due(fed, 41)) == {Care.FEED}


def test_a_resting_fern_and_a_reminder_that_is_off_ask_for_nothing():
    assert due(tray(Stage.POTTED_UP, rest=(20, 30)), 30) == {}
    assert due(tray(Stage.POTTED_UP), 30, wanted=frozenset()) == {}
