"""When is a lot dry, and when is its time up?"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from batches.core.lot_age import LotFacts, due_with_lot, sow_by

DAY = date(2026, 6, 1)


def lot(**more) -> LotFacts:
    settings: dict[str, Any] = {
        "spore_kind": "not_green", "collected_on": DAY, "drying_since": None, "cleaned_on": None,
        "sown": False,
    }  # fmt: skip
    return LotFacts(**(settings | more))


def due(facts: LotFacts, after: int):
    return due_with_lot(facts, on=DAY + timedelta(days=after))


def test_spores_dry_for_four_days_and_green_ones_overnight():
    drying = lot(drying_since=DAY, sown=True)
    assert due(drying, 3) == ()
    assert due(drying, 4)[0].due_on == DAY + timedelta(days=4)
    assert len(due(lot(drying_since=DAY, sown=True, spore_kind="green"), 1)) == 1
    assert due(lot(drying_since=DAY, cleaned_on=DAY, sown=True), 9) == ()


def test_green_spores_warn_at_three_days_and_end_at_fourteen():
    green = lot(spore_kind="green")
    assert due(green, 2) == ()
    (warned,) = due(green, 3)
    assert "sow by 15 Jun 2026" in warned.reason
    assert "past its sow-by of 14 days" in due(green, 15)[0].reason
    assert due(lot(spore_kind="green", sown=True), 15) == ()


def test_a_ferns_own_sow_by_comes_before_its_spores_kind():
    # Woodwardia radicans: dry storage of 6 to 12 months killed most spores (Quintanilla et al.
    # 2002, Annals of Botany): an own span of 90 days for drought-tender ferns.
    assert sow_by(spore_kind="not_green", collected_on=DAY, own_days=90) == DAY + timedelta(days=90)
    assert due(lot(sow_by_days=90), 89) == ()
    assert len(due(lot(sow_by_days=90), 90)) == 1


def test_a_test_is_counted_in_its_time_and_an_ended_lot_asks_for_nothing():
    assert due(lot(sown=True, test_sown_on=DAY), 20) == ()
    assert "germination test" in due(lot(sown=True, test_sown_on=DAY), 21)[0].reason
    assert due(lot(ended=True, drying_since=DAY), 30) == ()
