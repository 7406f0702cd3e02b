"""Are codes given out ahead, printed, filled or handed back, and never used twice?"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from batches.core.codes import BadCode, read_code
from batches.core.errors import NotPossibleNow, NotUnderstood, UnknownCode
from batches.models import CodeEntry, LaidOutTray, Tray
from batches.services.codes import find_code, find_tray
from batches.services.laid_out import hand_back, lay_out, mark_printed, waiting_for
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


def lay(batch, **more):
    given: dict[str, Any] = {
        "deed": "prick_out", "how_many": 2, "container": "cell tray 84", "cells": 84,
        "by": "Una Tarn", "today": TODAY,
    }  # fmt: skip
    return lay_out(batch=batch, **(given | more))


def test_codes_are_given_out_in_order_with_the_batchs_own_groups():
    batch = make.BatchFactory(code="26W14-007-A", started_on=date(2026, 4, 1))
    codes = [row.code for row in lay(batch)] + [row.code for row in lay(batch)]

    batch.refresh_from_db()
    assert batch.trays_given == 4
    assert all(read_code(code).fits for code in codes)
    assert [code[-4:-2] for code in codes] == ["01", "02", "03", "04"]
    assert len({code[:9] for code in codes}) == 1


def test_a_batch_with_an_own_code_lends_a_stem_that_finds_it():
    batch = make.BatchFactory(code="My-Batch")

    (first, _) = lay(batch)

    batch.refresh_from_db()
    assert first.code.startswith(batch.code_stem[:-2])
    assert find_code(batch.code_stem).obj == batch


def test_what_is_laid_out_and_handed_back_is_never_given_out_again():
    batch = make.BatchFactory()
    kept, back = lay(batch)

    (row,) = hand_back(codes=[back.code], today=TODAY)
    hand_back(codes=[back.code], today=date(2026, 7, 1))
    more = lay(batch, how_many=3)

    assert row.handed_back_on == TODAY
    assert CodeEntry.objects.get(code=back.code).handed_back_on == TODAY
    assert back.code not in {one.code for one in more}
    assert [one.code for one in waiting_for(batch=batch)] == [
        kept.code,
        *(one.code for one in more),
    ]
    with pytest.raises(UnknownCode, match="handed back unused on 10 Jun 2026"):
        find_code(back.code)


def test_a_laid_out_code_is_found_as_such_and_is_no_tray_yet():
    row, _ = lay(make.BatchFactory())

    assert (find_code(row.code.lower()).kind, find_code(row.code).obj) == ("laid_out", row)
    with pytest.raises(UnknownCode, match="nothing was counted into it yet"):
        find_tray(row.code)


def test_a_printed_label_is_noted_on_codes_and_on_trays():
    row, other = lay(make.BatchFactory())
    tray = make.TrayFactory(label_printed_on=None)

    assert mark_printed(codes=[row.code, tray.code, "nothing"], today=TODAY) == 2

    assert LaidOutTray.objects.get(pk=row.pk).label_printed_on == TODAY
    assert LaidOutTray.objects.get(pk=other.pk).label_printed_on is None
    assert Tray.objects.get().label_printed_on == TODAY


def test_a_filled_code_is_not_handed_back_and_then_none_is():
    filled, free = lay(make.BatchFactory())
    filled.filled_by = make.TrayFactory(batch=filled.batch)
    filled.save()

    with pytest.raises(NotPossibleNow, match="None was handed back"):
        hand_back(codes=[free.code, filled.code], today=TODAY)
    with pytest.raises(UnknownCode):
        hand_back(codes=["nothing"], today=TODAY)

    assert LaidOutTray.objects.waiting().get() == free
    assert CodeEntry.objects.get(code=free.code).handed_back_on is None


@pytest.mark.parametrize(
    ("wrong", "error", "field"),
    [
        ({"deed": "sow"}, NotUnderstood, "deed"),
        ({"container": " "}, NotUnderstood, "container"),
        ({"deed": "pot_up"}, NotUnderstood, "pot_size"),
        ({"cells": 0}, NotUnderstood, "cells"),
        ({"how_many": 0}, BadCode, "how_many"),
        ({"how_many": 1000}, BadCode, "how_many"),
    ],
)
def test_bad_input_gives_out_no_code(wrong, error, field):
    batch = make.BatchFactory()
    before = CodeEntry.objects.count()

    with pytest.raises(error) as refused:
        lay(batch, **wrong)

    assert refused.value.field == field
    assert CodeEntry.objects.count() == before


def test_a_batch_holds_at_most_999_trays():
    batch = make.BatchFactory(trays_given=998)

    with pytest.raises(BadCode, match="at most 999"):
        lay(batch)
    assert len(lay(batch, how_many=1)) == 1


def test_a_parent_of_another_batch_or_an_ended_one_lays_nothing_out():
    batch = make.BatchFactory()
    with pytest.raises(NotPossibleNow, match="never put together"):
        lay(batch, parents=[make.TrayFactory()])
    with pytest.raises(NotPossibleNow, match="was cleared"):
        lay(batch, parents=[make.TrayFactory(batch=batch, ended_on=TODAY, end="cleared")])
