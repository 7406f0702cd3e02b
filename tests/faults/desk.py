"""How does a person at a desk sign in on a real server and send forms?"""

from __future__ import annotations

import urllib.error
import urllib.request
from http.cookiejar import CookieJar
from typing import Any
from urllib.parse import urlencode, urlsplit

from django.conf import settings

from tests.running_nursery import RunningNursery


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: Any, **__: Any) -> None:
        return None


class Desk:
    """A browser without scripts, on loopback."""

    def __init__(self, nursery: RunningNursery) -> None:
        self.nursery = nursery
        self.cookies = CookieJar()
        self.opener = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(self.cookies), _NoRedirect
        )

    def sign_in(self, role: str) -> None:
        """Sign in by a one-time link."""
        path = urlsplit(self.nursery.link_for(role)).path
        self.get(path)
        assert self.post(path) == 302

    def get(self, path: str) -> tuple[int, bytes]:
        """Give a page's status and body."""
        return self._open(urllib.request.Request(self.nursery.url + path))

    def post(self, path: str, **fields: str) -> int:
        """Send a form and give the status of the answer."""
        return self.post_and_read(path, **fields)[0]

    def post_and_read(self, path: str, **fields: str) -> tuple[int, bytes]:
        """Send a form and give the status and the body of the answer."""
        found = [one for one in self.cookies if one.name == settings.CSRF_COOKIE_NAME]
        sent = {**fields, "csrfmiddlewaretoken": found[0].value or "" if found else ""}
        data = urlencode(sent).encode()
        return self._open(urllib.request.Request(self.nursery.url + path, data=data))

    def _open(self, request: urllib.request.Request) -> tuple[int, bytes]:
        try:
            with self.opener.open(request, timeout=60) as answer:
                return answer.status, answer.read()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read()
