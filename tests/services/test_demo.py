"""Is the demo nursery sound, does it move by whole weeks, and does it load on any day?"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from batches.core.codes import kind_code, read_code, tray_code, with_check
from batches.core.errors import NotPossibleNow
from batches.models import Taxon, Tray, TrayCheck
from batches.services.demo import (
    REFERENCE_DAY,
    DemoUnreadable,
    happened_by,
    load_demo,
    read_tables,
    write_tables,
)
from batches.services.demo_shift import shifted, weeks_between
from tests.simulate import demo_story
from tests.simulate.write_demo import demo_records

FOLDER = Path(settings.BASE_DIR) / "demo_fixtures"
ZONE = ZoneInfo("Europe/Dublin")
#: a year of 53 weeks is left and entered, New Year is crossed, the past is reached, leap days lie
#: between
WEEKS = (-400, -75, -1, 0, 1, 5, 6, 57, 58, 318, 1000)


@pytest.fixture(scope="module")
def tables():
    return read_tables(FOLDER)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


def test_the_folder_is_what_its_script_writes_and_small(tables):
    records = demo_records()
    assert all(
        [tuple(row.values()) for row in tables[name]] == [tuple(row) for row in records.rows(name)]
        for name in tables
    )
    files = list(FOLDER.iterdir())
    assert {path.suffix for path in files} == {".csv", ".md"}
    assert sum(path.stat().st_size for path in files) <= 1_500_000


def test_the_reference_day_is_the_same_everywhere():
    told = re.search(r"^Reference day: (\S+)$", (FOLDER / "README.md").read_text("utf-8"), re.M)
    assert told is not None
    assert date.fromisoformat(told[1]) == REFERENCE_DAY == demo_story.REFERENCE_DAY
    assert REFERENCE_DAY.isoweekday() == 3


def test_the_nursery_shows_every_stage_and_what_a_morning_asks(tables):
    standing = {row["code"]: row for row in tables["trays"] if not row["ended_on"]}
    assert 55 <= len(standing) <= 70
    seen = {code: row["start_stage"] for code, row in standing.items()}
    for look in sorted(tables["checks"], key=lambda look: look["seen_at"]):
        if look["tray"] in standing and look["stage_seen"]:
            seen[look["tray"]] = look["stage_seen"]
    assert set(seen.values()) >= {
        "sown", "gametophyte", "first_frond", "pegged_down", "pricked_out", "potted_up", "ready",
    }  # fmt: skip
    dead = [
        row for code, row in standing.items()
        if seen[code] == "sown" and row["started_on"] < "2026-09-01" and not row["control"]
    ]  # fmt: skip
    assert 1 <= len(dead) <= 3
    assert any(row["isolated"] for row in standing.values())
    assert any(not row["label_printed_on"] for row in standing.values())
    assert any(row["come_back_on"] == "2026-11-24" for row in standing.values())
    assert any(row["wanted_on"] > "2026-12-01" for row in tables["orders"])
    assert len({row["note"] for row in tables["checks"]}) > 120
    assert {row["route"] for row in tables["batches"]} == {
        "spore", "bulbil", "division", "bought_in",
    }  # fmt: skip


def test_in_the_reference_week_nothing_is_done_but_looking(tables):
    """Or else a load on its Monday could not leave the rest of the week out."""
    monday = (REFERENCE_DAY - timedelta(days=2)).isoformat()
    dated = {
        "spore_lots": "collected_on", "media_batches": "made_on", "batches": "started_on",
        "trays": "started_on", "transitions": "seen_on", "movements": "on", "places": "on",
        "germination_tests": "counted_on",
    }  # fmt: skip
    for name, column in dated.items():
        assert max(row[column] for row in tables[name]) < monday
    assert max(row["ended_on"] for row in tables["trays"]) < monday
    assert max(row["cleaned_on"] for row in tables["spore_lots"]) < monday
    assert max(row["seen_at"] for row in tables["checks"]) < REFERENCE_DAY.isoformat()


@pytest.mark.parametrize("weeks", WEEKS)
def test_every_day_keeps_its_weekday_and_every_moment_its_time(tables, weeks):
    moved = shifted(tables, weeks=weeks, zone=ZONE)
    by = timedelta(weeks=weeks)
    for before, after in zip(tables["movements"], moved["movements"], strict=True):
        there, here = date.fromisoformat(before["on"]), date.fromisoformat(after["on"])
        assert (here - there, here.weekday()) == (by, there.weekday())
    for before, after in zip(tables["checks"], moved["checks"], strict=True):
        there = datetime.fromisoformat(before["seen_at"])
        here = datetime.fromisoformat(after["seen_at"])
        assert here.replace(tzinfo=None) - there.replace(tzinfo=None) == by
        assert here.utcoffset() == here.astimezone(ZONE).utcoffset()
        assert after["id"] == before["id"]
    assert [row["ripe_from_week"] for row in moved["sources"]] == [
        row["ripe_from_week"] for row in tables["sources"]
    ]


@pytest.mark.parametrize("weeks", WEEKS)
def test_codes_are_valid_unique_and_tell_the_shifted_week_or_year(tables, weeks):
    moved = shifted(tables, weeks=weeks, zone=ZONE)
    codes = [row["code"] for rows in moved.values() for row in rows if "code" in row]
    assert len(set(codes)) == len(codes)
    assert all(read_code(code).fits for code in codes)
    for row in moved["batches"]:
        year, week, _ = date.fromisoformat(row["started_on"]).isocalendar()
        assert row["code"].startswith(f"{year % 100:02d}W{week:02d}-")
    for row in moved["trays"]:
        assert row["code"] == tray_code(row["batch"], int(row["code"].split("-")[2]))
    for name, column in (("spore_lots", "collected_on"), ("media_batches", "made_on")):
        for row in moved[name]:
            assert row["code"][1:3] == row[column][2:4]
    for row in moved["orders"]:
        assert row["code"][1:3] == row["wanted_on"][2:4]


@pytest.mark.parametrize("weeks", WEEKS)
def test_every_reference_follows_its_code(tables, weeks):
    """Re-made here from the place of each row, without the code under test."""
    moved = shifted(tables, weeks=weeks, zone=ZONE)
    new = {
        old["code"]: after["code"]
        for name in tables
        for old, after in zip(tables[name], moved[name], strict=True)
        if "code" in old
    }
    assert weeks == 0 or sum(old != code for old, code in new.items()) > 400
    for name, columns in {
        "trays": ("batch", "media_batch", "parents"),
        "movements": ("tray", "to_tray", "order"),
        "checks": ("tray",),
        "batches": ("taxon", "spore_lot", "source", "media_batch"),
        "sources": ("mothers",),
        "germination_tests": ("lot",),
    }.items():
        for before, after in zip(tables[name], moved[name], strict=True):
            for column in columns:
                words = [new.get(word, word) for word in before[column].split()]
                assert after[column].split() == words


def test_a_code_in_a_note_or_a_list_follows_too():
    old, lot = with_check("26W14-073"), kind_code("lot", 2026, 7)
    tray = tray_code(old, 5)
    moved = shifted(
        {
            "spore_lots": [{"code": lot, "collected_on": "2026-03-02", "notes": ""}],
            "batches": [{"code": old, "started_on": "2026-03-30", "notes": f"See {tray}, {lot}."}],
            "trays": [{"code": tray, "batch": old, "parents": ""}],
            "treatments": [{"place_or_trays": f"H1-A {tray}"}],
        },
        weeks=52,
        zone=ZONE,
    )
    batch = with_check("27W13-073")
    fresh_tray, fresh_lot = tray_code(batch, 5), kind_code("lot", 2027, 7)
    assert moved["batches"] == [
        {"code": batch, "started_on": "2027-03-29", "notes": f"See {fresh_tray}, {fresh_lot}."}
    ]
    assert moved["trays"] == [{"code": fresh_tray, "batch": batch, "parents": ""}]
    assert moved["treatments"] == [{"place_or_trays": f"H1-A {fresh_tray}"}]


def test_the_nurserys_own_codes_and_wrong_check_letters_stay_as_they_are():
    wrong = with_check("26W14-073")[:-1] + ("A" if with_check("26W14-073")[-1] != "A" else "B")
    rows = [{"code": code, "started_on": "2026-03-30"} for code in ("sow-14", "2026.03", wrong)]
    moved = shifted({"batches": rows}, weeks=10, zone=ZONE)["batches"]
    assert [row["code"] for row in moved] == ["sow-14", "2026.03", wrong]


def test_two_years_that_fall_into_one_are_numbered_anew_in_the_order_of_their_days():
    lots = [
        {"code": kind_code("lot", year, serial), "collected_on": day}
        for year, serial, day in (
            (2025, 1, "2025-12-30"), (2026, 1, "2026-01-05"), (2026, 2, "2026-08-20"),
        )
    ]  # fmt: skip
    moved = shifted({"spore_lots": lots}, weeks=1, zone=ZONE)["spore_lots"]
    assert [row["code"] for row in moved] == [kind_code("lot", 2026, n) for n in (1, 2, 3)]


@pytest.mark.parametrize(
    ("today", "weeks"),
    [
        ("2026-11-22", -1), ("2026-11-23", 0), ("2026-11-25", 0), ("2026-11-29", 0),
        ("2026-11-30", 1), ("2026-12-31", 5), ("2027-01-03", 5), ("2027-01-04", 6),
        ("2025-11-26", -52), ("2032-12-30", 318),
    ],
)  # fmt: skip
def test_the_reference_day_falls_in_the_present_week(today, weeks):
    """ISO 8601 weeks: 2026 has 53, and 3 January 2027 still belongs to its last."""
    day = date.fromisoformat(today)
    assert weeks_between(reference=REFERENCE_DAY, today=day) == weeks
    moved = REFERENCE_DAY + timedelta(weeks=weeks)
    assert moved.isocalendar()[:2] == day.isocalendar()[:2]


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)))
@hypothesis_settings(max_examples=200)
def test_on_any_day_the_shifted_reference_day_is_a_wednesday_of_its_week(day):
    moved = REFERENCE_DAY + timedelta(weeks=weeks_between(reference=REFERENCE_DAY, today=day))
    assert moved.isoweekday() == 3
    assert abs((moved - day).days) <= 4


def test_what_has_not_happened_yet_is_left_out(tables):
    monday = happened_by(tables, now=at("2026-11-23T10:00:00"), zone=ZONE)
    assert max(row["seen_at"] for row in monday["checks"]) < "2026-11-23T10:00:00+00:00"
    assert max(row["done_at"] for row in monday["treatments"]) < "2026-11-23"
    assert max(row["on"] for row in monday["house_readings"]) == "2026-11-23"
    wednesday = happened_by(tables, now=at("2026-11-25T00:00:01"), zone=ZONE)
    assert wednesday == tables


def test_a_strike_out_goes_with_the_look_it_names():
    look = {"id": "a", "seen_at": "2026-11-24T09:00:00+00:00", "strikes_out": ""}
    strike = {"id": "b", "seen_at": "2026-11-24T09:02:00+00:00", "strikes_out": "a"}
    late = look | {"recorded_at": "2026-11-24T18:00:00+00:00"}
    rows = [late, strike | {"recorded_at": "2026-11-24T09:03:00+00:00"}]
    kept = happened_by({"checks": rows}, now=at("2026-11-24T12:00:00"), zone=ZONE)
    assert kept["checks"] == []


def test_a_folder_without_records_is_refused_in_words(tmp_path):
    with pytest.raises(DemoUnreadable, match="no demo nursery"):
        read_tables(tmp_path)
    (tmp_path / "taxa.csv").write_bytes(b"code,genus\n\xff\xfe")
    with pytest.raises(DemoUnreadable, match="Nothing was stored"):
        read_tables(tmp_path)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "moment",
    ["2026-11-23T06:30:00", "2026-11-25T08:00:00", "2027-01-02T09:00:00", "2025-06-20T17:00:00"],
)
def test_it_loads_on_any_day_and_the_import_finds_no_fault(moment):
    now = at(moment)
    loaded = load_demo(folder=FOLDER, now=now, zone=ZONE)
    assert loaded.reference_day.isocalendar()[:2] == now.date().isocalendar()[:2]
    assert Tray.objects.count() == loaded.counts["trays.csv"] > 300
    assert not TrayCheck.objects.filter(recorded_at__gt=now).exists()
    before_reference = now.date() < loaded.reference_day
    assert bool(loaded.left_out) == before_reference


@pytest.mark.django_db
def test_it_refuses_a_folder_with_records_and_leaves_them():
    Taxon.objects.create(code="OWNFER", genus="Dryopteris", spore_kind="not_green")
    with pytest.raises(NotPossibleNow, match=r"holds records already.*Nothing was changed"):
        load_demo(folder=FOLDER, now=at("2026-11-25T08:00:00"), zone=ZONE)
    assert Taxon.objects.count() == 1
    with pytest.raises(CommandError, match="holds records already"):
        call_command("load_demo")
    assert Tray.objects.count() == 0


@pytest.mark.django_db
def test_a_spoilt_demo_stores_nothing_and_names_the_first_fault(tables, tmp_path):
    spoilt = dict(tables) | {
        "movements": [*tables["movements"][:-1], tables["movements"][-1] | {"quantity": "9999"}]
    }
    write_tables(tmp_path, spoilt)
    with pytest.raises(DemoUnreadable, match=r"movements\.csv:\d+: "):
        load_demo(folder=tmp_path, now=at("2026-11-25T08:00:00"), zone=ZONE)
    assert Taxon.objects.count() == 0


@pytest.mark.django_db
def test_the_command_says_what_was_loaded(capsys):
    call_command("load_demo", "--json")
    assert '"trays.csv": ' in capsys.readouterr().out
    assert Tray.objects.active().count() > 50
