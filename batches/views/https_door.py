"""What does plain http still answer while the nursery's network is served over https?

The page where a tablet is set up, what that page needs, and whether the server is awake. Whoever
reads anything else is led to the same page over https; what was sent is refused, unread.
"""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.http.request import split_domain_port
from django.urls import reverse

from batches.services.network_https import HttpsAt

OPEN = ("/setup/", "/health/", "/static/")


def https_at() -> HttpsAt | None:
    """Say where this server answers over https; None where it speaks plain http alone."""
    found: HttpsAt | None = settings.NURSERY_HTTPS_AT
    return found


def same_over_https(request: HttpRequest, at: HttpsAt) -> str:
    """Return the address over https that belongs to the host by which a request came."""
    host, _ = split_domain_port(request.get_host())
    return at.address_for(host)


def setup_address(request: HttpRequest) -> str:
    """Say where a device that does not trust this computer yet is set up; empty without https."""
    at = https_at()
    if at is None:
        return ""
    host, _ = split_domain_port(request.get_host())
    alone = host in {"127.0.0.1", "localhost", "[::1]"}
    return at.plain_address_for(at.hosts[0] if alone else host) + reverse("batches:setup")


class HttpsDoor:
    """Leads whoever comes by plain http to https, where that is served."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        at = https_at()
        if at is None or request.is_secure() or request.path.startswith(OPEN):
            return self.get_response(request)
        there = same_over_https(request, at) + request.get_full_path()
        if request.method in {"GET", "HEAD"}:
            # Not for good: a browser that kept it could never be served by plain http again.
            return HttpResponseRedirect(there)
        return HttpResponse(
            f"This nursery is served over https now: {there}\nNothing was stored.\n",
            content_type="text/plain; charset=utf-8",
            status=HTTPStatus.FORBIDDEN,
        )
