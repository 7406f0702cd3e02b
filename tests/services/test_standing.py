"""Does the stored fold of a tray follow from its history, whatever the order of arrival?"""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, timedelta

import pytest

from batches.models import (
    Batch,
    Parentage,
    PlantMovement,
    StageTransition,
    Taxon,
    Tray,
    TrayCheck,
)
from batches.services import standing
from batches.services.evidence import gather
from batches.services.proved_passages import derived_id, proved

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
pytestmark = pytest.mark.django_db


def fern(**more) -> Taxon:
    return Taxon.objects.create(
        **{"code": "DRYFIL", "genus": "Dryopteris", "species": "filix-mas"} | more,
        spore_kind="not_green",
    )


def tray(batch: Batch, code: str, *, start: date, stage: str = "sown", **more) -> Tray:
    return Tray.objects.create(
        code=code, batch=batch, container="covered tray", started_on=start, start_stage=stage,
        stage=stage, stage_seen_on=start, **more,
    )  # fmt: skip


@pytest.fixture
def batch() -> Batch:
    return Batch.objects.create(
        code="26W01-001-A", taxon=fern(), route="spore", started_on=date(2026, 1, 5)
    )


def look(on: Tray, day: date, *, stage: str = "", **more) -> TrayCheck:
    return TrayCheck.objects.create(
        tray=on, seen_at=datetime(day.year, day.month, day.day, 10, tzinfo=UTC),
        recorded_at=NOW, by="Orla", stage_seen=stage, **more,
    )  # fmt: skip


def refold(*trays: Tray) -> None:
    standing.refold(trays=trays, recorded_at=NOW)
    for one in trays:
        one.refresh_from_db()


def passages(on: Tray) -> list[tuple[str, date | None, date]]:
    rows = StageTransition.objects.standing().filter(tray=on).order_by("seen_on", "id")
    return [(row.to_stage, row.not_before, row.seen_on) for row in rows]


