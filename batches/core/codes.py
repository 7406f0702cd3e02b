"""How is a code made that people can read aloud, and a mistyped one refused?

A given-out code is groups of digits with hyphens between them and a check letter at the end:
batch ``26W14-073-K`` (ISO week-year, week, serial in that week), tray ``26W14-073-05-P`` (the
batch's groups, then the tray's number), and for lots and the like a letter of the kind, the
year and a serial, ``L26-014-H``. A nursery's own codes are kept as they are.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from batches.core.errors import NurseryError

#: Letters without I and O (read as 1 and 0) and without Q (read as O): 23, a prime number.
CHECK_LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
_PRIME = len(CHECK_LETTERS)
#: 5 is a primitive root modulo 23: its powers differ for 22 places in a row, so any one wrong
#: character and any two swapped ones change the sum.
_ROOT = 5
_VALUES = {digit: value for value, digit in enumerate("0123456789")}
#: The letters that stand inside given-out codes: W of the week, and one letter a kind.
_VALUES |= {letter: 10 + place for place, letter in enumerate("WLMPRTV")}

#: kind of thing → its leading letter in a given-out code
KIND_LETTERS = {"lot": "L", "medium": "M", "source": "P", "order": "R"}

OWN_CODE = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,30}[A-Za-z0-9])?\Z")
_BATCH = re.compile(r"(\d\d)W(\d\d)-(\d{3,4})-([A-Z])\Z")
_TRAY = re.compile(r"(\d\d)W(\d\d)-(\d{3,4})-(\d{2,3})-([A-Z])\Z")
_KIND = re.compile(r"([LMPR])(\d\d)-(\d{3,4})-([A-Z])\Z")


class BadCode(NurseryError):
    """The text cannot be a code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeReading:
    """What a typed or scanned text says of itself before any look-up.

    ``text`` is trimmed; ``shape`` is ``batch``, ``tray``, a kind of `KIND_LETTERS`, or empty for
    a nursery's own code; ``fits`` says whether the check letter is right (True for own codes).
    """

    text: str
    shape: str
    fits: bool


def check_letter(body: str) -> str:
    """Return the check letter of a code's body (hyphens are not counted).

    Parameters
    ----------
    body : str
        Digits and the letters W, L, M, P, R; 1 to 22 of them.

    Raises
    ------
    BadCode
        When another character stands in the body or it is too long.

    Notes
    -----
    A weighted sum modulo the prime 23 with the powers of 5 as weights (the principle of
    ISO/IEC 7064 systems: every single wrong character and every swap of two is found).
    """
    symbols = [symbol for symbol in body if symbol != "-"]
    if not 1 <= len(symbols) < _PRIME:
        raise BadCode(f"“{body}” is too long or empty for a code that Frondbook gives out.")
    total = 0
    weight = _ROOT
    for symbol in symbols:
        if symbol not in _VALUES:
            raise BadCode(f"“{symbol}” does not stand in a code that Frondbook gives out.")
        total += weight * _VALUES[symbol]
        weight = weight * _ROOT % _PRIME
    return CHECK_LETTERS[total % _PRIME]


def with_check(body: str) -> str:
    """Return the body with its check letter behind a hyphen."""
    return f"{body}-{check_letter(body)}"


def batch_code(started_on: date, serial: int) -> str:
    """Return the code of the serial-th batch started in that ISO week (1 to 9999)."""
    if not 1 <= serial <= 9999:
        raise BadCode("A week holds at most 9,999 batches.")
    year, week, _ = started_on.isocalendar()
    return with_check(f"{year % 100:02d}W{week:02d}-{serial:03d}")


def tray_code(batch: str, number: int) -> str:
    """Return the code of a batch's tray.

    Parameters
    ----------
    batch : str
        A batch code as `batch_code` gives it; it lends its groups.
    number : int
        1 to 999, counted through the batch.

    Raises
    ------
    BadCode
        When the batch's code was not given out here, or the number is out of range.
    """
    if not 1 <= number <= 999:
        raise BadCode("A batch holds at most 999 trays.")
    match = _BATCH.match(batch)
    if match is None:
        raise BadCode(f"“{batch}” is the nursery's own code; trays take a fresh number.")
    return with_check(f"{batch[: match.start(4) - 1]}-{number:02d}")


def kind_code(kind: str, year: int, serial: int) -> str:
    """Return the code of a lot, medium batch, source or order: ``L26-014-H``."""
    if not 1 <= serial <= 9999:
        raise BadCode("A year holds at most 9,999 of one kind.")
    return with_check(f"{KIND_LETTERS[kind]}{year % 100:02d}-{serial:03d}")


def require_own_code(text: str) -> str:
    """Return the text when it may serve as a nursery's own code, else raise `BadCode`."""
    if OWN_CODE.match(text) is None:
        raise BadCode(
            f"“{text[:40]}” cannot be a code: 1 to 32 of A-Z a-z 0-9 - . _ are allowed, "
            "the first and the last a letter or a digit."
        )
    return text


def read_code(text: str) -> CodeReading:
    """Read a typed or scanned text; case does not matter for the check letter."""
    trimmed = text.strip()
    upper = trimmed.upper()
    for shape, pattern in (("batch", _BATCH), ("tray", _TRAY), ("", _KIND)):
        match = pattern.match(upper)
        if match is None:
            continue
        if not shape:
            shape = next(k for k, letter in KIND_LETTERS.items() if letter == match.group(1))
        body, _, letter = upper.rpartition("-")
        return CodeReading(text=trimmed, shape=shape, fits=check_letter(body) == letter)
    return CodeReading(text=trimmed, shape="", fits=True)
