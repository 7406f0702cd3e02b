"""Do plants go from tray to tray without one of them, or where it came from, getting lost?"""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from batches.core.errors import (
    AlreadyTaken,
    ChangedMeanwhile,
    LedgerDoesNotBalance,
    NotPossibleNow,
    NotUnderstood,
    OutOfTime,
    UnknownCode,
)
from batches.models import LaidOutTray, Parentage, PlantMovement, StageTransition, Tray
from batches.services.checks import record_check
from batches.services.laid_out import hand_back, lay_out, mark_printed, waiting_for
from batches.services.moves import Spot
from batches.services.picking import (
    Filling,
    ParentAfter,
    Take,
    patch_out,
    pot_on,
    pot_up,
    prick_out,
)
from batches.services.standing import refold
from batches.services.stock_book import book_of
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY
DEED: dict[str, Any] = {"on": TODAY, "by": "Una Tarn", "now": make.NOW}


@pytest.fixture
def mat():
    """A sown tray in which first fronds were seen three weeks ago; nobody counted it."""
    tray = make.TrayFactory(unit="patches")
    seen = make.at(TODAY - timedelta(days=21))
    record_check(tray=tray, seen_at=seen, now=seen, by="Una Tarn", stage_seen="first_frond")
    tray.refresh_from_db()
    return tray


@pytest.fixture
def plugs():
    """A cell tray of 84 plants, pricked out."""
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    refold(trays=[tray], recorded_at=make.NOW)
    tray.refresh_from_db()
    return tray


def cells(*takes, **more):
    given: dict[str, Any] = {"container": "cell tray 84", "cells": 84} | more
    return Filling(takes=takes, **given)


def pots(*takes, **more):
    given: dict[str, Any] = {"container": "carrier 9 cm", "pot_size": "9 cm"} | more
    return Filling(takes=takes, **given)


def snapshot():
    return Tray.objects.count(), PlantMovement.objects.count(), Parentage.objects.count()


def test_a_mat_is_pricked_out_into_laid_out_trays_and_keeps_its_own_stage(mat):
    first, second, spare = lay_out(
        batch=mat.batch, parents=[mat], deed="prick_out", how_many=3,
        container="cell tray 84", cells=84, by="Una Tarn", today=TODAY,
    )  # fmt: skip
    mark_printed(codes=[first.code, second.code, spare.code], today=TODAY)
    bench = make.BenchFactory()

    result = prick_out(
        fillings=[
            Filling(takes=[Take(parent=mat, left=34, arrived=84)], code=first.code,
                    spot=Spot(bench=bench, row=1, column=2)),
            Filling(takes=[Take(parent=mat, left=50, arrived=116)], code=second.code),
        ],
        parents=[ParentAfter(parent=mat, come_back_on=TODAY + timedelta(days=14))],
        **DEED,
    )  # fmt: skip

    a, b = result.children
    assert (a.code, a.alive, a.unit, a.cells, a.stage) == (
        first.code, 84, "plants", 84, "pricked_out"
    )  # fmt: skip
    assert (b.alive, b.cover, b.label_printed_on) == (116, "closed", TODAY)
    assert (a.bench, a.row, a.column) == (bench, 1, 2)
    mat.refresh_from_db()
    assert (mat.stage, mat.alive, mat.cover) == ("first_frond", None, "closed")
    assert mat.first_picked_on == mat.last_picked_on == TODAY
    assert mat.come_back_on == TODAY + timedelta(days=14)
    assert StageTransition.objects.get(tray=mat, to_stage="pricked_out").seen_on == TODAY
    assert [row.code for row in waiting_for(batch=mat.batch)] == [spare.code]
    assert "200 plants pricked out into" in result.message
    assert "Come back to" in result.message


def test_one_tray_is_filled_from_several_parents_of_the_batch(mat):
    sister = make.TrayFactory(batch=mat.batch, unit="patches")

    result = prick_out(
        fillings=[
            cells(Take(parent=mat, left=10, arrived=40), Take(parent=sister, left=7, arrived=44))
        ],
        **DEED,
    )

    (child,) = result.children
    assert child.alive == 84
    assert set(child.parents.all()) == {mat, sister}
    assert child.label_printed_on is None
    assert child.code in Tray.objects.unlabelled().values_list("code", flat=True)


def test_a_half_filled_tray_is_continued_on_another_day(mat):
    earlier = DEED | {"on": TODAY - timedelta(days=3)}
    (child,) = prick_out(
        fillings=[cells(Take(parent=mat, left=20, arrived=40))], **earlier
    ).children

    result = prick_out(
        fillings=[Filling(takes=[Take(parent=mat, left=20, arrived=30)], into=child)],
        parents=[ParentAfter(parent=mat, end=True)],
        **DEED,
    )

    assert result.children == (child,)
    assert result.children[0].alive == 70
    assert Parentage.objects.count() == 1
    mat.refresh_from_db()
    assert (mat.end, mat.ended_on) == ("cleared", TODAY)
    assert mat.first_picked_on == TODAY - timedelta(days=3)


