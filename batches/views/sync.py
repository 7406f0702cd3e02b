"""What tablets send: looks, strike-outs and moves, each answered for itself."""

from __future__ import annotations

import json
from http import HTTPStatus

from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_GET, require_POST

from batches.services.generation import current_generation
from batches.services.syncing import BadBody, Sender, take_items
from batches.views import clock
from batches.views.access import answers_json, for_tablets, person_of, tablet_of


@for_tablets
@answers_json
@never_cache
@ensure_csrf_cookie
@require_GET
def hello(request: HttpRequest) -> JsonResponse:
    """Say that the server is there, what time it is and which generation of records it holds."""
    return JsonResponse(
        {"server_time": clock.now().isoformat(), "generation": current_generation()}
    )


@for_tablets
@answers_json
@never_cache
@require_POST
def sync(request: HttpRequest) -> JsonResponse:
    """Take items from a tablet; the answer comes when all of them are stored."""
    now = clock.now()
    try:
        body = json.loads(request.body, parse_constant=_no_such_number)
    except RequestDataTooBig:
        return _bad("This is too large to take at once.", HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
    except (ValueError, RecursionError):
        return _bad("The body is no JSON.")
    person = person_of(request)
    sender = Sender(device=None if person else tablet_of(request), person=person)
    try:
        answers = take_items(body=body, sender=sender, now=now)
    except BadBody as error:
        return _bad(error.message)
    results = [
        {"id": one.id, "status": one.status} | ({"message": one.message} if one.message else {})
        for one in answers
    ]
    return JsonResponse(
        {
            "server_time": clock.now().isoformat(),
            "generation": current_generation(),
            "results": results,
        }
    )


def _no_such_number(name: str) -> float:
    raise ValueError(name)


def _bad(reason: str, status: HTTPStatus = HTTPStatus.BAD_REQUEST) -> JsonResponse:
    error = f"{reason} Nothing was stored."
    return JsonResponse({"error": error}, status=status)
