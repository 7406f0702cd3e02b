"""Does the stock book balance, and does it agree with what trays.csv says is alive?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Q

from batches.core.errors import LedgerDoesNotBalance
from batches.core.ledger import Change, Posting, require_balance
from batches.models import PlantMovement, Tray
from batches.services.records_io.columns import MOVEMENTS, TRAYS
from batches.services.records_io.reading import Sheet
from batches.services.records_io.stored import CHUNK
from batches.services.records_io.world import Check


class _Entry(NamedTuple):
    """One change of a tray's count, and the new row that tells of it; None where it is stored."""

    posting: Posting
    row: Any


Books = defaultdict[str, list[_Entry]]


def check_stock(check: Check, trays: Sheet | None) -> set[str]:
    """Check every stock book that a new row or a quantity touches.

    Returns the codes of new trays without a standing movement: their quantity, where given, is
    their first count.
    """
    books = _books(check)
    doubtful = _doubtful(check)
    for code, book in books.items():
        if code in doubtful or not book:
            continue
        _check_balance(check, code, book)
        _check_counted_once(check, code, book)
    unmoved = set()
    for row in check.of(TRAYS):
        if row.code in doubtful:
            continue
        if books.get(row.code):
            _check_quantity(check, row, books[row.code])
        else:
            unmoved.add(row.code)
            if row.quantity == 0 and row.ended_on is None and not row.control:
                check.fault(
                    TRAYS, row, "quantity",
                    "0 alive, and movements.csv has no row of the tray: leave the cell empty if "
                    "nobody counted, or write down how many came in and what became of them.",
                )  # fmt: skip
    if trays is not None:
        _check_stored_quantities(check, trays, books, doubtful)
    return unmoved


def _doubtful(check: Check) -> set[str]:
    found = set(check.fresh.doubtful)
    for row in check.fresh.rows.get(MOVEMENTS.name, ()):
        if not row.sound:
            found |= {row.tray, row.to_tray}
    found.discard(None)  # type: ignore[arg-type]
    return found


def _books(check: Check) -> Books:
    rows = check.of(MOVEMENTS)
    struck: set[UUID] = {row.strikes_out for row in rows if row.strikes_out is not None}
    books: Books = defaultdict(list)
    stored = check.world.stored[TRAYS.name]
    named = {row.tray for row in rows} | {row.to_tray for row in rows}
    _add_stored(books, sorted(code for code in named if code in stored), struck)
    for row in rows:
        if row.strikes_out is not None or row.id in struck:
            continue
        here = Posting(on=row.on, kind=Change(row.kind), quantity=row.quantity)
        books[row.tray].append(_Entry(here, row))
        if row.to_tray is not None:
            there = row.quantity if row.arrived is None else row.arrived
            books[row.to_tray].append(_Entry(_arrival(row.on, there), row))
    return books


def _arrival(on: date, quantity: int) -> Posting:
    return Posting(on=on, kind=Change.OUT, quantity=quantity, arrived_here=True)


