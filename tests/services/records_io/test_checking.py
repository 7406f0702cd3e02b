"""Is everything that contradicts itself, the rest or what is stored an error at its cell?"""
# ruff: noqa: E501 - messages in full

from __future__ import annotations

import uuid
from datetime import date

import pytest

from batches.models import CodeEntry, House, Person, PlantMovement, StageTransition, Tray, TrayCheck
from batches.services.records_io.columns import FILES
from tests.services.records_io.contradictions import FAULTS, NEW_ID, add, change
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import (
    LOOKS,
    LOSS_1,
    OUT_1,
    STRIKE_1,
    WRONG_1,
    read_all,
    small,
)

pytestmark = pytest.mark.django_db


def words(result) -> list[str]:
    return [str(error) for error in result.errors]


@pytest.mark.parametrize(
    ("apply", "expected"), [fault[1:] for fault in FAULTS], ids=[fault[0] for fault in FAULTS]
)
def test_a_contradiction_is_an_error_at_its_cell_and_nothing_is_stored(take_in, apply, expected):
    files = small()
    apply(files)
    errors = words(take_in(files))
    assert any(error.startswith(expected) for error in errors), errors
    assert not Tray.objects.exists()
    assert not CodeEntry.objects.exists()


def test_all_errors_are_reported_at_once_in_the_order_of_files_and_lines(take_in):
    files = small()
    for apply in (
        change("checks", 4, by="", signs="mildew"),
        change("checks", 2, tray="A.9"),
        change("taxa", 4, spore_kind="blue"),
        change("movements", 4, quantity="-4"),
    ):
        apply(files)
    places = [(e.file, e.line, e.column) for e in take_in(files).errors]
    assert places == [
        ("taxa.csv", 4, "spore_kind"), ("checks.csv", 2, "tray"), ("checks.csv", 4, "by"),
        ("checks.csv", 4, "signs"), ("movements.csv", 4, "quantity"),
    ]  # fmt: skip


def test_one_fault_draws_no_others_after_it(take_in):
    files = small()
    files["batches"][0]["route"] = "spores"
    files["trays"][1]["started_on"] = "yesterday"
    errors = words(take_in(files))
    assert [error.split(": ")[0:2] for error in errors] == [
        ["batches.csv:2", "route"],
        ["trays.csv:3", "started_on"],
    ]


@pytest.mark.parametrize(
    ("name", "column"),
    [
        (file.name, column.name)
        for file in FILES
        for column in file.columns
        if column.required and column.name not in {"id", "code"} and file.name in small()
    ],
)
def test_a_missing_column_is_one_fault_and_draws_no_others(take_in, name, column):
    files = small()
    for row in files[name]:
        del row[column]
    errors = words(take_in(files))
    assert [error.split(": ")[:2] for error in errors] == [[f"{name}.csv:1", column]]
    assert "missing" in errors[0]
    assert not Tray.objects.exists()


@pytest.mark.parametrize(
    ("what", "apply"),
    [
        ("unknown origin", change("batches", 2, spore_lot="", source="")),
        ("lot without source", change("batches", 2, source="")),
        ("source alone", change("batches", 2, spore_lot="")),
        ("a clock four minutes ahead", change("checks", 2, seen_at="2026-11-25T09:04:00Z")),
        ("a look on the first day", change("checks", 2, seen_at="2026-01-05T00:30:00Z")),
        ("a look on the first day, far away", change("checks", 2, seen_at="2026-01-04T23:30:00-05:00")),
        ("no quantity beside movements", change("trays", 3, quantity="")),
        ("a recount below nothing", add("movements", id=NEW_ID, tray="A.2", on="2026-09-20", kind="recount", quantity="-1")),
        ("nothing alive in an ended tray", change("trays", 5, quantity="0")),
        ("nothing in an unsown control tray", add("trays", code="A.7", batch="SET-A", container="covered tray", started_on="2026-01-05", start_stage="sown", quantity="0", control="yes")),
        ("pots to come next year", change("trays", 2, come_back_on="2027-01-01")),
    ],
)  # fmt: skip
def test_what_is_possible_is_taken(take_in, what, apply):
    files = small()
    apply(files)
    if what == "a recount below nothing":
        files["trays"][1]["quantity"] = "79"
    assert words(take_in(files)) == []


