"""Does the command import, say what is wrong where, and speak JSON alone where that is asked?"""

from __future__ import annotations

import io
import json

import pytest
from django.core.management import CommandError, call_command

from batches.management.progress_bar import ProgressBar
from batches.models import Tray
from tests.services.records_io.folders import small, write

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path, fixed_clock):
    files = small()
    for row in files["batches"] + files["trays"]:
        row["started_on"] = "2026-03-02"
    files["trays"] = [row for row in files["trays"] if row["code"] in {"A.1", "B.1"}]
    for name in ("checks", "movements", "orders", "germination_tests"):
        del files[name]
    return write(tmp_path / "in", files)


def run(*words: str) -> tuple[str, str]:
    out, errors = io.StringIO(), io.StringIO()
    call_command("import_records", *words, stdout=out, stderr=errors)
    return out.getvalue(), errors.getvalue()


def test_the_counts_per_file_are_one_json_document(folder):
    out, errors = run(str(folder), "--json")
    counts = json.loads(out)
    assert (counts["trays.csv"], counts["checks.csv"], len(counts)) == (2, 0, 16)
    assert errors == ""
    assert json.loads(run(str(folder), "--json")[0])["trays.csv"] == 0


def test_in_words_it_says_what_was_stored_and_what_was_there(folder):
    assert "Nothing was: this was a dry run" in run(str(folder), "--dry-run")[0]
    assert not Tray.objects.exists()
    out, _ = run(str(folder))
    assert "trays.csv                        2 new\n" in out
    assert "movements.csv                    1 more, from trays.csv\n" in out
    assert "trays.csv                        0 new, 2 there already\n" in run(str(folder))[0]


def test_every_fault_is_a_line_and_the_command_fails(folder):
    (folder / "houses.csv").write_text("code,name\n-X,\nMIST,\nMIST,other\n")
    with pytest.raises(CommandError, match=r"2 cells are wrong\. Nothing was stored"):
        run(str(folder))
    out, errors = io.StringIO(), io.StringIO()
    with pytest.raises(CommandError):
        call_command("import_records", str(folder), "--json", stdout=out, stderr=errors)
    lines = errors.getvalue().splitlines()
    assert [line.split(": ")[:2] for line in lines] == [
        ["houses.csv:2", "code"],
        ["houses.csv:4", "code"],
    ]
    told = json.loads(out.getvalue())["errors"]
    assert [(e["file"], e["line"], e["column"]) for e in told] == [
        ("houses.csv", 2, "code"),
        ("houses.csv", 4, "code"),
    ]
    assert not Tray.objects.exists()


def test_what_cannot_be_opened_is_told_in_words(tmp_path, fixed_clock):
    with pytest.raises(CommandError, match="no folder and no zip file"):
        run(str(tmp_path / "nowhere"))


def test_day_first_dates_are_read_where_that_is_said(folder):
    text = (folder / "batches.csv").read_text().replace("2026-03-02", "02/03/2026")
    (folder / "batches.csv").write_text(text)
    with pytest.raises(CommandError):
        run(str(folder))
    run(str(folder), "--day-first")
    assert Tray.objects.count() == 2


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_bar_grows_on_a_terminal_and_nowhere_else():
    for stream, asked_for, drawn in [
        (Terminal(), False, True),
        (io.StringIO(), True, True),
        (io.StringIO(), False, False),
    ]:
        bar = ProgressBar(asked_for=asked_for, stream=stream)
        for done in (0, 30, 60):
            bar("storing", done, 60)
        bar.end()
        assert bool(stream.getvalue()) is drawn
        if drawn:
            assert "[###############               ]  50%" in stream.getvalue()
            assert stream.getvalue().endswith("100%\n")


def test_the_status_of_the_process_and_its_two_outputs(data_folder, tmp_path):
    folder = write(tmp_path / "in", {"houses": "code,name\nMIST,x\n"})
    done = data_folder.command("import_records", str(folder), "--json", "--progress")
    assert json.loads(done.stdout)["houses.csv"] == 1
    assert "100%" in done.stderr
    write(tmp_path / "in", {"houses": "code,name\n-MIST,x\n"})
    failed = data_folder.command("import_records", str(folder), check=False)
    assert (failed.returncode, failed.stdout) == (1, "")
    assert failed.stderr.startswith("houses.csv:2: code: “-MIST” cannot be a code")
    assert "Traceback" not in failed.stderr