def test_gapping_up_moves_plants_between_standing_trays_and_never_back(plugs):
    thin = make.TrayFactory(cells_of_84=True, counted=50, batch=plugs.batch)

    prick_out(fillings=[Filling(takes=[Take(parent=thin, left=34)], into=plugs)], **DEED)

    plugs.refresh_from_db()
    thin.refresh_from_db()
    assert (plugs.alive, thin.alive) == (118, 16)
    with pytest.raises(NotPossibleNow, match="cannot go back"):
        prick_out(fillings=[Filling(takes=[Take(parent=plugs, left=1)], into=thin)], **DEED)
    with pytest.raises(NotPossibleNow, match="from itself"):
        prick_out(fillings=[Filling(takes=[Take(parent=plugs, left=1)], into=plugs)], **DEED)


def test_three_hundred_plants_become_a_hundred_pots_of_three():
    batch = make.BatchFactory()
    trays = make.TrayFactory.create_batch(3, cells_of_84=True, counted=100, batch=batch)

    result = pot_up(
        fillings=[
            pots(
                *(
                    Take(parent=tray, left=100, arrived=n)
                    for tray, n in zip(trays, (33, 33, 34), strict=True)
                )
            )
        ],
        parents=[ParentAfter(parent=tray, end=True) for tray in trays],
        **DEED,
    )

    (child,) = result.children
    assert (child.alive, child.unit, child.pot_size, child.cover) == (100, "pots", "9 cm", "off")
    assert all(parent.alive == 0 and parent.end == "cleared" for parent in result.parents)


def test_leftovers_stay_and_what_broke_is_a_loss_with_its_cause(plugs):
    result = pot_up(
        fillings=[pots(Take(parent=plugs, left=70, arrived=70))],
        parents=[ParentAfter(parent=plugs, losses=[(4, "damaged"), (2, "rot")])],
        **DEED,
    )

    assert result.parents[0].alive == 8
    assert "8 plants stay in" in result.message
    book = book_of(plugs)
    assert (book.counted_in, book.lost, book.moved_out, book.alive) == (84, 6, 70, 8)


def test_patches_start_in_their_parents_stage_with_its_clock(mat):
    result = patch_out(
        fillings=[Filling(takes=[Take(parent=mat, left=12)], container="covered tray")], **DEED
    )

    (child,) = result.children
    assert (child.unit, child.alive, child.stage) == ("patches", 12, "first_frond")
    assert child.stage_seen_on == TODAY - timedelta(days=21)


def test_nothing_is_patched_out_before_the_first_green():
    with pytest.raises(NotPossibleNow, match="only prothalli are patched out"):
        patch_out(fillings=[cells(Take(parent=make.TrayFactory(unit="patches"), left=1))], **DEED)


def test_potting_on_needs_pots_and_a_bigger_pot(plugs):
    (carrier,) = pot_up(fillings=[pots(Take(parent=plugs, left=30, arrived=30))], **DEED).children

    with pytest.raises(NotPossibleNow, match="no bigger pot"):
        pot_on(fillings=[pots(Take(parent=carrier, left=10))], **DEED)
    with pytest.raises(NotPossibleNow, match="holds no pots yet"):
        pot_on(fillings=[pots(Take(parent=plugs, left=10, arrived=10))], **DEED)
    with pytest.raises(NotPossibleNow, match="To a bigger pot it is potted on"):
        pot_up(fillings=[pots(Take(parent=carrier, left=10))], **DEED)
    result = pot_on(fillings=[pots(Take(parent=carrier, left=10), pot_size="1 L")], **DEED)

    assert (result.children[0].stage, result.children[0].alive) == ("potted_up", 10)
    assert result.parents[0].alive == 20


def test_divisions_are_not_pricked_out():
    tray = make.TrayFactory(batch=make.BatchFactory(division=True), counted=12)

    with pytest.raises(NotPossibleNow, match="raised from division is not pricked out"):
        prick_out(fillings=[cells(Take(parent=tray, left=1))], **DEED)


def test_bulbils_are_lifted_from_a_frond_more_than_once():
    frond = make.TrayFactory(batch=make.BatchFactory(bulbil=True))
    for days in (5, 0):
        day = TODAY - timedelta(days=days)
        prick_out(fillings=[cells(Take(parent=frond, left=15))], **(DEED | {"on": day}))

    frond.refresh_from_db()
    # A picking proves what was skipped: what is lifted had rooted.
    assert frond.stage == "rooted"
    assert (frond.first_picked_on, frond.last_picked_on) == (TODAY - timedelta(days=5), TODAY)