def test_absent_files_and_columns_are_unknown(take_in):
    files = small()
    kept = {name: files[name] for name in ("taxa", "batches", "trays")}
    kept["batches"] = [
        {k: row[k] for k in ("code", "taxon", "route", "started_on")} for row in files["batches"]
    ]
    kept["trays"] = [
        {k: row.get(k, "") for k in ("code", "batch", "container", "started_on", "start_stage")}
        for row in files["trays"]
    ]
    assert words(take_in(kept)) == []
    assert set(Tray.objects.values_list("unit", "alive", "control")) == {("plants", None, False)}


# What is derived


def test_a_tray_without_movements_gets_its_quantity_as_its_in(take_in):
    files = small()
    del files["movements"]
    files["trays"][2]["quantity"] = "24"
    result = take_in(files)
    assert words(result) == []
    assert result.derived == {"movements.csv": 2, "places.csv": 1}
    row = PlantMovement.objects.get(tray__code="B.1")
    assert (row.kind, row.quantity, row.on.isoformat(), row.by) == (
        "in", 24, "2026-02-02", "Greta Lunn",
    )  # fmt: skip
    assert row.id.version == 5
    assert Tray.objects.get(code="B.1").alive == 24


def test_an_out_tells_of_a_parent_that_trays_csv_does_not(take_in):
    files = small()
    files["trays"][1]["parents"] = ""
    assert words(take_in(files)) == []
    child = Tray.objects.get(code="A.2")
    assert [parent.code for parent in child.parents.all()] == ["A.1"]


def test_a_parent_that_only_an_out_tells_of_does_not_make_the_row_differ(take_in):
    files = small()
    files["trays"].append(files["trays"][0] | {"code": "A.3", "row": "2"})
    files["movements"].append(
        {"id": NEW_ID, "tray": "A.3", "on": "2026-09-02", "kind": "out", "quantity": "2",
         "to_tray": "A.2"}
    )  # fmt: skip
    files["trays"][1]["quantity"] = "82"
    assert words(take_in(files)) == []
    assert set(Tray.objects.get(code="A.2").parents.values_list("code", flat=True)) == {
        "A.1",
        "A.3",
    }
    again = take_in(files)
    assert words(again) == []
    assert sum(again.counts.values()) == 0
    files["trays"][1]["parents"] = "A.1 A.0"
    assert words(take_in(files))[0].startswith(
        "trays.csv:3: parents: “A.2” is stored with “A.1 A.3”"
    )


def test_ids_of_equal_rows_without_one_count_up_and_stay(take_in):
    files = small()
    for row in files["checks"][:5]:
        row["id"] = ""
    files["checks"] = [files["checks"][0]] * 3 + [files["checks"][4]]
    assert take_in(files).counts["checks.csv"] == 4
    before = set(TrayCheck.objects.values_list("id", flat=True))
    files["checks"][3:] = [files["checks"][0], files["checks"][3]]
    assert take_in(files).counts["checks.csv"] == 1
    assert before < set(TrayCheck.objects.values_list("id", flat=True))


def test_an_id_made_of_a_row_does_not_depend_on_how_its_cells_are_written(take_in):
    files = small()
    files["checks"] = [files["checks"][0] | {"id": "", "seen_at": "2026-07-01T10:00:00+01:00"}]
    take_in(files)
    files["checks"][0]["seen_at"] = "01/07/2026 09:00Z"
    assert take_in(files, day_first=True).already["checks.csv"] == 1


def test_a_derived_passage_is_known_again_and_a_stated_one_stays_stated(take_in, write_out):
    files = small()
    files["transitions"] = [
        {"id": NEW_ID, "tray": "B.1", "to_stage": "rooted", "seen_on": "2026-05-01", "by": "Bram"}
    ]
    take_in(files)

    def passages():
        return set(
            StageTransition.objects.values_list(
                "id", "tray__code", "from_stage", "to_stage", "not_before", "seen_on", "derived"
            )
        )

    before = passages()
    assert {row[-1] for row in before} == {True, False}
    exported = read_all(write_out())
    empty_nursery()
    take_in(exported)
    assert passages() == before


# What is stored already


