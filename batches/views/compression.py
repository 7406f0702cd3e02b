"""How small does a page travel?

Django packs every answer at the usual level. A page of thousands of alike places, like the bench
map, gets an eighth smaller at the highest, for a few milliseconds more.
"""

from __future__ import annotations

import gzip
import io
import secrets

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.utils.cache import patch_vary_headers

#: bytes from which the highest level pays
LARGE = 100_000


class Compression(GZipMiddleware):
    """Django's own, but for large pages."""

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """Pack a large answer at the highest level, all others as Django does."""
        if (
            not isinstance(response, HttpResponse)
            or len(response.content) < LARGE
            or response.has_header("Content-Encoding")
            or "gzip" not in request.META.get("HTTP_ACCEPT_ENCODING", "")
        ):
            return super().process_response(request, response)
        patch_vary_headers(response, ("Accept-Encoding",))
        packed = io.BytesIO()
        # A name of random length hides the true length, as Django does it (BREACH).
        name = secrets.token_hex(1 + secrets.randbelow(self.max_random_bytes // 2))
        with gzip.GzipFile(name, "wb", 9, packed, mtime=0) as file:
            file.write(response.content)
        response.content = packed.getvalue()
        response.headers["Content-Length"] = str(len(response.content))
        response.headers["Content-Encoding"] = "gzip"
        return response
