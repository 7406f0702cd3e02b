"""What do the failing trays share?"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.core.signs import CAUSE_WORDS, SIGN_WORDS, TROUBLES, Sign
from batches.services.failing_trays import FACTORS, what_trays_share
from batches.templatetags.frond import in_words
from batches.views import clock
from batches.views.access import for_hands

DAYS = 90
MOST_DAYS = 3_660
MOST_LINES = 25


@for_hands
@require_GET
def shared_causes(request: HttpRequest) -> HttpResponse:
    """Rank what the trays with a trouble, or with losses to a cause, have in common."""
    today = clock.today()
    sign = request.GET.get("sign", "mould")[:40]
    since, wrong = _since(request.GET.get("since", ""), today)
    asked = None
    error = wrong
    try:
        asked = what_trays_share(sign=sign, since=since, on=today)
    except NurseryError as refused:
        error = refused.message
    lines = _lines(asked.found.lines) if asked else []
    context: dict[str, Any] = {
        "words": [
            (word, _words(word)) for word in dict.fromkeys((*TROUBLES_IN_ORDER, *CAUSE_WORDS))
        ],
        "sign": sign,
        "sign_words": _words(sign),
        "since": since,
        "error": error,
        "found": asked.found if asked else None,
        "lines": lines,
        "first": next((line for line in lines[:1] if line["line"].stands_out), None),
    }
    return render(request, "batches/shared_causes/page.html", context)


TROUBLES_IN_ORDER = tuple(str(sign) for sign in Sign if sign in TROUBLES)


def _since(text: str, today: date) -> tuple[date, str]:
    usual = today - timedelta(days=DAYS)
    if not text:
        return usual, ""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return usual, f"“{text[:20]}” is no day; the last {DAYS} days are shown."
    if not today - timedelta(days=MOST_DAYS) <= day <= today:
        return usual, f"That day is in the future, or too long ago; the last {DAYS} days are shown."
    return day, ""


def _words(sign: str) -> str:
    if sign in TROUBLES:
        return SIGN_WORDS[Sign(sign)]
    return CAUSE_WORDS.get(sign, sign)


def _lines(lines: Any) -> list[dict[str, Any]]:
    return [
        {
            "line": line,
            "factor": in_words(FACTORS.get(line.factor, line.factor)),
            "value": _value(line.factor, line.value),
            "same": [
                (in_words(FACTORS.get(factor, factor)), _value(factor, value))
                for factor, value in line.cannot_be_told_apart
            ],
        }
        for line in lines
        if line.affected
    ][:MOST_LINES]


def _value(factor: str, value: str) -> str:
    """Return a value in the reader's language; codes and names stay as they are."""
    return in_words(value) if factor.startswith("container") else value