def test_a_row_that_says_something_else_than_what_is_stored_names_both(take_in):
    take_in(small())
    files = small()
    files["houses"][0]["name"] = "Mist house, north"
    files["checks"][1] |= {"signs": "mould", "note": ""}
    files["trays"][2]["isolated"] = ""
    files["trays"][1]["quantity"] = "81"
    files["movements"][2]["quantity"] = "5"
    unchanged = (
        "An import changes nothing that is stored: leave the row out, or change it in the program."
    )
    expected = [
        (
            "houses.csv:2: name: “MIST” is stored with “Mist house”, this row says “Mist house, north”",
            unchanged,
        ),
        ("trays.csv:3: quantity: 81 here, 80 by the stored rows with those of movements.csv", ""),
        ("trays.csv:4: isolated: “B.1” is stored with “yes”, this row says nothing", unchanged),
        (
            f"checks.csv:3: signs: “{LOOKS[1]}” is stored with “mould heart_shapes”, this row says “mould”",
            unchanged,
        ),
        (f"movements.csv:4: quantity: “{LOSS_1}” is stored with “4”, this row says “5”", unchanged),
    ]
    errors = words(take_in(files))
    assert len(errors) == len(expected)
    for error, (begins, ends) in zip(errors, expected, strict=True):
        assert error.startswith(begins)
        assert error.endswith(ends)
    assert House.objects.get().name == "Mist house"


def test_rows_can_be_added_to_trays_that_are_stored(take_in):
    take_in(small())
    more = {
        "checks": [{"id": NEW_ID, "tray": "A.1", "seen_at": "2026-11-20T09:00:00Z", "by": "Bram"}],
        "movements": [
            {"id": NEW_ID, "tray": "A.2", "on": "2026-11-20", "kind": "loss", "quantity": "10"},
        ],
    }
    revision = Tray.objects.get(code="A.2").revision
    assert words(take_in(more)) == []
    tray = Tray.objects.get(code="A.2")
    assert (tray.alive, tray.revision) == (70, revision + 1)
    assert Tray.objects.get(code="A.1").last_look_on == date(2026, 11, 20)


def test_added_rows_are_judged_with_those_that_are_stored(take_in):
    take_in(small())
    loss = {"id": NEW_ID, "tray": "A.2", "on": "2026-11-20", "kind": "loss", "quantity": "81"}
    (error,) = words(take_in({"movements": [loss]}))
    assert error.startswith("movements.csv:2: quantity: Tray A.2 would hold -1 on 2026-11-20")
    loss["quantity"] = "80"
    assert words(take_in({"movements": [loss]})) == []


def test_stored_rows_can_be_struck_out_once(take_in):
    take_in(small())
    strike = {"id": NEW_ID, "tray": "A.2", "on": "2026-09-14", "kind": "loss", "quantity": "4",
              "strikes_out": LOSS_1}  # fmt: skip
    assert words(take_in({"movements": [strike]})) == []
    assert Tray.objects.get(code="A.2").alive == 84
    again = strike | {"id": str(uuid.UUID(int=7, version=4))}
    (error,) = words(take_in({"movements": [again]}))
    assert f"{LOSS_1} is struck out already by {NEW_ID}" in error
    wrong = again | {"strikes_out": WRONG_1}
    assert f"is struck out already by {STRIKE_1}" in words(take_in({"movements": [wrong]}))[0]


def test_a_strike_out_that_leaves_too_few_is_refused(take_in):
    take_in(small())
    strike = {"id": NEW_ID, "tray": "A.1", "on": "2026-09-01", "kind": "out", "quantity": "42",
              "arrived": "84", "to_tray": "A.2", "strikes_out": OUT_1}  # fmt: skip
    assert words(take_in({"movements": [strike]})) == []
    assert Tray.objects.get(code="A.2").alive is None


def test_a_code_that_was_handed_back_is_not_used_again(take_in, today):
    CodeEntry.objects.create(
        code="A.2", folded="a.2", kind="tray", given_out_here=True, handed_back_on=today
    )
    (error,) = words(take_in(small()))
    assert error.startswith(
        "trays.csv:3: code: “A.2” was given out here for a tray that was never filled"
    )


def test_a_stored_code_of_another_kind_is_named(take_in):
    take_in({"houses": [{"code": "A.2"}]})
    errors = words(take_in(small()))
    assert errors[0].startswith("trays.csv:3: code: “A.2” is stored as the code of a house")


def test_codes_are_told_apart_by_capitals_and_kept_as_they_are(take_in):
    assert (
        words(take_in({"houses": [{"code": "mist"}, {"code": "MIST"}, {"code": "Mist.2_x-y"}]}))
        == []
    )
    assert set(House.objects.values_list("code", flat=True)) == {"mist", "MIST", "Mist.2_x-y"}
    assert CodeEntry.objects.get(code="Mist.2_x-y").folded == "mist.2_x-y"


def test_people_are_no_records(take_in, write_out):
    Person.objects.create_user("Greta Lunn", role="manager")
    take_in(small())
    assert b"pbkdf2" not in b"".join(path.read_bytes() for path in write_out().iterdir())