def _add_stored(books: Books, codes: list[str], struck: set[UUID]) -> None:
    for start in range(0, len(codes), CHUNK // 2):
        chunk = set(codes[start : start + CHUNK // 2])
        rows = PlantMovement.objects.standing().filter(
            Q(tray__code__in=chunk) | Q(to_tray__code__in=chunk)
        )
        for row_id, tray, to_tray, on, kind, quantity, arrived in rows.values_list(
            "id", "tray__code", "to_tray__code", "on", "kind", "quantity", "arrived"
        ):
            if row_id in struck:
                continue
            if tray in chunk:
                posting = Posting(on=on, kind=Change(kind), quantity=quantity)
                books[tray].append(_Entry(posting, None))
            if to_tray in chunk:
                there = quantity if arrived is None else arrived
                books[to_tray].append(_Entry(_arrival(on, there), None))


def _check_balance(check: Check, code: str, book: list[_Entry]) -> None:
    postings = [entry.posting for entry in book]
    try:
        require_balance(postings, tray=code)
    except LedgerDoesNotBalance:
        day, message = _first_shortfall(postings, code)
        row = _row_to_blame(check, code, book, day)
        if row is not None:
            check.fault(MOVEMENTS, row, "quantity", message)


def _first_shortfall(postings: list[Posting], code: str) -> tuple[date, str]:
    for day in sorted({posting.on for posting in postings}):
        try:
            require_balance((p for p in postings if p.on <= day), tray=code)
        except LedgerDoesNotBalance as error:
            return day, error.message
    raise AssertionError(f"the whole book of {code} falls short, but none of its days does")


def _row_to_blame(check: Check, code: str, book: list[_Entry], day: date) -> Any:
    """Return the last new row that took plants away by that day, else any new row of the tray."""
    rows = [e.row for e in book if e.row is not None and e.posting.on <= day]
    takers = [
        e.row for e in book if e.row is not None and e.posting.on <= day and e.posting.effect < 0
    ]
    if takers or rows:
        return max(takers or rows, key=lambda row: (row.on, row.line))
    return next((row for row in check.of(MOVEMENTS) if code in {row.tray, row.to_tray}), None)


def _check_counted_once(check: Check, code: str, book: list[_Entry]) -> None:
    """Refuse an `in` for what moved into a tray; one that was counted before may get more."""
    arrivals = [entry for entry in book if entry.posting.arrived_here]
    if not arrivals:
        return
    first = min(entry.posting.on for entry in arrivals)
    for entry in book:
        if entry.posting.kind is not Change.IN or entry.posting.on < first:
            continue
        row = entry.row or next((e.row for e in arrivals if e.row is not None), None)
        if row is not None:
            check.fault(
                MOVEMENTS, row, "kind",
                f"tray {code} has an in of {entry.posting.quantity} on {entry.posting.on}, but "
                f"what moved into it on {first} is counted in by the out: take the in away. What "
                "was found beyond that is a recount.",
            )  # fmt: skip
            return


def _alive(book: Iterable[_Entry], code: str) -> int | None:
    """Return what the book leaves alive, None for uncounted or where it does not balance."""
    try:
        total = require_balance((entry.posting for entry in book), tray=code)
    except LedgerDoesNotBalance:
        return None
    return total.alive if total.counted else None


def _check_quantity(check: Check, row: Any, book: list[_Entry]) -> None:
    if row.quantity is None:
        return
    alive = _alive(book, row.code)
    if alive == row.quantity or (alive is None and row.quantity == 0 and row.ended_on is not None):
        return
    says = "no count at all (uncounted)" if alive is None else f"{alive} alive"
    check.fault(
        TRAYS, row, "quantity",
        f"{row.quantity} here, but the rows of movements.csv give {says}: correct one of the two, "
        "or leave this cell empty.",
    )  # fmt: skip


def _check_stored_quantities(check: Check, sheet: Sheet, books: Books, doubtful: set[str]) -> None:
    """Compare what the file says of trays that are stored with what they will hold."""
    stored = check.world.stored[TRAYS.name]
    rows = [
        row
        for row in sheet.rows
        if row.sound
        and row.quantity is not None
        and row.code in stored
        and row.code not in doubtful
    ]
    alive: dict[str, int | None] = {}
    codes = [row.code for row in rows if not books.get(row.code)]
    for start in range(0, len(codes), CHUNK):
        query = Tray.objects.filter(code__in=codes[start : start + CHUNK])
        alive |= dict(query.values_list("code", "alive"))
    for row in rows:
        book = books.get(row.code)
        held = _alive(book, row.code) if book else alive[row.code]
        if held == row.quantity or (held is None and row.quantity == 0):
            continue
        words = "uncounted" if held is None else str(held)
        check.fault(
            TRAYS, row, "quantity",
            f"{row.quantity} here, {words} by the stored rows with those of movements.csv: leave "
            "the cell empty, or add the movement that is missing.",
        )  # fmt: skip
