"""Does a simulated nursery obey the rules of the records, and does its truth show in them?"""

from __future__ import annotations

import csv
import math
import statistics
from collections import defaultdict
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest

from batches.core.codes import read_code
from batches.core.signs import CAUSES, Sign
from batches.core.stages import DONE_STAGES, ROUTES, Route, Stage
from batches.services.records_io import import_records
from tests.simulate import notes
from tests.simulate.ferns import FernTruth, StageTruth, default_ferns
from tests.simulate.grower import Habits
from tests.simulate.nursery import simulate
from tests.simulate.tables import COLUMNS, Records, read_folder, write_folder

UNTIL = date(2026, 11, 25)
DUBLIN = ZoneInfo("Europe/Dublin")


@pytest.fixture(scope="module")
def records() -> Records:
    return simulate(
        seed=11,
        until=UNTIL,
        active_trays=160,
        habits=Habits(strike_outs=0.02, patched_out=0.1, potted_on=0.2, quiet_days=3),
    )


def standing(rows):
    """Leave out struck rows and the rows that strike them."""
    struck = {row.strikes_out for row in rows if row.strikes_out}
    return [row for row in rows if row.id not in struck and not row.strikes_out]


def recounted(records: Records) -> dict[str, dict[str, int]]:
    """Re-count each tray's book day by day: tray → {day: change}."""
    changes: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for move in standing(records.movements):
        many = int(move.quantity)
        if move.kind in ("in", "recount"):
            changes[move.tray][move.on] += many
        else:
            changes[move.tray][move.on] -= many
        if move.to_tray:
            changes[move.to_tray][move.on] += int(move.arrived or move.quantity)
    return changes


def counted_trays(records: Records) -> set[str]:
    rows = standing(records.movements)
    return {row.tray for row in rows if row.kind == "in"} | {r.to_tray for r in rows if r.to_tray}


def test_every_book_balances_on_every_evening_and_agrees_with_the_quantity(records):
    changes, counted = recounted(records), counted_trays(records)
    assert len(counted) > 100
    for tray in records.trays:
        if tray.code not in counted:
            assert tray.quantity == "", tray
            continue
        alive = 0
        for day in sorted(changes[tray.code]):
            alive += changes[tray.code][day]
            assert alive >= 0, (tray.code, day, alive)
        assert str(alive) == tray.quantity, tray


def test_ended_counted_trays_hold_nothing_and_say_why(records):
    for tray in records.trays:
        assert bool(tray.ended_on) == bool(tray.end)
        if tray.ended_on:
            assert tray.quantity in ("", "0")
            assert (tray.end == "discarded") == bool(tray.end_cause)
            assert tray.end_cause in ("", *CAUSES)


def test_a_child_has_no_counted_in_row_and_names_each_parent_it_was_filled_from(records):
    into = defaultdict(set)
    for move in standing(records.movements):
        if move.to_tray:
            into[move.to_tray].add(move.tray)
    for tray in records.trays:
        assert set(tray.parents.split()) == into.get(tray.code, set())
    with_in = {move.tray for move in records.movements if move.kind == "in"}
    assert not with_in & set(into)
    assert any(len(parents) > 1 for parents in into.values())


def test_trays_of_different_batches_never_mix_and_each_batch_has_one_origin(records):
    batch_of = {tray.code: tray.batch for tray in records.trays}
    for move in records.movements:
        if move.to_tray:
            assert batch_of[move.to_tray] == batch_of[move.tray]
    lots, sources = {r.code for r in records.spore_lots}, {r.code for r in records.sources}
    for batch in records.batches:
        assert (batch.spore_lot in lots) != (batch.source in sources)


def test_every_reference_leads_somewhere(records):
    codes = {
        table: {row.code for row in records.rows(table)}
        for table in COLUMNS
        if "code" in COLUMNS[table]
    }
    refers = {
        "taxon": "taxa", "source": "sources", "lot": "spore_lots", "house": "houses",
        "bench": "benches", "batch": "batches", "tray": "trays", "to_tray": "trays",
        "media_batch": "media_batches", "order": "orders", "spore_lot": "spore_lots",
    }  # fmt: skip
    for table, columns in COLUMNS.items():
        for column in set(columns) & set(refers):
            if (table, column) == ("checks", "source"):
                continue
            for row in records.rows(table):
                value = getattr(row, column)
                assert not value or value in codes[refers[column]], (table, column, value)