def test_more_than_a_tray_holds_cannot_leave_it(plugs):
    before = snapshot()

    with pytest.raises(LedgerDoesNotBalance, match=r"6 more would have left"):
        pot_up(fillings=[pots(Take(parent=plugs, left=90, arrived=90))], **DEED)
    with pytest.raises(LedgerDoesNotBalance):
        pot_up(
            fillings=[pots(Take(parent=plugs, left=80, arrived=80))],
            parents=[ParentAfter(parent=plugs, losses=[(5, "rot")])],
            **DEED,
        )
    with pytest.raises(LedgerDoesNotBalance, match="would have arrived"):
        prick_out(fillings=[cells(Take(parent=plugs, left=20, arrived=30))], **DEED)

    assert snapshot() == before


def test_a_refused_picking_gives_its_codes_out_to_nobody_and_keeps_laid_out_ones(plugs):
    (row,) = lay_out(
        batch=plugs.batch, deed="pot_up", how_many=1, container="carrier", pot_size="9 cm",
        by="Una Tarn", today=TODAY,
    )  # fmt: skip

    with pytest.raises(LedgerDoesNotBalance):
        pot_up(
            fillings=[Filling(takes=[Take(parent=plugs, left=85, arrived=85)], code=row.code)],
            **DEED,
        )

    assert list(LaidOutTray.objects.waiting()) == [row]


def test_trays_of_two_batches_are_never_put_together(plugs):
    other = make.TrayFactory(cells_of_84=True, counted=10)
    before = snapshot()

    with pytest.raises(NotPossibleNow, match="never put together"):
        pot_up(
            fillings=[
                pots(Take(parent=plugs, left=1, arrived=1), Take(parent=other, left=1, arrived=1))
            ],
            **DEED,
        )
    with pytest.raises(NotPossibleNow, match="never put together"):
        prick_out(fillings=[Filling(takes=[Take(parent=plugs, left=1)], into=other)], **DEED)
    (foreign,) = lay_out(
        batch=other.batch, deed="pot_up", how_many=1, container="carrier", pot_size="9 cm",
        by="", today=TODAY,
    )  # fmt: skip
    with pytest.raises(NotPossibleNow, match="laid out for batch"):
        pot_up(
            fillings=[Filling(takes=[Take(parent=plugs, left=1, arrived=1)], code=foreign.code)],
            **DEED,
        )

    assert snapshot() == before


def test_an_ended_tray_gives_nothing_more_and_says_why(plugs):
    thrown = make.TrayFactory(
        batch=plugs.batch, ended_on=TODAY, end="discarded", end_cause="mould", cells_of_84=True
    )

    with pytest.raises(NotPossibleNow, match=r"was discarded on Wed 10 Jun 2026 \(mould\)"):
        pot_up(fillings=[pots(Take(parent=thrown, left=1, arrived=1))], **DEED)
    with pytest.raises(NotPossibleNow, match="was discarded"):
        prick_out(fillings=[Filling(takes=[Take(parent=plugs, left=1)], into=thrown)], **DEED)


def test_a_control_gives_nothing():
    control = make.TrayFactory(control=True)

    with pytest.raises(NotPossibleNow, match="is a control"):
        prick_out(fillings=[cells(Take(parent=control, left=1))], **DEED)


def test_two_people_picking_one_mat_at_once_the_second_is_told(mat):
    shown = mat.revision
    once: dict[str, Any] = {"fillings": [cells(Take(parent=mat, left=20, arrived=84))],
            "parents": [ParentAfter(parent=mat, revision=shown)]}  # fmt: skip
    prick_out(**once, **DEED)
    before = snapshot()

    with pytest.raises(ChangedMeanwhile, match="Somebody else wrote"):
        prick_out(**once, **DEED)

    assert snapshot() == before


def test_the_same_picking_sent_twice_is_done_once(mat):
    record_id = uuid.uuid4()
    fillings = [
        cells(Take(parent=mat, left=20, arrived=84)),
        cells(Take(parent=mat, left=5, arrived=20)),
    ]
    after = [ParentAfter(parent=mat, end=True)]

    first = prick_out(fillings=fillings, parents=after, record_id=record_id, **DEED)
    again = prick_out(fillings=fillings, parents=after, record_id=record_id, **DEED)

    assert (first.created, again.created) == (True, False)
    assert again.children == first.children
    assert again.message == first.message
    with pytest.raises(AlreadyTaken):
        prick_out(fillings=[cells(Take(parent=mat, left=21, arrived=84)), fillings[1]],
                  record_id=record_id, **DEED)  # fmt: skip


