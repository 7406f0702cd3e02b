"""Who may open which page?

Every view says so by one of the marks below; a view that says nothing is for managers alone. The
check itself is made in one place, the middleware at the end of this module.

    @for_anyone     no sign-in: health, sign-in, one-time links
    @for_tablets    an enrolled tablet, or anybody who is signed in
    @for_hands      hands, office and managers
    @for_office     office and managers
    @for_managers   managers
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from http import HTTPStatus
from typing import Any, TypeVar
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django_htmx.http import HttpResponseClientRedirect

from batches.models import Device, Person
from batches.services import devices
from batches.services.change_notes import note_change
from batches.views import clock

View = TypeVar("View", bound=Callable[..., HttpResponseBase])


class Access(IntEnum):
    """How much somebody may do here; who may do more may do everything below it, too."""

    ANYONE = 0
    TABLET = 1
    HAND = 2
    OFFICE = 3
    MANAGER = 4


ROLE_ACCESS = {"hand": Access.HAND, "office": Access.OFFICE, "manager": Access.MANAGER}


def _mark(view: View, needed: Access) -> View:
    view.needed_access = needed  # type: ignore[attr-defined]
    return view


def for_anyone(view: View) -> View:
    """Open a view to everybody who can reach the server."""
    return _mark(view, Access.ANYONE)


def for_tablets(view: View) -> View:
    """Open a view to enrolled tablets, and to everybody who is signed in."""
    return _mark(view, Access.TABLET)


def for_hands(view: View) -> View:
    """Open a view to everybody who is signed in."""
    return _mark(view, Access.HAND)


def for_office(view: View) -> View:
    """Open a view to office staff and managers."""
    return _mark(view, Access.OFFICE)


def for_managers(view: View) -> View:
    """Open a view to managers."""
    return _mark(view, Access.MANAGER)


def answers_json(view: View) -> View:
    """Mark a view whose refusals are JSON (401, 403) and never a page or a redirect."""
    view.answers_json = True  # type: ignore[attr-defined]
    return view


def access_needed(view: Callable[..., Any]) -> Access:
    """Say what a view asks for; a view that says nothing is for managers."""
    needed: Access = getattr(view, "needed_access", Access.MANAGER)
    return needed


def access_of(request: HttpRequest) -> Access:
    """Say what the person, or else the tablet, behind a request may do."""
    if request.user.is_authenticated:
        return ROLE_ACCESS[request.user.role]
    return Access.TABLET if tablet_of(request) is not None else Access.ANYONE


def person_of(request: HttpRequest) -> Person | None:
    """Give the signed-in person behind a request; None for a tablet or a stranger."""
    return request.user if isinstance(request.user, Person) else None


def tablet_of(request: HttpRequest) -> Device | None:
    """Give the enrolled tablet that sent a request; None where none did (asked once a request)."""
    if not hasattr(request, "_tablet"):
        secret = request.COOKIES.get(settings.NURSERY_DEVICE_COOKIE, "")
        request._tablet = devices.tablet_of(secret=secret, now=clock.now())  # type: ignore[attr-defined]
    found: Device | None = request._tablet  # type: ignore[attr-defined]
    return found


class DefaultDeny:
    """Lets a request through to its view only where the view's mark allows it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view: Callable[..., Any],
        args: tuple[Any, ...],
        kwargs: dict[str, Any],
    ) -> HttpResponseBase | None:
        """Answer in the view's place where it may not be opened; None lets it answer."""
        needed = access_needed(view)
        if needed == Access.ANYONE:
            return None
        has = access_of(request)
        if has >= needed:
            return None
        if not request.user.is_authenticated:
            return _ask_to_sign_in(request, json=getattr(view, "answers_json", False))
        return _refuse(request, json=getattr(view, "answers_json", False))


def _ask_to_sign_in(request: HttpRequest, *, json: bool) -> HttpResponseBase:
    if json:
        return _refuse_tablet(request)
    address = resolve_url(settings.LOGIN_URL)
    if request.method == "GET" and not request.headers.get("HX-Request"):
        address = f"{address}?{urlencode({'next': request.get_full_path()})}"
    if request.headers.get("HX-Request"):
        # A plain redirect would be followed inside the partial and leave the sign-in form there.
        return HttpResponseClientRedirect(address)
    return redirect(address)


def _refuse_tablet(request: HttpRequest) -> JsonResponse:
    """Say to a tablet that it is unknown here, or that it was revoked; it keeps what it holds."""
    secret = request.COOKIES.get(settings.NURSERY_DEVICE_COOKIE, "")
    if devices.was_revoked(secret=secret):
        error = (
            "This tablet was revoked by a manager. Nothing was stored; what waits on it is kept "
            "and is sent once it is enrolled again."
        )
        answer: dict[str, object] = {"error": error, "revoked": True}
    else:
        error = "Nobody is signed in here, and this is not an enrolled tablet. Nothing was stored."
        answer = {"error": error}
    return JsonResponse(answer, status=HTTPStatus.UNAUTHORIZED)


def _refuse(request: HttpRequest, *, json: bool) -> HttpResponseBase:
    note_change(
        what="page refused",
        now=clock.now(),
        by=request.user.get_username(),
        device=str(request.META.get("REMOTE_ADDR", "")),
        about=f"{request.method} {request.path}",
    )
    if json:
        text = "Your role does not include this. Ask a manager. Nothing was stored."
        return JsonResponse({"error": text}, status=HTTPStatus.FORBIDDEN)
    return render(request, "batches/errors/not_allowed.html", status=HTTPStatus.FORBIDDEN)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Answer a form whose token is stale: somebody signed in or out while it was open.

    A script hears first whether it is known here at all, and both as JSON.
    """
    match = request.resolver_match
    if match is None or not getattr(match.func, "answers_json", False):
        return render(request, "batches/errors/stale_form.html", status=HTTPStatus.FORBIDDEN)
    if access_of(request) < access_needed(match.func):
        return _refuse_tablet(request)
    error = (
        "The token against forged requests is missing or old. Nothing was stored: fetch "
        "/sync/hello and send the cookie's token as X-CSRFToken."
    )
    return JsonResponse({"error": error, "stale_token": True}, status=HTTPStatus.FORBIDDEN)