def test_codes_are_valid_and_unique_across_kinds(records):
    seen: set[str] = set()
    for table, columns in COLUMNS.items():
        if "code" not in columns:
            continue
        for row in records.rows(table):
            assert row.code not in seen
            seen.add(row.code)
            reading = read_code(row.code)
            assert reading.fits
            assert bool(reading.shape) == (table not in ("taxa", "houses", "benches"))


def test_ids_are_unique_and_look_like_version_4(records):
    ids = [r.id for t in COLUMNS if "id" in COLUMNS[t] for r in records.rows(t)]
    assert len(set(ids)) == len(ids)
    assert {UUID(text).version for text in ids[:200]} == {4}


def test_nothing_is_dated_later_than_the_last_day_or_outside_a_trays_life(records):
    last = UNTIL.isoformat()
    trays = {tray.code: tray for tray in records.trays}
    for look in records.checks:
        day = look.seen_at[:10]
        tray = trays[look.tray]
        assert tray.started_on <= day <= min(last, tray.ended_on or last)
        assert look.recorded_at >= look.seen_at
    deeds = [(row.tray, row.on) for row in (*records.movements, *records.places)]
    for code, day in [*deeds, *((row.tray, row.seen_on) for row in records.transitions)]:
        assert trays[code].started_on <= day <= (trays[code].ended_on or last)
    quiet = max(day for _, day in deeds)
    assert quiet <= "2026-11-22"


def test_times_carry_the_offset_of_the_nurserys_zone(records):
    offsets = set()
    for look in records.checks:
        seen = datetime.fromisoformat(look.seen_at)
        assert seen.utcoffset() == seen.astimezone(DUBLIN).utcoffset()
        offsets.add(look.seen_at[-6:])
    assert offsets == {"+00:00", "+01:00"}


def test_glances_prove_no_stage_and_hold_no_count(records):
    glances = [look for look in records.checks if look.glance]
    assert glances
    assert {(look.stage_seen, look.count, look.signs) for look in glances} == {("", "", "")}


def test_stages_seen_never_go_back_and_lie_on_the_route(records):
    route_of = {b.code: ROUTES[Route(b.route)] for b in records.batches}
    batch_of = {t.code: t.batch for t in records.trays}
    at: dict[str, int] = {}
    for look in sorted(standing(records.checks), key=lambda look: look.seen_at):
        if not look.stage_seen:
            continue
        stages = route_of[batch_of[look.tray]]
        place = stages.index(Stage(look.stage_seen))
        assert place >= at.get(look.tray, 0)
        at[look.tray] = place


def test_a_struck_look_is_followed_by_the_row_that_names_it(records):
    by_id = {look.id: look for look in records.checks}
    strikes = [look for look in records.checks if look.strikes_out]
    assert strikes
    for strike in strikes:
        struck = by_id[strike.strikes_out]
        assert struck.tray == strike.tray
        assert struck.seen_at < strike.seen_at
    assert any(move.strikes_out for move in records.movements)


def test_no_two_trays_stand_on_one_place_at_once(records):
    ended = {tray.code: tray.ended_on or "9999" for tray in records.trays}
    by_tray = defaultdict(list)
    for place in sorted(records.places, key=lambda place: place.on):
        by_tray[place.tray].append(place)
    spells = defaultdict(list)
    for code, places in by_tray.items():
        for here, following in zip(places, [*places[1:], None], strict=True):
            left = following.on if following else ended[code]
            spells[here.bench, here.row, here.column].append((here.on, left))
    for held in spells.values():
        held.sort()
        for (_, left), (came, _) in pairwise(held):
            assert left < came
    last = {code: places[-1] for code, places in by_tray.items()}
    for tray in records.trays:
        place = last[tray.code]
        assert (tray.bench, tray.row, tray.column) == (place.bench, place.row, place.column)


def test_there_are_words_for_every_sign_every_stage_and_every_end():
    assert set(notes.TROUBLED) == {str(sign) for sign in Sign}
    assert set(notes.ENDINGS) == set(CAUSES)
    assert set(notes.QUIET) == {str(stage) for stage in Stage}


