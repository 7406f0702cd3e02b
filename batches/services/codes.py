"""Which code does a thing get, and what stands behind a code that was typed or scanned?

One register (`CodeEntry`) keeps codes unique for ever and across kinds: a code that was given out,
or taken from the nursery's own books, is never given again, not even after it was handed back.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db import IntegrityError, models, transaction

from batches.core.codes import (
    KIND_LETTERS,
    BadCode,
    batch_code,
    kind_code,
    read_code,
    require_own_code,
    tray_code,
)
from batches.core.errors import AlreadyTaken, ChangedMeanwhile, UnknownCode
from batches.models import (
    Batch,
    Bench,
    CodeEntry,
    House,
    LaidOutTray,
    MediumBatch,
    Order,
    Source,
    SporeLot,
    Taxon,
    Tray,
)
from batches.services.code_register import TRIES, next_serial, next_tray_numbers, register

#: kind → (the noun on screens, its model)
_NOUNS: dict[str, tuple[str, type[models.Model]]] = {
    "taxon": ("fern", Taxon),
    "source": ("origin", Source),
    "lot": ("lot", SporeLot),
    "medium": ("medium batch", MediumBatch),
    "house": ("house", House),
    "bench": ("bench", Bench),
    "batch": ("batch", Batch),
    "tray": ("tray", Tray),
    "order": ("order", Order),
}
#: what a label's QR holds: only what follows /t/ is ever trusted
_SCANNED = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]*://[^/\s]+/t/([^/?#\s]+)/?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a code stands for.

    ``kind`` is taxon, source, lot, medium, house, bench, batch, tray or order, with ``obj`` the
    row of that model; or ``laid_out``, a tray's code whose tray is not filled yet, with ``obj`` a
    `LaidOutTray`. ``code`` is the code as it is stored, whatever case was typed.
    """

    kind: str
    code: str
    obj: models.Model


def noun_of(kind: str) -> str:
    """Return the word of a kind on screens: ``lot`` → “lot”, ``taxon`` → “fern”."""
    return _NOUNS[kind][0] if kind in _NOUNS else "tray laid out"


def a_noun(kind: str) -> str:
    """Return the word of a kind behind its article: “a lot”, “an origin”."""
    noun = noun_of(kind)
    return f"an {noun}" if noun[0] in "aeio" else f"a {noun}"


def take_own_code(*, code: str, kind: str) -> str:
    """Write the nursery's own code into the register and return it as it is kept.

    Raises
    ------
    BadCode
        When the text cannot be a code.
    AlreadyTaken
        When anything carries, or ever carried, this code.
    """
    take_own_codes(codes=[code], kind=kind)
    return code.strip()


def take_own_codes(*, codes: Sequence[str], kind: str) -> None:
    """Write many own codes of one kind into the register, all or none; errors as for one."""
    wanted = [require_own_code(code.strip()) for code in codes]
    twice = [code for code, times in Counter(wanted).items() if times > 1]
    if twice:
        raise AlreadyTaken(
            f"“{twice[0]}” is named twice; every code stands for one thing.", field="code"
        )
    entries = []
    for code in wanted:
        reading = read_code(code)
        ours = bool(reading.shape) and reading.fits and code == code.upper()
        entries.append(CodeEntry(code=code, folded=code.casefold(), kind=kind, given_out_here=ours))
    with transaction.atomic():
        for start in range(0, len(wanted), 400):
            taken = CodeEntry.objects.filter(code__in=wanted[start : start + 400]).first()
            if taken is not None:
                raise AlreadyTaken(_taken_words(taken), field="code")
        try:
            with transaction.atomic():
                CodeEntry.objects.bulk_create(entries, batch_size=400)
        except IntegrityError:
            taken = CodeEntry.objects.filter(code__in=wanted[:400]).first()
            words = _taken_words(taken) if taken is not None else "One of these codes is taken."
            raise AlreadyTaken(words, field="code") from None


def _taken_words(entry: CodeEntry) -> str:
    if entry.handed_back_on is not None:
        return (
            f"“{entry.code}” was given out once and handed back; a code is never given out twice. "
            "Choose another."
        )
    return f"“{entry.code}” is taken: it is the code of {a_noun(entry.kind)}. Choose another."


def give_batch_code(*, started_on: date) -> str:
    """Give out the next batch code of that day's ISO week, like ``26W14-073-K``."""
    year, week, _ = started_on.isocalendar()
    series = f"{year % 100:02d}W{week:02d}"
    for _ in range(TRIES):
        code = batch_code(started_on, next_serial(series))
        if register([code], kind="batch"):
            return code
    raise ChangedMeanwhile("No batch code could be given out just now. Try again.")


def give_kind_code(*, kind: str, year: int) -> str:
    """Give out the next code of a lot, medium batch, source or order of that year: ``L26-014-H``.

    Raises
    ------
    BadCode
        When codes of this kind are the nursery's own (ferns, houses, benches).
    """
    if kind not in KIND_LETTERS:
        raise BadCode(f"{a_noun(kind).capitalize()} takes a code of the nursery's own choosing.")
    series = f"{KIND_LETTERS[kind]}{year % 100:02d}"
    for _ in range(TRIES):
        code = kind_code(kind, year, next_serial(series))
        if register([code], kind=kind):
            return code
    raise ChangedMeanwhile(f"No code for {a_noun(kind)} could be given out just now. Try again.")


