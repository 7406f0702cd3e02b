"""Which trail does an address ask for: of a code, of a bench and its days, of what was sent?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest, QueryDict

from batches.core.errors import NotUnderstood, NurseryError, UnknownCode
from batches.models import Order
from batches.services.codes import find_code, noun_of
from batches.services.trace import TRACED_KINDS, Trail, trail_of, trays_it_became
from batches.services.trace_starts import trail_of_bench, trail_of_dispatch, trail_of_sent
from batches.services.trail_sums import sums_of_trail
from batches.services.trail_words import words_of_trail
from batches.views import clock

#: what an address may ask by, one of them at a time
ASKED_BY = ("code", "bench", "sent", "to", "order")
#: days looked back on a bench when no first day is named
_DAYS_BACK = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A trail, what it is called, and the query that asks for it again."""

    trail: Trail
    title: str
    query: str


def is_asked(query: QueryDict) -> bool:
    """Tell whether an address asks for a trail."""
    return any(query.get(word, "").strip() for word in ASKED_BY)


def asked_of(query: QueryDict) -> Asked:
    """Return the trail an address asks for.

    Raises
    ------
    NurseryError
        When it names nothing that has a trail; the words say what to do.
    """
    told = {word: query.get(word, "").strip() for word in ASKED_BY}
    first, last = _day(query.get("from", "")), _day(query.get("until", ""))
    days = {"from": first, "until": last}
    if told["bench"]:
        until = last or clock.today()
        since = first or until - timedelta(days=_DAYS_BACK)
        trail = trail_of_bench(code=told["bench"], first=since, last=until)
        return _asked(trail, bench=told["bench"], **{"from": since, "until": until})
    if told["sent"]:
        return _asked(trail_of_dispatch(row_id=_row_id(told["sent"])), sent=told["sent"])
    if told["order"]:
        order = _order(told["order"])
        return _asked(trail_of_sent(order=order, first=first, last=last), order=order, **days)
    if told["to"]:
        trail = trail_of_sent(recipient=told["to"], first=first, last=last)
        return _asked(trail, to=told["to"], **days)
    trail = trail_of(code=told["code"])
    title = f"{noun_of(trail.start.kind)} {trail.start.code}"
    return Asked(trail=trail, title=title, query=urlencode({"code": trail.start.code}))


def trail_context(asked: Asked) -> dict[str, Any]:
    """Return what the page of a trail and its print show."""
    trays = trays_it_became(trail=asked.trail)
    return {
        "trail": asked.trail,
        "title": asked.title,
        "query": asked.query,
        "words": words_of_trail(trail=asked.trail),
        "sums": sums_of_trail(trail=asked.trail, trays=trays),
        "has_code": asked.trail.start.kind in TRACED_KINDS,
    }


def asked_by(request: HttpRequest) -> Asked | NurseryError:
    """Return the trail a request asks for, or why there is none."""
    try:
        return asked_of(request.GET)
    except NurseryError as error:
        return error


def _asked(trail: Trail, **words: object) -> Asked:
    kept = {name: str(value) for name, value in words.items() if value}
    return Asked(trail=trail, title=trail.start.code, query=urlencode(kept))


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise NotUnderstood(f"“{text[:20]}” is no day. Write it like 2026-11-24.") from None


def _row_id(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise UnknownCode("No such dispatch is on record.") from None


def _order(text: str) -> str:
    found = find_code(text)
    if not isinstance(found.obj, Order):
        raise UnknownCode(f"“{found.code}” is no order's code.", field="order")
    return found.code