def test_words_come_from_the_lists_only(records):
    for look in records.checks:
        assert set(look.signs.split()) <= {str(sign) for sign in Sign}
    for move in records.movements:
        assert move.cause in ("", *CAUSES)
        assert bool(move.cause) == (move.kind == "loss")
        assert (not move.recipient and not move.order) or move.kind == "dispatch"


def test_units_change_on_the_way_and_arrivals_are_in_the_childs_unit(records):
    unit_of = {tray.code: tray.unit for tray in records.trays}
    ways = defaultdict(list)
    for move in records.movements:
        if move.to_tray:
            ratio = int(move.arrived or move.quantity) / int(move.quantity)
            ways[unit_of[move.tray], unit_of[move.to_tray]].append(ratio)
    assert statistics.mean(ways["patches", "plants"]) > 1.3
    assert set(ways["patches", "patches"]) == {1.0}
    assert max(ways["plants", "pots"]) <= 1.0
    assert ("plants", "pots") in ways


def test_done_stages_are_dated_by_the_first_out_to_a_tray_of_that_stage(records):
    start_of = {tray.code: tray.start_stage for tray in records.trays}
    first: dict[tuple[str, str], str] = {}
    for move in standing(records.movements):
        stage = start_of.get(move.to_tray)
        if stage in DONE_STAGES and start_of[move.tray] != stage:
            key = (move.tray, stage)
            first[key] = min(first.get(key, "9999"), move.on)
    assert first == {(row.tray, row.to_stage): row.seen_on for row in records.transitions}


def test_a_mat_is_picked_more_than_once_and_keeps_being_looked_at(records):
    pickings = defaultdict(set)
    for move in standing(records.movements):
        if move.kind == "out":
            pickings[move.tray].add(move.on)
    assert any(len(days) > 2 for days in pickings.values())


def test_the_same_seed_gives_the_same_records_and_another_gives_others():
    one, two, three = (
        simulate(seed=seed, until=UNTIL, active_trays=20, ferns=4) for seed in (5, 5, 6)
    )
    assert all(one.rows(table) == two.rows(table) for table in COLUMNS)
    assert one.trays != three.trays


def test_a_folder_is_read_back_as_it_was_written(records, tmp_path: Path):
    folder = write_folder(records, tmp_path / "records")
    again = read_folder(folder)
    assert all(again.rows(table) == records.rows(table) for table in COLUMNS)
    with (folder / "trays.csv").open(encoding="utf-8", newline="") as file:
        assert tuple(next(csv.reader(file))) == COLUMNS["trays"]


def test_the_interval_between_two_looks_holds_the_true_day(records):
    """A stage is first seen at a look after its true day, and never at one before."""
    trays = {tray.code: tray for tray in records.trays}
    order = {stage: place for place, stage in enumerate(ROUTES[Route.SPORE])}
    checked = 0
    for look in standing(records.checks):
        if not look.stage_seen or trays[look.tray].start_stage not in ("sown", "gametophyte"):
            continue
        day = date.fromisoformat(look.seen_at[:10]).toordinal()
        for stage, true_day in records.truth.stage_days.get(look.tray, {}).items():
            if stage in ("gametophyte", "first_frond"):
                seen = order[Stage(look.stage_seen)] >= order[Stage(stage)]
                assert seen == (true_day <= day)
                checked += 1
    assert checked > 500


def test_true_times_follow_the_law_that_was_put_in():
    """Weibull quantiles of a fern without losses come back; own formula as the second opinion."""
    law = StageTruth(scale=40.0, shape=3.0, stalled=0.1)
    truths = dict.fromkeys(default_ferns(1, seed=1)[0].stages, law)
    fern = FernTruth(code="TESFER", genus="Testia", species="ferna", stages=truths)
    records = simulate(
        seed=3, until=UNTIL, ferns=[fern], active_trays=250, outbreak=False, rogue=False,
        habits=Habits(patched_out=0),
    )  # fmt: skip
    started = {t.code: date.fromisoformat(t.started_on).toordinal() for t in records.trays}
    days = [
        reached["gametophyte"] - started[code]
        for code, reached in records.truth.stage_days.items()
        if "gametophyte" in reached
    ]
    moved = sorted(day for day in days if math.isfinite(day))
    assert len(days) > 250
    assert 1 - len(moved) / len(days) == pytest.approx(0.1, abs=0.05)
    assert statistics.median(moved) == pytest.approx(40 * math.log(2) ** (1 / 3), rel=0.08)
    assert moved[int(0.9 * len(moved))] == pytest.approx(40 * math.log(10) ** (1 / 3), rel=0.08)


