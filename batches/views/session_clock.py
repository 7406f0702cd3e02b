"""Is this session still good, and was its password typed lately?

The moments stand in the session itself; `batches.services.session_limits` judges them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any, TypeVar
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse

from batches.services import session_limits
from batches.views import clock
from batches.views.access import person_of

View = TypeVar("View", bound=Callable[..., HttpResponseBase])
BEGAN, SEEN, PROVED = "began", "seen", "proved"


def proved_now(request: HttpRequest) -> None:
    """Note that a password was typed, or a one-time link used, just now."""
    request.session[PROVED] = clock.now().isoformat()


class SessionClock:
    """Signs out whom nobody has seen for two hours, or who has been signed in for twelve."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.user.is_authenticated:
            now = clock.now()
            began = _moment(request, BEGAN) or now
            seen = _moment(request, SEEN) or now
            if session_limits.is_over(began=began, seen=seen, now=now):
                logout(request)
                messages.warning(request, "You were signed out: it was a long time. Sign in again.")
            elif BEGAN not in request.session or now - seen >= session_limits.SEEN_EVERY:
                request.session[BEGAN] = began.isoformat()
                request.session[SEEN] = now.isoformat()
        return self.get_response(request)


def asks_again(view: View) -> View:
    """Ask for the password once more where it was not typed within half an hour.

    Who has no password came by a one-time link, and is asked nothing: docs/security.md says why.
    """

    @wraps(view)
    def asking(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        person = person_of(request)
        if person is None or not person.has_usable_password():
            return view(request, *args, **kwargs)
        if session_limits.is_fresh(proved=_moment(request, PROVED), now=clock.now()):
            return view(request, *args, **kwargs)
        if request.method != "GET":
            messages.warning(
                request, "Nothing was stored yet. Type your password, then do it again."
            )
        back = request.get_full_path() if request.method == "GET" else reverse("batches:today")
        return redirect(f"{reverse('batches:prove')}?{urlencode({'next': back})}")

    return asking  # type: ignore[return-value]


def _moment(request: HttpRequest, name: str) -> datetime | None:
    try:
        return datetime.fromisoformat(request.session[name])
    except (KeyError, TypeError, ValueError):
        return None