def give_tray_codes(*, batch: Batch, how_many: int) -> list[str]:
    """Give out the next tray codes of a batch in order; 1 to 999 at once.

    A batch with the nursery's own code lends its trays the groups of a batch code that is given
    out for them (``code_stem``) and stands for the same batch.

    Raises
    ------
    BadCode
        When the number asked for is out of range or the batch would pass 999 trays.
    """
    if not 1 <= how_many <= 999:
        raise BadCode("1 to 999 trays at once.", field="how_many")
    with transaction.atomic():
        stem = _stem_of(batch)
        codes: list[str] = []
        for _ in range(TRIES):
            fresh = [tray_code(stem, n) for n in next_tray_numbers(batch, how_many - len(codes))]
            if register(fresh, kind="tray"):
                codes += fresh
            else:
                codes += [code for code in fresh if register([code], kind="tray")]
            if len(codes) == how_many:
                return codes
    raise ChangedMeanwhile(f"No tray codes of {batch.code} could be given out just now. Try again.")


def hand_back_code(*, code: str, on: date) -> None:
    """Mark a code as handed back; it stays in the register and is never given out again."""
    CodeEntry.objects.filter(code=code).update(handed_back_on=on)


def _stem_of(batch: Batch) -> str:
    batch.refresh_from_db(fields=["code_stem"])
    if batch.code_stem:
        return batch.code_stem
    reading = read_code(batch.code)
    if reading.shape == "batch" and reading.fits and batch.code == batch.code.upper():
        return batch.code
    stem = give_batch_code(started_on=batch.started_on)
    if not Batch.objects.filter(pk=batch.pk, code_stem="").update(code_stem=stem):
        batch.refresh_from_db(fields=["code_stem"])
        return batch.code_stem
    batch.code_stem = stem
    return stem


def code_in(text: str) -> str:
    """Return the code in a typed or scanned text: what follows ``/t/`` of a label's address."""
    trimmed = text.strip()
    scanned = _SCANNED.match(trimmed)
    return scanned.group(1) if scanned is not None else trimmed


def find_code(text: str) -> Found:
    """Return what a typed or scanned code stands for: exactly first, then whatever its case.

    Raises
    ------
    UnknownCode
        When nothing carries it, its check letter does not fit, or two codes differ only in case.
    """
    code = code_in(text)
    if not code:
        raise UnknownCode("Type or scan a code.", field="code")
    entry = CodeEntry.objects.filter(code=code).first()
    if entry is None:
        alike = list(CodeEntry.objects.filter(folded=code.casefold()).order_by("code")[:3])
        if len(alike) > 1:
            named = " and ".join(f"“{one.code}”" for one in alike)
            raise UnknownCode(
                f"{named} differ only in capitals. Type the code exactly.", field="code"
            )
        entry = alike[0] if alike else None
    if entry is None:
        raise UnknownCode(_unknown_words(code), field="code")
    return _behind(entry)


def find_tray(text: str) -> Tray:
    """Return the tray behind a code.

    Raises
    ------
    UnknownCode
        As `find_code`, and when the code is something else's or its tray is not filled yet.
    """
    found = find_code(text)
    if isinstance(found.obj, Tray):
        return found.obj
    if found.kind == "laid_out":
        raise UnknownCode(
            f"{found.code} is laid out and nothing was counted into it yet.", field="code"
        )
    raise UnknownCode(
        f"{found.code} is the code of {a_noun(found.kind)}, not of a tray.", field="code"
    )


def _unknown_words(code: str) -> str:
    reading = read_code(code)
    if reading.shape and not reading.fits:
        return (
            f"The check letter of “{code}” does not fit: look at it again. One character is "
            "misread, or two are swapped."
        )
    if reading.shape:
        return (
            f"No {noun_of(reading.shape)} here carries “{code}”. Its check letter fits, so it was "
            "read rightly: perhaps it belongs to other books."
        )
    return f"Nothing here carries the code “{code[:40]}”. Look at it again, or search by words."


def _behind(entry: CodeEntry) -> Found:
    noun, model = _NOUNS[entry.kind]
    row = model._default_manager.filter(code=entry.code).first()
    if row is not None:
        return Found(kind=entry.kind, code=entry.code, obj=row)
    if entry.kind == "batch":
        lender = Batch.objects.filter(code_stem=entry.code).first()
        if lender is not None:
            return Found(kind="batch", code=lender.code, obj=lender)
    if entry.handed_back_on is not None:
        raise UnknownCode(
            f"{entry.code} was given out for a tray and handed back unused on "
            f"{entry.handed_back_on.day} {entry.handed_back_on:%b %Y}. If plants stand under this "
            "label, count them into a tray with a fresh code.",
            field="code",
        )
    laid_out = LaidOutTray.objects.filter(code=entry.code).first()
    if laid_out is not None:
        return Found(kind="laid_out", code=entry.code, obj=laid_out)
    raise UnknownCode(f"{entry.code} was given out for a {noun} and never used.", field="code")
