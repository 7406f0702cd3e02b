"""Does a page arrive whole, and a large one smaller than Django would pack it?"""

from __future__ import annotations

import gzip
from typing import Any

import pytest
from django.http import FileResponse, HttpRequest, HttpResponse
from django.middleware.gzip import GZipMiddleware

from batches.views.compression import LARGE, Compression

CELL = '<td><a class="cell" href="/trays/26W48-{n:04d}-01-B/">{n} days</a></td>'


def packed(middleware, text: str, accepts: str = "gzip, br") -> Any:
    request = HttpRequest()
    request.META["HTTP_ACCEPT_ENCODING"] = accepts
    return middleware(lambda _request: HttpResponse(text))(request)


@pytest.mark.parametrize("cells", [50, 3_000])
def test_what_is_unpacked_is_what_was_sent(cells):
    text = "".join(CELL.format(n=n) for n in range(cells))
    answer = packed(Compression, text)
    assert answer["Content-Encoding"] == "gzip"
    assert answer["Content-Length"] == str(len(answer.content))
    assert "Accept-Encoding" in answer["Vary"]
    assert gzip.decompress(answer.content).decode() == text


def test_a_large_page_gets_smaller_and_its_length_varies():
    text = "".join(CELL.format(n=n * 7919 % 9_973) for n in range(3_000))
    assert len(text) > LARGE
    ours = {len(packed(Compression, text).content) for _ in range(40)}
    assert max(ours) < min(len(packed(GZipMiddleware, text).content) for _ in range(5))
    assert len(ours) > 5


def test_who_cannot_unpack_gets_it_plain():
    text = "x" * 2 * LARGE
    answer = packed(Compression, text, accepts="br")
    assert not answer.has_header("Content-Encoding")
    assert answer.content.decode() == text


def test_files_are_streamed_as_before(tmp_path):
    file = tmp_path / "copy.zip"
    file.write_bytes(b"z" * 2 * LARGE)
    request = HttpRequest()
    request.META["HTTP_ACCEPT_ENCODING"] = "gzip"
    with file.open("rb") as stream:
        answer: Any = Compression(lambda _request: FileResponse(stream))(request)
        assert gzip.decompress(b"".join(answer.streaming_content)) == b"z" * 2 * LARGE