def test_a_sign_lies_between_the_last_look_without_and_the_first_with_it(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    look(one, date(2026, 1, 19))
    look(one, date(2026, 1, 26), glance=True)
    look(one, date(2026, 2, 2), stage="gametophyte")
    refold(one)
    assert passages(one) == [("gametophyte", date(2026, 1, 19), date(2026, 2, 2))]
    assert (one.stage, one.last_look_on) == ("gametophyte", date(2026, 2, 2))


def test_any_order_of_arrival_gives_the_same_fold(batch):
    days = [(date(2026, 1, 19), ""), (date(2026, 2, 2), "gametophyte"), (date(2026, 1, 26), "")]
    folds = set()
    for number, order in enumerate(itertools.permutations(days)):
        one = tray(batch, f"P{number}", start=date(2026, 1, 5))
        for day, stage in order:
            look(one, day, stage=stage)
            refold(one)
        folds.add((one.stage, one.stage_not_before, one.stage_seen_on, one.late_on, one.due_on))
        assert passages(one) == [("gametophyte", date(2026, 1, 26), date(2026, 2, 2))]
    assert len(folds) == 1


def test_a_struck_out_look_takes_its_proof_back_and_may_prove_it_again(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    wrong = look(one, date(2026, 2, 2), stage="gametophyte")
    refold(one)
    look(one, date(2026, 2, 2), strikes_out=wrong)
    refold(one)
    assert (one.stage, passages(one)) == ("sown", [])
    look(one, date(2026, 2, 2), stage="gametophyte")
    refold(one)
    assert one.stage == "gametophyte"
    assert StageTransition.objects.filter(tray=one).count() == 3


def test_a_picked_mat_keeps_its_stage_and_is_late_no_more(batch):
    mat = tray(batch, "MAT", start=date(2026, 1, 5))
    look(mat, date(2026, 3, 2), stage="gametophyte")
    look(mat, date(2026, 7, 6), stage="first_frond")
    cells = tray(batch, "CELLS", start=date(2026, 9, 1), stage="pricked_out")
    Parentage.objects.create(parent=mat, child=cells)
    PlantMovement.objects.create(
        tray=mat, on=date(2026, 9, 1), kind="out", quantity=84, to_tray=cells, recorded_at=NOW
    )
    refold(mat, cells)
    assert (mat.stage, mat.first_picked_on, mat.late_on) == ("first_frond", date(2026, 9, 1), None)
    assert ("pricked_out", date(2026, 8, 31), date(2026, 9, 1)) in passages(mat)
    assert (cells.stage, cells.alive, mat.alive) == ("pricked_out", 84, None)


def test_a_patched_out_tray_inherits_the_clock_of_its_mat(batch):
    mat = tray(batch, "MAT", start=date(2026, 1, 5))
    look(mat, date(2026, 2, 9))
    look(mat, date(2026, 2, 16), stage="gametophyte")
    patch = tray(batch, "PATCH", start=date(2026, 5, 4), stage="gametophyte", unit="patches")
    Parentage.objects.create(parent=mat, child=patch)
    refold(mat, patch)
    assert patch.late_on == mat.late_on
    assert (patch.stage_not_before, patch.stage_seen_on) == (date(2026, 2, 9), date(2026, 2, 16))


def test_late_is_only_what_was_looked_at_past_its_late_day(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    look(one, date(2026, 4, 4))
    refold(one)
    assert one.late_on == date(2026, 4, 5)
    assert one.due_on == one.look_due_on == date(2026, 4, 18)
    look(one, date(2026, 4, 6))
    refold(one)
    assert one.due_on == date(2026, 4, 5)


def test_a_glance_past_the_late_day_does_not_stand_for_a_close_look(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    look(one, date(2026, 3, 30))
    look(one, date(2026, 4, 12), glance=True)
    refold(one)
    # Seen closely on 30 March, late from 5 April: the close look is due on 13 April, not the 26th.
    assert one.look_due_on == date(2026, 4, 13)


def test_a_correction_moves_a_tray_back_and_later_looks_move_it_on(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    look(one, date(2026, 2, 2), stage="gametophyte")
    look(one, date(2026, 5, 4), stage="first_frond")
    StageTransition.objects.create(
        tray=one, from_stage="first_frond", to_stage="gametophyte", seen_on=date(2026, 5, 11),
        recorded_at=NOW,
    )  # fmt: skip
    look(one, date(2026, 5, 11))
    refold(one)
    assert one.stage == "gametophyte"
    look(one, date(2026, 7, 6), stage="first_frond")
    refold(one)
    assert (one.stage, one.stage_seen_on) == ("first_frond", date(2026, 7, 6))


def test_stored_and_computed_agree_after_a_refold_and_drift_is_found(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    assert standing.differing() == (1, ("T1",))
    refold(one)
    assert standing.differing() == (1, ())
    Tray.objects.filter(pk=one.pk).update(due_on=date(2027, 1, 1))
    assert standing.differing() == (1, ("T1",))


def test_a_derived_row_bears_the_id_of_its_content(batch):
    one = tray(batch, "T1", start=date(2026, 1, 5))
    look(one, date(2026, 2, 2), stage="gametophyte")
    refold(one)
    row = StageTransition.objects.get(tray=one)
    (passage,) = proved(gather([one.pk])[one.pk])
    assert row.id == derived_id("T1", passage, 0)


def test_the_number_of_queries_does_not_grow_with_the_trays(batch, django_assert_num_queries):
    counts = []
    for how_many in (3, 30):
        trays = [tray(batch, f"Q{how_many}-{n}", start=date(2026, 1, 5)) for n in range(how_many)]
        for one in trays:
            look(one, date(2026, 2, 2), stage="gametophyte")
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as seen:
            standing.refold(trays=trays, recorded_at=NOW)
        counts.append(len([q for q in seen if not q["sql"].startswith("UPDATE")]))
    assert counts[0] == counts[1]


def test_a_resting_fern_is_not_late_and_its_clock_stands_still():
    resting = fern(code="OSMREG", genus="Osmunda", rest_from_week=44, rest_to_week=10)
    batch = Batch.objects.create(
        code="B2", taxon=resting, route="bought_in", started_on=date(2026, 9, 7)
    )
    awake = Batch.objects.create(
        code="B3", taxon=fern(code="ASPSCO"), route="bought_in", started_on=date(2026, 9, 7)
    )
    one = tray(batch, "R1", start=date(2026, 9, 7), stage="pricked_out")
    other = tray(awake, "R2", start=date(2026, 9, 7), stage="pricked_out")
    refold(one, other)
    assert other.late_on == date(2026, 9, 7) + timedelta(days=240)
    # 49 days awake before week 44 of 2026; 191 more after week 10 of 2027.
    assert one.late_on == date(2027, 3, 15) + timedelta(days=191)
