"""What stands on one label?

A row is plain text, so that it can be handed to another process. Nothing on it goes stale: no
stage and no count, which belong on the page that the QR opens.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

from batches.labels.errors import LabelRefused

Kind = Literal["tray", "pot", "lot", "bench"]
Runs = tuple[tuple[str, bool], ...]
"""Text in pieces, each with whether it is italic, as (("Osmunda", True), (" sp.", False))."""

_CODE = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,30}[A-Za-z0-9])?")
_ADDRESS = re.compile(r"https?://[\x21-\x7e]{1,200}", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passport:
    """The plant passport block of a pot label: off unless given.

    Only operators that their plant health authority has authorised may issue passports. Parts A to
    D as in Annex VII A of Regulation (EU) 2016/2031 and Implementing Regulation (EU) 2017/2313; in
    the GB form the flag is left out and E is there where it applies. `title` is "Plant Passport" in
    an official language, a slash and English ("Pas Phlandaí / Plant Passport"), or, in the GB form,
    "UK Plant Passport".
    """

    form: Literal["EU", "GB"]
    title: str
    a: str
    b: str
    c: str
    d: str
    e: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelRow:
    """The words of one label.

    `name_runs` is the fern (tray, lot), the name it is sold as (pot) or the bench. `sown_text`
    reads "sown Mon 30 Mar 2026 (wk 14)"; on a lot packet it may say when the spores were collected.
    `url` is what the QR holds, SCHEME://HOST/t/CODE. `language` is that of its words. Empty fields
    are left out.
    """

    kind: Kind
    code: str
    url: str
    name_runs: Runs
    common_name: str = ""
    sown_text: str = ""
    lot_code: str = ""
    tray_number: str = ""
    lot_word: str = "lot"
    tray_word: str = "tray"
    language: str = "en-gb"
    care_line: str = ""
    size_code: str = ""
    price: str = ""
    extra_lines: tuple[str, ...] = ()
    passport: Passport | None = None


def check_row(row: LabelRow) -> None:
    """Raise LabelRefused when a label could not be found again by its code or its QR."""
    if row.kind not in get_args(Kind):
        raise LabelRefused(f"“{row.kind}” is no kind of label.")
    if not _CODE.fullmatch(row.code):
        raise LabelRefused(
            f"“{row.code[:40]}” cannot be printed as a code: 1 to 32 of A-Z a-z 0-9 - . _, "
            "first and last a letter or digit.",
            field="code",
        )
    if not _ADDRESS.fullmatch(row.url) or not row.url.endswith(f"/t/{row.code}"):
        raise LabelRefused(
            f"The QR of {row.code} would not lead back to it: its address must be "
            f"http(s)://…/t/{row.code}.",
            field="url",
        )


def as_plain(row: LabelRow) -> dict[str, Any]:
    """Return the row as lists, texts and numbers; `from_plain` makes it whole again."""
    return asdict(row)


def from_plain(plain: Mapping[str, Any]) -> LabelRow:
    """Return the row that `as_plain` took apart."""
    passport = plain["passport"]
    fields = dict(plain)
    fields["name_runs"] = _runs(plain["name_runs"])
    fields["extra_lines"] = tuple(plain["extra_lines"])
    fields["passport"] = Passport(**passport) if passport else None
    return LabelRow(**fields)


def _runs(pairs: Sequence[Sequence[Any]]) -> Runs:
    return tuple((str(text), bool(italic)) for text, italic in pairs)