def test_survival_in_the_book_is_near_the_truth():
    """Plants moved on over plants moved in, over trays that have left the stage."""
    base = default_ferns(1, seed=2)[0]
    survival = {Stage.PRICKED_OUT: 0.7, Stage.POTTED_UP: 0.9}
    fern = FernTruth(
        code="TESFER", genus="Testia", species="ferna", stages=base.stages, survival=survival,
        spread=0.05,
    )  # fmt: skip
    records = simulate(
        seed=4, until=UNTIL, ferns=[fern], active_trays=300, years=3, outbreak=False, rogue=False
    )
    cleared = {
        t.code for t in records.trays if t.start_stage == "pricked_out" and t.end == "cleared"
    }
    came = went = 0
    for move in standing(records.movements):
        came += int(move.arrived or move.quantity) if move.to_tray in cleared else 0
        went += int(move.quantity) if move.tray in cleared and move.kind == "out" else 0
    assert len(cleared) > 60
    assert went / came == pytest.approx(0.7, abs=0.03)


@pytest.mark.django_db
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_import_finds_no_fault_in_a_simulated_nursery(seed, tmp_path: Path):
    habits = Habits(strike_outs=0.02, patched_out=0.1, potted_on=0.2)
    records = simulate(seed=seed, until=UNTIL, active_trays=120, habits=habits)
    folder = write_folder(records, tmp_path)
    now = datetime(2026, 11, 25, 23, 30, tzinfo=DUBLIN)
    result = import_records(path=folder, now=now, by="test", dry_run=True)
    assert [str(error) for error in result.errors] == []
    assert result.counts["checks.csv"] == len(records.checks)


def test_looks_are_thinned_to_a_number_without_losing_what_they_show():
    whole, thin = (
        simulate(
            seed=12, until=UNTIL, active_trays=60, checks=most, habits=Habits(strike_outs=0.05)
        )
        for most in (None, 1300)
    )
    assert len(thin.checks) == 1300 < len(whole.checks)
    for telling in ("count", "signs", "strikes_out"):
        kept, all_ = (
            sum(bool(getattr(look, telling)) for look in records.checks)
            for records in (thin, whole)
        )
        assert kept == all_ > 0, telling


def test_the_outbreak_shows_in_the_looks_of_the_bad_mix(records):
    bad = records.truth.mould_medium
    mixes = {b.code: b.media_batch for b in records.batches}
    sown = [t for t in records.trays if t.start_stage == "sown" and not t.control]
    mouldy = {look.tray for look in records.checks if "mould" in look.signs.split()}
    on_bad = [t.code in mouldy for t in sown if (t.media_batch or mixes[t.batch]) == bad]
    others = [t.code in mouldy for t in sown if (t.media_batch or mixes[t.batch]) != bad]
    assert len(on_bad) >= 8
    assert statistics.mean(on_bad) > 0.35 > 0.2 > statistics.mean(others)


def test_strays_show_in_the_trays_of_the_rogue_lot(records):
    lots = {batch.code: batch.spore_lot for batch in records.batches}
    of = {tray.code: lots[tray.batch] for tray in records.trays}
    strays = [of[look.tray] for look in records.checks if "rogue_fern" in look.signs.split()]
    assert strays.count(records.truth.rogue_lot) > len(strays) / 2


def test_a_fern_with_a_rest_neither_ages_nor_is_looked_at_as_often_in_it():
    ferns = [fern for fern in default_ferns(12, seed=8) if fern.rest]
    records = simulate(seed=9, until=UNTIL, ferns=ferns, active_trays=60)
    resting = {fern.code: fern.rest for fern in ferns}
    batch = {b.code: b.taxon for b in records.batches}
    trays = {t.code: t for t in records.trays}
    for code, reached in records.truth.stage_days.items():
        first, last = resting[batch[trays[code].batch]] or (0, 0)
        for stage, day in reached.items():
            if stage in ("potted_up", "ready") and math.isfinite(day):
                if trays[code].start_stage not in ("pricked_out", "potted_up"):
                    continue
                week = date.fromordinal(int(day)).isocalendar().week
                assert last < week < first
