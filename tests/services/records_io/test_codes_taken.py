"""Is no imported code ever given out again?"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from batches.core.codes import batch_code, kind_code, tray_code, with_check
from batches.models import Batch, CodeCounter, CodeEntry, Tray
from batches.services.codes import find_code, give_batch_code, give_kind_code, give_tray_codes

pytestmark = pytest.mark.django_db

DAY = date(2026, 4, 1)  # ISO week 26W14
BATCH = batch_code(DAY, 73)


def nursery(batch: str, trays: list[str], **more: object) -> dict[str, Any]:
    files: dict[str, Any] = {
        "taxa": [{"code": "DRYFIL", "genus": "Dryopteris", "spore_kind": "not_green"}],
        "batches": [
            {"code": batch, "taxon": "DRYFIL", "route": "spore", "started_on": "2026-04-01"}
        ],
    }
    if trays:
        files["trays"] = [
            {
                "code": code,
                "batch": batch,
                "container": "covered tray",
                "started_on": "2026-04-01",
                "start_stage": "sown",
            }
            for code in trays
        ]
    return files | more


def test_codes_as_ours_move_their_series_past_them(take_in):
    trays = [tray_code(BATCH, number) for number in (2, 7)]
    assert not take_in(nursery(BATCH, trays)).errors
    assert BATCH.startswith("26W14-073-")
    assert CodeCounter.objects.get(series="26W14").last == 73
    assert give_batch_code(started_on=DAY) == batch_code(DAY, 74)
    batch = Batch.objects.get(code=BATCH)
    assert give_tray_codes(batch=batch, how_many=2) == [tray_code(BATCH, n) for n in (8, 9)]
    assert set(
        CodeEntry.objects.filter(code__in=[BATCH, *trays]).values_list("given_out_here")
    ) == {(True,)}


def test_lots_media_origins_and_orders_move_their_series_too(take_in):
    orders = [{"code": kind_code("order", 2026, 12), "taxon": "DRYFIL", "quantity": "1",
               "wanted_on": "2027-01-01"}]  # fmt: skip
    media = [{"code": kind_code("medium", 2026, 3), "recipe": "peat:1", "made_on": "2026-03-01"}]
    assert not take_in(nursery("SET", [], orders=orders, media_batches=media)).errors
    assert give_kind_code(kind="order", year=2026) == kind_code("order", 2026, 13)
    assert give_kind_code(kind="medium", year=2026) == kind_code("medium", 2026, 4)


def test_a_series_never_goes_back(take_in):
    CodeCounter.objects.create(series="26W14", last=90)
    assert not take_in(nursery(BATCH, [])).errors
    assert CodeCounter.objects.get(series="26W14").last == 90


def test_a_wrong_check_letter_makes_an_own_code_that_is_found_exactly(take_in):
    right = tray_code(BATCH, 1)
    wrong = right[:-1] + ("A" if right[-1] != "A" else "B")
    assert not take_in(nursery("SET", [wrong])).errors
    assert not CodeEntry.objects.get(code=wrong).given_out_here
    assert not CodeCounter.objects.exists()
    assert find_code(wrong).obj == Tray.objects.get(code=wrong)


def test_small_letters_make_an_own_code_whose_twin_is_not_given_out(take_in):
    assert not take_in(nursery(BATCH.lower(), [])).errors
    assert not CodeEntry.objects.get(code=BATCH.lower()).given_out_here
    assert give_batch_code(started_on=DAY) == batch_code(DAY, 74)


def test_a_batch_with_its_own_code_keeps_the_groups_that_its_trays_carry(take_in):
    trays = [tray_code(BATCH, number) for number in (1, 2)]
    assert not take_in(nursery("Spring-sowing", trays)).errors
    batch = Batch.objects.get()
    assert (batch.code_stem, batch.trays_given) == (BATCH, 2)
    assert give_tray_codes(batch=batch, how_many=1) == [tray_code(BATCH, 3)]
    assert find_code(BATCH).obj == batch
    assert give_batch_code(started_on=DAY) == batch_code(DAY, 74)


def test_groups_of_a_batch_that_is_there_stay_its_own(take_in):
    files = nursery(BATCH, [])
    files["batches"].append(
        {"code": "SET", "taxon": "DRYFIL", "route": "spore", "started_on": "2026-04-01"}
    )
    files["trays"] = nursery("SET", [tray_code(BATCH, 5)])["trays"]
    assert not take_in(files).errors
    assert Batch.objects.get(code=BATCH).trays_given == 5
    assert Batch.objects.get(code="SET").code_stem == ""


def test_a_later_import_moves_a_stored_batch_on(take_in):
    assert not take_in(nursery(BATCH, [tray_code(BATCH, 1)])).errors
    trays = nursery(BATCH, [tray_code(BATCH, 4)])["trays"]
    assert not take_in({"trays": trays}).errors
    assert Batch.objects.get().trays_given == 4


def test_a_house_may_bear_a_code_that_looks_like_a_stem(take_in):
    files = nursery("SET", [tray_code(BATCH, 1)], houses=[{"code": with_check("26W14-073")}])
    assert not take_in(files).errors
    assert CodeEntry.objects.get(code=BATCH).kind == "house"
    batch = Batch.objects.get()
    (code,) = give_tray_codes(batch=batch, how_many=1)
    assert code != tray_code(BATCH, 1)
