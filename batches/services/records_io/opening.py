"""Which files of the records lie in a folder, in a zip, or in what was uploaded?

Nothing is ever unpacked to disk: a zip's members are matched by name against the known files and
read into memory up to a bound, so a member's path, its stated size and what it would unpack to
cannot do harm.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path, PurePosixPath

from batches.core.errors import NurseryError
from batches.services.records_io.columns import FILE_NAMED, FILES
from batches.services.records_io.faults import WHOLE_FILE, Faults, did_you_mean, shown

DESCRIPTOR = "datapackage.json"
KNOWN_NAMES = (*(file.file_name for file in FILES), DESCRIPTOR)
#: all files together, unpacked: about three million looks
MOST_BYTES = 512 * 1024 * 1024
#: what a page takes, unpacked: about half a million looks
MOST_BYTES_UPLOADED = 96 * 1024 * 1024
_MOST_MEMBERS = 2_000

Parcel = dict[str, bytes]


class CannotOpen(NurseryError):
    """The folder or zip itself cannot be read, so there are no rows to speak of."""


def open_records(path: Path, *, faults: Faults, most_bytes: int = MOST_BYTES) -> Parcel:
    """Return the bytes of each known file by its name, from a folder or a zip.

    A file of another name that ends in .csv is a fault: a misspelt name must not lose its rows.

    Raises
    ------
    CannotOpen
        When there is nothing at the path, it cannot be read, holds none of the known files,
        or is larger than ``most_bytes`` unpacked.
    """
    try:
        if path.is_dir():
            found = _from_folder(path, faults, most_bytes)
        elif path.is_file():
            found = _from_zip(path, faults, most_bytes)
        else:
            raise CannotOpen(f"There is no folder and no zip file {path}. Nothing was stored.")
    except OSError as error:
        raise CannotOpen(
            f"{path} cannot be read ({error.strerror or error}). Nothing was stored."
        ) from error
    if not found and not faults:
        raise CannotOpen(
            f"{path.name or path} holds none of the files of the records ({FILES[0].file_name}, "
            f"{FILES[1].file_name} … {FILES[-1].file_name}). Nothing was stored."
        )
    return found


def pack(files: Sequence[tuple[str, bytes]], *, path: Path) -> None:
    """Write uploaded files into a zip at the path, under their bare names, as they came.

    Raises
    ------
    CannotOpen
        When two of them bear the same name: one would be lost.
    """
    names = [PurePosixPath(name.replace("\\", "/")).name or "unnamed" for name, _ in files]
    for place, name in enumerate(names):
        if name.casefold() in {other.casefold() for other in names[:place]}:
            raise CannotOpen(f"Two files bear the name {name}: keep one. Nothing was stored.")
    with zipfile.ZipFile(path, "x", zipfile.ZIP_DEFLATED) as packed:
        for name, (_, data) in zip(names, files, strict=True):
            packed.writestr(name, data)


def _known(name: str, faults: Faults) -> str:
    """Return the published spelling of a file's name; empty where it is none of the records'."""
    folded = name.casefold()
    for known in KNOWN_NAMES:
        if known.casefold() == folded:
            return known
    if folded.endswith(".csv") and not folded.startswith("."):
        hint = did_you_mean(name, KNOWN_NAMES)
        faults.add(
            name, 1, WHOLE_FILE,
            f"{shown(name)} is not a file of the records.{hint} Name it rightly or take it out.",
        )  # fmt: skip
    return ""


def _take(found: Parcel, name: str, data: bytes, faults: Faults) -> None:
    if name in found:
        faults.add(name, 1, WHOLE_FILE, "two files bear this name: keep one of them.")
    found[name] = data


def _too_large(most_bytes: int) -> CannotOpen:
    return CannotOpen(
        f"The files hold more than {most_bytes // (1024 * 1024)} MB together. Nothing was stored; "
        "import them in parts: what others name first, then the looks, one file after another."
    )


def _from_folder(folder: Path, faults: Faults, most_bytes: int) -> Parcel:
    found: Parcel = {}
    left = most_bytes
    for path in sorted(folder.iterdir()):
        name = _known(path.name, faults) if path.is_file() else ""
        if not name:
            continue
        with path.open("rb") as file:
            data = file.read(left + 1)
        if len(data) > left:
            raise _too_large(most_bytes)
        left -= len(data)
        _take(found, name, data, faults)
    return found


def _from_zip(path: Path, faults: Faults, most_bytes: int) -> Parcel:
    try:
        with zipfile.ZipFile(path) as packed:
            return _members(packed, path, faults, most_bytes)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise CannotOpen(
            f"{path.name} cannot be read as a zip file: it is damaged, locked by a password, or "
            f"something else ({error}). Nothing was stored; make it anew, or give the folder."
        ) from error


def _members(packed: zipfile.ZipFile, path: Path, faults: Faults, most_bytes: int) -> Parcel:
    members = [member for member in packed.infolist() if not member.is_dir()]
    if len(members) > _MOST_MEMBERS:
        raise CannotOpen(
            f"{path.name} holds {len(members):,} files; the records are {len(KNOWN_NAMES)}. "
            "Nothing was stored."
        )
    _refuse_ways_out(members, path)
    wanted = []
    for member in members:
        parts = PurePosixPath(member.filename).parts
        if any(part.startswith((".", "__MACOSX")) for part in parts):
            continue
        name = _known(parts[-1], faults)
        if name:
            wanted.append((parts[:-1], name, member))
    if len({folder for folder, _, _ in wanted}) > 1:
        raise CannotOpen(
            f"{path.name} holds files of the records in more than one folder. Nothing was stored; "
            "zip one folder alone."
        )
    found: Parcel = {}
    left = most_bytes
    for _, name, member in wanted:
        with packed.open(member) as file:
            data = file.read(left + 1)
        if len(data) > left:
            raise _too_large(most_bytes)
        left -= len(data)
        _take(found, name, data, faults)
    return found


def _refuse_ways_out(members: Iterable[zipfile.ZipInfo], path: Path) -> None:
    for member in members:
        name = member.filename
        if name.startswith("/") or "\\" in name or ":" in name or ".." in name.split("/"):
            raise CannotOpen(
                f"{path.name} holds a file whose name leads out of its folder ({shown(name)}). "
                "Nothing was stored. Do not use this file; ask where it comes from."
            )


def file_of(name: str) -> str:
    """Return the records file that a file name stands for: ``trays.csv`` → ``trays``."""
    stem = name.removesuffix(".csv")
    return stem if stem in FILE_NAMED else ""
