"""Who changed what that no event row tells of, and is the chain of these notes whole?

Looks, passages, counts and places say themselves who and when, and the database refuses to change
them. These notes are about the rest: people, passwords, tablets, settings, a fern's own days,
imports, exports, copies, restores, prints, sign-ins, strike-outs. Each note holds a hash of itself
and of the one before: a note that was altered, taken out or put in later breaks the chain. Whoever
can write to the database file can reckon the whole chain anew; what `compared_with_copy` finds in
a copy kept elsewhere is the proof against that.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.models import Q, QuerySet

from batches.models import ChangeNote
from batches.services.records_io.guarding import guarded

#: the number under which one writer at a time adds on PostgreSQL (any number of ours)
_TURN = 7_026_102
_AT_ONCE = 2_000
_MOST_FAULTS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainCheck:
    """How many notes there are, the hash of the last (empty without any), and what is wrong."""

    notes: int
    head: str
    faults: tuple[str, ...]


def note_change(
    *,
    what: str,
    now: datetime,
    by: str = "",
    device: str = "",
    about: str = "",
    before: Any = None,
    after: Any = None,
    why: str = "",
    device_at: datetime | None = None,
    database: str = DEFAULT_DB_ALIAS,
) -> ChangeNote:
    """Add a note to the chain, in the transaction that is open or in one of its own.

    Parameters
    ----------
    by, device : str
        The person's name; the tablet's name, a network address, or ``command``.
    before, after : JSON or None
        What it was and what it is now; never a password, a PIN or a secret.
    """
    with transaction.atomic(using=database):
        _wait_for_turn(database)
        last = ChangeNote.objects.using(database).order_by("-number").first()
        note = ChangeNote(
            number=1 if last is None else last.number + 1,
            at=now,
            device_at=device_at,
            by=_cut(by, 80),
            device=_cut(device, 80),
            what=_cut(what, 60),
            about=_cut(about, 200),
            before=_as_text(before),
            after=_as_text(after),
            why=_cut(why, 300),
            previous="" if last is None else last.hash,
        )
        note.hash = hash_of(note)
        note.save(using=database, force_insert=True)
    return note


def hash_of(note: ChangeNote) -> str:
    """Return the seal of a note: the SHA-256 of its columns as JSON, in this order."""
    columns = [
        note.number,
        _moment(note.at),
        _moment(note.device_at),
        *(note.by, note.device, note.what, note.about, note.before, note.after, note.why),
        note.previous,
    ]
    text = json.dumps(columns, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def chain_check(*, database: str = DEFAULT_DB_ALIAS) -> ChainCheck:
    """Read the whole chain and work out every seal anew; a constant number of queries a thousand.

    The first twenty faults are told. That notes are missing at the end cannot be seen here.
    """
    faults: list[str] = []
    number, head = 0, ""
    for note in _in_order(database):
        number += 1
        if note.number != number:
            faults.append(f"Note {number} is missing.")
            number = note.number
        elif note.previous != head:
            faults.append(f"Note {number} does not follow the one before it.")
        if note.hash != hash_of(note):
            faults.append(f"Note {number} was altered after it was written.")
        head = note.hash
        if len(faults) >= _MOST_FAULTS:
            break
    return ChainCheck(notes=number, head=head, faults=tuple(faults))


def changes_about(words: str) -> QuerySet[ChangeNote]:
    """Return the notes, newest first; with words, those whose who, what or about holds them."""
    found = ChangeNote.objects.all()
    if not words.strip():
        return found
    text = words.strip()
    return found.filter(
        Q(by__icontains=text) | Q(what__icontains=text) | Q(about__icontains=text)
        | Q(device__icontains=text)
    )  # fmt: skip


def change_rows(*, database: str = DEFAULT_DB_ALIAS) -> Iterator[list[str]]:
    """Yield the notes as rows of text that a spreadsheet does not run, the header first."""
    names = [field.name for field in ChangeNote._meta.concrete_fields]
    yield names
    for note in _in_order(database):
        yield [guarded(_cell(getattr(note, name))) for name in names]


def _in_order(database: str) -> Iterator[ChangeNote]:
    notes = ChangeNote.objects.using(database).order_by("number")
    return notes.iterator(chunk_size=_AT_ONCE)


def _wait_for_turn(database: str) -> None:
    """Let one writer at a time add; SQLite's transactions see to it by themselves."""
    if connections[database].vendor == "postgresql":
        with connections[database].cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_TURN])


def _cut(text: str, most: int) -> str:
    return text.replace("\x00", "").strip()[:most]


def _as_text(value: Any) -> str:
    if value is None:
        return ""
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, default=str)
    return text.replace("\\u0000", "")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return _moment(value) if isinstance(value, datetime) else str(value)


def _moment(moment: datetime | None) -> str:
    return "" if moment is None else moment.astimezone(UTC).isoformat()
