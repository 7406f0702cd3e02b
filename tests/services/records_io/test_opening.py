"""Is every folder and zip opened that holds records, and nothing else believed?"""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path
from typing import Any

import pytest

from batches.models import House
from batches.services.records_io import CannotOpen, import_records
from batches.services.records_io.opening import MOST_BYTES_UPLOADED, pack
from tests.services.records_io.folders import NOW, csv_text, small, write

pytestmark = pytest.mark.django_db

HOUSES = b"code,name\nMIST,Mist house\n"


def zip_of(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            packed.writestr(name, data)
    return path


def take(path: Path, **more):
    settings: dict[str, Any] = {"path": path, "now": NOW, "by": "Greta Lunn"}
    return import_records(**(settings | more))


@pytest.mark.parametrize(
    "names",
    [
        ["houses.csv"],
        ["HOUSES.CSV"],
        ["records/houses.csv"],
        ["records/2026/houses.csv", "__MACOSX/records/._houses.csv", "records/.DS_Store"],
        ["houses.csv", "readme.txt", "photos/1.jpg"],
    ],
)
def test_a_zip_is_read_whatever_folder_it_wraps(tmp_path, names):
    path = zip_of(tmp_path / "in.zip", dict.fromkeys(names, HOUSES))
    assert not take(path).errors
    assert House.objects.get().code == "MIST"


def test_a_folder_is_read_whatever_else_lies_in_it(tmp_path):
    folder = write(tmp_path / "in", {"readme.txt": b"x", "Houses.CSV": HOUSES})
    (folder / "photos").mkdir()
    (folder / "taxa.csv").mkdir()
    assert not take(folder).errors
    assert House.objects.exists()


@pytest.mark.parametrize("wrap", ["folder", "zip"])
def test_a_misspelt_file_name_does_not_lose_its_rows(tmp_path, wrap):
    files = {"houses.csv": HOUSES, "tray.csv": b"code\nA\n", "mine.csv": b"a\n"}
    path = write(tmp_path / "in", files) if wrap == "folder" else zip_of(tmp_path / "in.zip", files)
    mine, tray = sorted(str(error) for error in take(path).errors)
    assert mine.startswith("mine.csv:1: file: “mine.csv” is not a file of the records. Name it")
    assert "tray.csv:1: file: “tray.csv” is not a file" in tray
    assert "Did you mean “trays.csv”? Name it rightly or take it out." in tray
    assert not House.objects.exists()


def test_two_files_of_one_name_are_refused(tmp_path):
    path = zip_of(tmp_path / "in.zip", {"houses.csv": HOUSES, "Houses.csv": HOUSES})
    (error,) = take(path).errors
    assert "two files bear this name" in error.message


@pytest.mark.parametrize(
    "name",
    ["../houses.csv", "/etc/houses.csv", "a/../../houses.csv", "..\\houses.csv", "C:\\houses.csv",
     "C:houses.csv"],
)  # fmt: skip
def test_a_name_that_leads_out_of_the_zip_is_refused_and_nothing_is_unpacked(tmp_path, name):
    path = zip_of(tmp_path / "in.zip", {"benches.csv": b"code,house\n", name: HOUSES})
    before = set(tmp_path.rglob("*"))
    with pytest.raises(CannotOpen, match="leads out of its folder"):
        take(path)
    assert set(tmp_path.rglob("*")) == before


def test_records_in_two_folders_of_a_zip_are_refused(tmp_path):
    path = zip_of(tmp_path / "in.zip", {"a/houses.csv": HOUSES, "b/benches.csv": b"code,house\n"})
    with pytest.raises(CannotOpen, match="more than one folder"):
        take(path)


def test_a_zip_bomb_is_not_unpacked(tmp_path):
    bomb = b"code,name\n" + b"\n" * (MOST_BYTES_UPLOADED + 1)
    path = zip_of(tmp_path / "in.zip", {"houses.csv": bomb})
    assert path.stat().st_size < 200_000
    with pytest.raises(CannotOpen, match="more than 96 MB together"):
        take(path, most_bytes=MOST_BYTES_UPLOADED)


def test_a_size_that_a_zip_states_falsely_is_not_believed(tmp_path):
    data = b"code,name\n" + b"\n" * 5_000_000
    path = zip_of(tmp_path / "in.zip", {"houses.csv": data})
    raw = path.read_bytes().replace(struct.pack("<L", len(data)), struct.pack("<L", 30))
    path.write_bytes(raw)
    with pytest.raises(CannotOpen, match="cannot be read as a zip file"):
        take(path, most_bytes=1_000_000)


def test_a_folder_larger_than_the_bound_is_refused(tmp_path):
    folder = write(tmp_path / "in", {"houses.csv": b"x" * 2_000, "benches.csv": b"x" * 2_000})
    with pytest.raises(CannotOpen, match="import them in parts"):
        take(folder, most_bytes=3_000)


def test_thousands_of_members_are_refused(tmp_path):
    path = zip_of(tmp_path / "in.zip", {f"{n}.txt": b"" for n in range(2_001)})
    with pytest.raises(CannotOpen, match="holds 2,001 files"):
        take(path)


def spoilt(data: bytes, how: str) -> bytes:
    if how == "cut short":
        return data[: len(data) // 2]
    if how == "a wrong byte":
        at = data.index(b"houses.csv") + 14
        return data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :]
    if how == "a password":
        at = data.index(b"PK\x01\x02") + 8
        return data[:at] + b"\x01" + data[at + 1 :]
    return b"%PDF-1.7 not a zip"


@pytest.mark.parametrize("how", ["cut short", "a wrong byte", "a password", "another file"])
def test_a_damaged_or_locked_zip_is_refused_in_words(tmp_path, how):
    path = zip_of(tmp_path / "in.zip", {"houses.csv": HOUSES * 50})
    path.write_bytes(spoilt(path.read_bytes(), how))
    with pytest.raises(CannotOpen, match=r"in.zip cannot be read as a zip file.*Nothing was"):
        take(path)


def test_nothing_at_the_path_and_nothing_in_the_folder_are_told_apart(tmp_path):
    with pytest.raises(CannotOpen, match="no folder and no zip file"):
        take(tmp_path / "nowhere")
    (tmp_path / "empty").mkdir()
    with pytest.raises(CannotOpen, match="holds none of the files of the records"):
        take(tmp_path / "empty")


def test_uploaded_files_are_packed_under_their_bare_names(tmp_path):
    files = [("C:\\books\\houses.csv", HOUSES), ("../../benches.csv", b"code,house\nB1,MIST\n")]
    pack(files, path=tmp_path / "set-aside.zip")
    with zipfile.ZipFile(tmp_path / "set-aside.zip") as packed:
        assert packed.namelist() == ["houses.csv", "benches.csv"]
    assert not take(tmp_path / "set-aside.zip").errors


def test_uploaded_files_of_one_name_are_refused(tmp_path):
    with pytest.raises(CannotOpen, match=r"Two files bear the name Houses\.csv"):
        pack([("houses.csv", HOUSES), ("a/Houses.csv", HOUSES)], path=tmp_path / "x.zip")
    assert not (tmp_path / "x.zip").exists()


def test_a_zip_of_everything_equals_its_folder(tmp_path):
    members = {f"{name}.csv": csv_text(rows).encode() for name, rows in small().items()}
    result = take(zip_of(tmp_path / "in.zip", members))
    assert not result.errors
    again = take(write(tmp_path / "in", small()))
    assert sum(again.counts.values()) == 0
    assert io.BytesIO(members["trays.csv"]).readline().startswith(b"code,")