def test_a_tray_with_plants_left_is_not_cleared_without_a_word_about_them(plugs):
    with pytest.raises(NotPossibleNow, match="14 plants are still in tray"):
        pot_up(
            fillings=[pots(Take(parent=plugs, left=70, arrived=70))],
            parents=[ParentAfter(parent=plugs, end=True)],
            **DEED,
        )
    result = pot_up(
        fillings=[pots(Take(parent=plugs, left=70, arrived=70))],
        parents=[ParentAfter(parent=plugs, end=True, losses=[(14, "surplus")])],
        **DEED,
    )

    assert result.parents[0].end == "cleared"


def test_a_picking_entered_late_leaves_an_exact_count_after_it_standing(plugs):
    record_check(tray=plugs, seen_at=make.NOW, now=make.NOW, by="Una Tarn", count=60)

    pot_up(
        fillings=[pots(Take(parent=plugs, left=24, arrived=24))],
        **(DEED | {"on": TODAY - timedelta(days=2)}),
    )

    plugs.refresh_from_db()
    assert plugs.alive == 60
    assert not PlantMovement.objects.standing().filter(kind="recount").exists()


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"on": TODAY + timedelta(days=1)}, OutOfTime, "on"),
        ({"on": make.STARTED_ON - timedelta(days=1)}, OutOfTime, "on"),
        ({"fillings": []}, NotUnderstood, "fillings"),
        ({"left": 0}, NotUnderstood, "left"),
        ({"arrived": 0}, NotUnderstood, "arrived"),
        ({"arrived": None}, NotUnderstood, "arrived"),
        ({"container": ""}, NotUnderstood, "container"),
        ({"pot_size": ""}, NotUnderstood, "pot_size"),
        ({"cells": 0}, NotUnderstood, "cells"),
        ({"cover": "lid"}, NotUnderstood, "cover"),
        ({"container_state": "old"}, NotUnderstood, "container_state"),
        ({"code": "L-none"}, UnknownCode, "code"),
        ({"losses": [(1, "eaten")]}, NotUnderstood, "losses"),
        ({"losses": [(-1, "rot")]}, NotUnderstood, "losses"),
        ({"come_back_on": TODAY - timedelta(days=1)}, OutOfTime, "come_back_on"),
        ({"come_back_on": TODAY, "end": True}, NotUnderstood, "end"),
    ],
)
def test_bad_input_is_refused_in_words_and_nothing_is_stored(plugs, change, error, field):
    before = snapshot()
    given: dict[str, Any] = {"left": 84, "arrived": 84} | change
    take = Take(parent=plugs, left=given.pop("left"), arrived=given.pop("arrived"))
    parent = ParentAfter(
        parent=plugs,
        **{key: given.pop(key) for key in ("losses", "come_back_on", "end") if key in given},
    )
    deed = DEED | ({"on": given.pop("on")} if "on" in given else {})
    fillings = given.pop("fillings", None)

    with pytest.raises(error) as refused:
        pot_up(
            fillings=[pots(take, **given)] if fillings is None else fillings,
            parents=[parent],
            **deed,
        )

    assert refused.value.field == field
    assert refused.value.message.endswith((".", "…"))
    assert snapshot() == before


def test_a_laid_out_code_is_used_once_and_for_its_own_deed(plugs):
    first, second = lay_out(
        batch=plugs.batch, deed="pot_up", how_many=2, container="carrier", pot_size="9 cm",
        by="Una Tarn", today=TODAY,
    )  # fmt: skip
    filling = Filling(takes=[Take(parent=plugs, left=5, arrived=5)], code=first.code)
    pot_up(fillings=[filling], **DEED)
    hand_back(codes=[second.code], today=TODAY)

    with pytest.raises(NotPossibleNow, match="is filled already"):
        pot_up(fillings=[filling], **DEED)
    with pytest.raises(NotPossibleNow, match="handed back"):
        pot_up(fillings=[Filling(takes=filling.takes, code=second.code)], **DEED)
    (third,) = lay_out(
        batch=plugs.batch, deed="prick_out", how_many=1, container="cell tray", by="", today=TODAY
    )
    with pytest.raises(NotPossibleNow, match="laid out for pricking out, not for potting up"):
        pot_up(fillings=[Filling(takes=filling.takes, code=third.code)], **DEED)


def test_a_taken_place_refuses_the_whole_picking(plugs):
    bench = make.BenchFactory()
    make.TrayFactory(bench=bench, row=1, column=1)
    before = snapshot()

    with pytest.raises(NotPossibleNow, match="already"):
        pot_up(
            fillings=[
                pots(Take(parent=plugs, left=5, arrived=5), spot=Spot(bench=bench, row=1, column=1))
            ],
            **DEED,
        )

    assert snapshot() == before
