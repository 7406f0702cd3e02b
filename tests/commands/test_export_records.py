"""Does the command write a folder or a zip, and the description of the format?"""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from django.core.management import CommandError, call_command

from batches.services.records_io import records_page
from tests.services.records_io.folders import read_all

pytestmark = pytest.mark.django_db


def run(*words: str) -> str:
    out = io.StringIO()
    call_command("export_records", *words, stdout=out)
    return out.getvalue()


def test_the_counts_per_file_are_one_json_document(tmp_path):
    counts = json.loads(run(str(tmp_path / "out"), "--json"))
    assert len(counts) == 16
    assert counts["taxa.csv"] == 0
    assert len(read_all(tmp_path / "out")) == 17


def test_a_path_ending_in_zip_makes_a_zip(tmp_path):
    assert "Written to" in run(str(tmp_path / "out.zip"))
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        assert len(packed.namelist()) == 17


def test_the_description_of_the_format_is_printed(db):
    assert run("--describe") == records_page()


def test_a_missing_or_unwritable_path_is_told(tmp_path):
    with pytest.raises(CommandError, match="Name a folder"):
        run()
    (tmp_path / "file").write_text("x")
    with pytest.raises(CommandError, match="could not be written"):
        run(str(tmp_path / "file" / "out"))
