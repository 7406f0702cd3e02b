"""What tablets send: looks and deeds, each answered for itself, and who stands there."""

from __future__ import annotations

import json
from http import HTTPStatus
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.services import bench_people, devices
from batches.services.generation import current_generation
from batches.services.photos import MOST_BYTES
from batches.services.sync_photos import LookNotHere, take_photo
from batches.services.syncing import BadBody, Sender, take_items
from batches.services.throttle import WaitFirst
from batches.templatetags.frond import in_words
from batches.views import clock
from batches.views.access import answers_json, for_tablets, person_of, tablet_of
from batches.views.sign_in import device_of


@for_tablets
@answers_json
@never_cache
@ensure_csrf_cookie
@require_GET
def hello(request: HttpRequest) -> JsonResponse:
    """Say what time it is and which generation of records is held; hear what a tablet holds.

    Who tells what it still holds (``?waiting=…&photos=…``) hears its own name, too.
    """
    tablet, now = tablet_of(request), clock.now()
    answer = {"server_time": now.isoformat(), "generation": current_generation()}
    if "waiting" in request.GET:
        if tablet is not None:
            devices.note_contact(
                device=tablet,
                waiting=_how_many(request, "waiting"),
                photos=_how_many(request, "photos"),
                now=now,
            )
        answer["tablet"] = None if tablet is None else tablet.name
    return JsonResponse(answer)


@for_tablets
@answers_json
@never_cache
@sensitive_variables()
@require_POST
def person(request: HttpRequest) -> JsonResponse:
    """Prove who stands at the tablet: ``{"name", "pin"}`` or ``{"badge"}``."""
    now, tablet = clock.now(), tablet_of(request)
    device = bench_people.device_key(tablet, device_of(request))
    try:
        body = json.loads(request.body)
        name, pin, badge = (body.get(key) for key in ("name", "pin", "badge"))
    except (ValueError, RecursionError, AttributeError, RequestDataTooBig):
        return _bad("The body is no JSON object.")
    try:
        if isinstance(badge, str) and badge:
            found = bench_people.person_of_badge(badge=badge[:200], device=device, now=now)
        elif isinstance(name, str) and isinstance(pin, str):
            found = bench_people.person_of_pin(name=name[:80], pin=pin[:40], device=device, now=now)
        else:
            return _bad("Send a name and a PIN, or a badge.")
    except WaitFirst as error:
        answer = {"error": in_words(error.message), "wait_seconds": error.seconds}
        return JsonResponse(answer, status=HTTPStatus.FORBIDDEN)
    except bench_people.NotProved as error:
        return JsonResponse({"error": in_words(error.message)}, status=HTTPStatus.FORBIDDEN)
    return JsonResponse({"name": found.name, "verified": True})


@for_tablets
@answers_json
@never_cache
@require_http_methods(["PUT"])
def photo(request: HttpRequest, photo_id: UUID) -> JsonResponse:
    """Take the picture of a look that arrived before: the body is the picture's file."""
    try:
        check_id = UUID(request.GET.get("check", ""))
    except ValueError:
        return _bad("“check” does not name a look by its id.")
    # Read as a stream: a body of ten megabytes is more than a form may have.
    data = request.read(MOST_BYTES + 1)
    folder = Path(settings.MEDIA_ROOT)
    try:
        taken = take_photo(
            photo_id=photo_id, check_id=check_id, data=data, folder=folder, now=clock.now()
        )
    except LookNotHere as error:
        return JsonResponse({"error": in_words(error.message)}, status=HTTPStatus.NOT_FOUND)
    except NurseryError as error:
        answer = {"error": in_words(error.message)}
        return JsonResponse(answer, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    return JsonResponse({"id": str(photo_id), "status": "created" if taken else "duplicate"})


def _how_many(request: HttpRequest, what: str) -> int:
    text = request.GET.get(what, "")
    return min(int(text), 1_000_000) if text.isascii() and text.isdigit() else 0


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
    tablet = tablet_of(request)
    sender = Sender(device=tablet, person=None if tablet else person_of(request))
    try:
        answers = take_items(body=body, sender=sender, now=now)
    except BadBody as error:
        return _bad(error.message)
    results = [
        {"id": one.id, "status": one.status}
        | ({"message": in_words(one.message)} if one.message else {})
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
