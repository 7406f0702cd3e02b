"""Can a print pull in anything that lies on the disk or on the network?"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from batches.labels import html_to_pdf
from tests.labels.paper import PRINTER, run, unpacked, words

pytestmark = PRINTER

SECRET = "the nursery's secret key 7f3a"

PIXEL = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9"
    "awAAAABJRU5ErkJggg=="
)


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    folder = tmp_path / "disk"
    folder.mkdir()
    file = folder / "secret.txt"
    file.write_text(SECRET)
    return file


@pytest.fixture
def listener() -> Iterator[tuple[str, list[str]]]:
    """Listen on loopback and note who calls."""
    server = socket.create_server(("127.0.0.1", 0))
    server.settimeout(0.1)
    calls: list[str] = []
    ended = threading.Event()

    def accept() -> None:
        while not ended.is_set():
            try:
                connection, _ = server.accept()
            except TimeoutError:
                continue
            calls.append(connection.recv(200).decode(errors="replace"))
            connection.close()

    thread = threading.Thread(target=accept)
    thread.start()
    yield f"http://127.0.0.1:{server.getsockname()[1]}", calls
    ended.set()
    thread.join()
    server.close()


def hostile(file: Path, url: str) -> str:
    address = file.as_uri()
    return f"""<!doctype html><html><head>
    <link rel=attachment href="{address}"><link rel=stylesheet href="{url}/a.css">
    <link rel=attachment href="{url}/b.txt">
    <style>@import url({address}); @import url({url}/c.css);
    @font-face{{font-family:X;src:url({url}/d.ttf)}} body{{font-family:X;background:url({url}/e)}}
    @page{{background:url({address})}}</style></head>
    <body>harmless words<img src="{address}"><img src="{url}/f.png">
    <object data="{address}"></object><iframe src="{address}"></iframe><embed src="{url}/g">
    <svg><image href="{address}"/>
    <use href="{url}/h#x"/></svg><a rel=attachment href="{address}">file</a></body></html>"""


def test_a_page_pulls_nothing_in(
    tmp_path: Path, secret: Path, listener: tuple[str, list[str]]
) -> None:
    url, calls = listener
    file = tmp_path / "page.pdf"
    file.write_bytes(html_to_pdf(hostile(secret, url)))
    assert "harmless words" in words(file)
    assert SECRET.encode() not in unpacked(file.read_bytes())
    assert "0 embedded files" in run("pdfdetach", "-list", file)
    assert len(run("pdfimages", "-list", file).splitlines()) == 2
    assert calls == []


def test_the_library_s_own_way_would_have_let_the_file_in(tmp_path: Path, secret: Path) -> None:
    # The check above must be able to fail: WeasyPrint with its default fetcher embeds the file.
    from weasyprint import HTML

    page = f"<link rel=attachment href='{secret.as_uri()}'>words"
    file = tmp_path / "open.pdf"
    HTML(string=page).write_pdf(file)
    assert "1 embedded files" in run("pdfdetach", "-list", file)
    assert SECRET.encode() in unpacked(file.read_bytes())


def test_pictures_inside_the_page_are_printed(tmp_path: Path) -> None:
    file = tmp_path / "page.pdf"
    file.write_bytes(html_to_pdf(f"<img src='{PIXEL}'>"))
    assert len(run("pdfimages", "-list", file).splitlines()) > 2


def test_the_label_font_is_used_and_only_the_letters_of_it_that_are_needed(tmp_path: Path) -> None:
    file = tmp_path / "page.pdf"
    file.write_bytes(html_to_pdf("<p>upright <i>slanted</i> <b>heavy</b>"))
    told = [line.split() for line in run("pdffonts", file).splitlines()[2:]]
    assert len(told) == 3
    assert all("Atkinson-Hyperlegible" in one[0] for one in told)
    assert all("yes yes yes" in " ".join(one) for one in told)


def test_pages_break_as_the_page_asks(tmp_path: Path) -> None:
    file = tmp_path / "page.pdf"
    file.write_bytes(html_to_pdf("<style>p{break-after:page}</style><p>one<p>two<p>three"))
    assert run("pdftotext", "-f", "2", "-l", "2", file, "-").strip() == "two"
