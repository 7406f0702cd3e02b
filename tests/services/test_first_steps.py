"""Do the first steps know what is done, and stop once the nursery is under way?"""

from __future__ import annotations

from datetime import date

from batches.services.first_steps import first_steps, next_step
from tests.factories import (
    BenchFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayFactory,
)


def _ahead() -> str:
    step = next_step(first_steps())
    return "" if step is None else step.name


def test_an_empty_nursery_begins_with_its_houses(db: None) -> None:
    assert [step.name for step in first_steps()] == [
        "houses", "ferns", "people", "lot", "sowing", "labels"
    ]  # fmt: skip
    assert not any(step.done for step in first_steps())
    assert _ahead() == "houses"


def test_each_deed_leads_to_the_next_until_a_label_is_printed(
    hand_person: object, manager_person: object, today: date
) -> None:
    BenchFactory()
    assert _ahead() == "ferns"
    TaxonFactory()
    assert _ahead() == "lot"  # two people are there already
    SporeLotFactory()
    assert _ahead() == "sowing"
    tray = TrayFactory(label_printed_on=None)
    assert _ahead() == "labels"
    tray.label_printed_on = today
    tray.save()
    assert first_steps() == ()


def test_after_a_step_comes_the_next_one_that_is_not_done(db: None) -> None:
    TaxonFactory()
    ahead = next_step(first_steps(), after="houses")
    assert ahead is not None
    assert ahead.name == "people"
