"""Does one server process serve everybody, whatever the others on the network do?"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest

from tests.running_nursery import ROOT, RunningNursery

# How long a page may take while others misbehave. The measured time here is 0.01 s.
PATIENCE_S = 3.0


def get(nursery: RunningNursery, path: str) -> tuple[int, float]:
    """Give the status of a page and the seconds it took."""
    began = time.monotonic()
    with urllib.request.urlopen(nursery.url + path, timeout=30) as answer:
        answer.read()
        return answer.status, time.monotonic() - began


def connect(nursery: RunningNursery) -> socket.socket:
    """Open a connection to the server and say nothing yet."""
    parts = urlsplit(nursery.url)
    assert parts.hostname == "127.0.0.1"
    return socket.create_connection((parts.hostname, parts.port or 0), timeout=30)


@contextlib.contextmanager
def many(nursery: RunningNursery, count: int, begin: bytes) -> Iterator[list[socket.socket]]:
    """Hold `count` connections open that sent `begin` and then nothing more."""
    with contextlib.ExitStack() as stack:
        opened = [stack.enter_context(connect(nursery)) for _ in range(count)]
        for one in opened:
            one.sendall(begin)
        yield opened


HALF_BODY = (
    b"POST /sign-in/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/octet-stream\r\n"
    b"Content-Length: 200000\r\n\r\n" + b"x" * 1000
)
# Twice 4.7 MB, more than the buffers between the two sides hold.
UNREAD = b"GET /static/plotly/plotly.min.js HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 2
HALF_HEAD = b"POST /sign-in/ HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half:"


def test_a_page_comes_at_once_beside_silent_connections_half_heads_and_half_bodies(
    nursery: RunningNursery,
) -> None:
    get(nursery, "/sign-in/")
    with (
        many(nursery, 40, b""),
        many(nursery, 30, HALF_BODY),
        many(nursery, 30, HALF_HEAD),
    ):
        time.sleep(0.3)
        for path in ("/health/", "/sign-in/"):
            status, seconds = get(nursery, path)
            assert status == 200
            assert seconds < PATIENCE_S


def test_a_page_comes_at_once_beside_readers_that_never_read(nursery: RunningNursery) -> None:
    get(nursery, "/sign-in/")
    with many(nursery, 20, UNREAD):
        time.sleep(1)
        status, seconds = get(nursery, "/sign-in/")
        assert status == 200
        assert seconds < PATIENCE_S


def test_a_body_that_breaks_off_never_reaches_a_page(nursery: RunningNursery) -> None:
    with connect(nursery) as one:
        one.sendall(HALF_BODY)
        one.shutdown(socket.SHUT_WR)
        one.settimeout(10)
        heard = b""
        while piece := one.recv(4096):
            heard += piece
    # A page that had been asked would have answered (403, for want of a token).
    assert b" 403" not in heard
    assert b" 200" not in heard
    assert get(nursery, "/health/")[0] == 200


def test_a_body_that_is_too_large_is_refused_in_words(nursery: RunningNursery) -> None:
    request = urllib.request.Request(
        nursery.url + "/sign-in/", data=b"x" * (33 * 1024 * 1024), method="POST"
    )
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(request, timeout=60)
    assert refused.value.code == 413
    assert "nothing of it was stored" in refused.value.read().decode()
    refused.value.close()


def test_unchanged_static_files_are_answered_without_a_body(nursery: RunningNursery) -> None:
    address = nursery.url + "/static/css/frond.css"
    with urllib.request.urlopen(address, timeout=30) as first:
        assert first.status == 200
        stamp = first.headers["Last-Modified"]
    again = urllib.request.Request(address, headers={"If-Modified-Since": stamp})
    with pytest.raises(urllib.error.HTTPError) as unchanged:
        urllib.request.urlopen(again, timeout=30)
    assert unchanged.value.code == 304
    unchanged.value.close()


def test_a_head_request_has_no_body(nursery: RunningNursery) -> None:
    request = urllib.request.Request(nursery.url + "/health/", method="HEAD")
    with urllib.request.urlopen(request, timeout=30) as answer:
        assert answer.status == 200
        assert answer.read() == b""


def test_the_first_start_prints_a_link_that_signs_the_manager_in(nursery: RunningNursery) -> None:
    said = nursery.read_on(seconds=30, awaited="/sign-in/")
    assert "Nobody has signed in yet. One-time link for Manager: " in said
    link = said.split("One-time link for Manager: ")[1].split()[0]
    assert link.startswith(nursery.url + "/sign-in/")
    with urllib.request.urlopen(link, timeout=30) as page:
        assert "Sign in as Manager" in page.read().decode()


def test_a_second_server_on_the_same_data_is_refused_with_the_number_of_the_first(
    nursery: RunningNursery,
) -> None:
    assert nursery.process is not None
    second = nursery.command("serve", "--port", "0", check=False, timeout=60)
    assert second.returncode == 1
    assert f"process {nursery.process.pid}" in second.stderr
    assert "Nothing was changed" in second.stderr


def test_a_taken_port_is_named_in_words(
    nursery: RunningNursery, data_folder: RunningNursery, tmp_path: object
) -> None:
    port = str(urlsplit(nursery.url).port)
    other = RunningNursery(nursery.data.parent / "another")
    refused = other.command("serve", "--port", port, check=False, timeout=60)
    assert refused.returncode == 1
    assert f"127.0.0.1:{port}" in refused.stderr
    assert "--port" in refused.stderr
    assert "Traceback" not in refused.stderr


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_server_stops_when_told_even_while_connections_hang(
    nursery: RunningNursery, number: signal.Signals
) -> None:
    with many(nursery, 5, HALF_BODY), many(nursery, 5, b""), many(nursery, 5, UNREAD):
        time.sleep(0.3)
        assert nursery.process is not None
        nursery.process.send_signal(number)
        assert nursery.process.wait(15) == 0
    assert "Everything that was saved is kept" in nursery.read_on()
    assert "Traceback" not in nursery.said
    assert not (nursery.data / "server.pid").exists()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_server_stops_well_when_told_as_soon_as_it_names_its_address(
    data_folder: RunningNursery, number: signal.Signals
) -> None:
    for _ in range(3):
        data_folder.start()
        process = data_folder.process
        assert process is not None
        process.send_signal(number)
        assert process.wait(15) == 0
        assert "Stopped" in data_folder.read_on()
        data_folder.stop()
        assert not (data_folder.data / "server.pid").exists()
        assert not (data_folder.data / "server.address").exists()


def test_the_server_is_one_process(nursery: RunningNursery) -> None:
    assert nursery.process is not None
    children = subprocess.run(
        ["ps", "--no-headers", "-o", "pid", "--ppid", str(nursery.process.pid)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert children.stdout.strip() == ""


def test_a_new_folder_needs_nothing_but_its_name(tmp_path: object) -> None:
    nursery = RunningNursery(tmp_path / "quite" / "new")  # type: ignore[operator]
    nursery.start()
    try:
        assert get(nursery, "/sign-in/")[0] == 200
    finally:
        nursery.stop()
    key = nursery.data / "secret-key"
    assert key.stat().st_mode & 0o777 == 0o600
    assert nursery.data.stat().st_mode & 0o777 == 0o700
    with contextlib.closing(sqlite3.connect(nursery.data / "nursery.sqlite3")) as database:
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_setting_that_cannot_be_read_is_named(data_folder: RunningNursery) -> None:
    data_folder.environment["NURSERY_PORT"] = "eight thousand"
    refused = data_folder.command("serve", check=False, timeout=60)
    assert refused.returncode == 1
    words = "NURSERY_PORT is 'eight thousand'. Set it to a whole number."
    assert refused.stderr.strip() == words


def test_a_data_folder_that_cannot_be_made_is_named(data_folder: RunningNursery) -> None:
    place = data_folder.data / "a file"
    place.write_text("in the way")
    data_folder.environment["NURSERY_DATA"] = str(place / "nursery")
    refused = data_folder.command("overdue", "--json", check=False, timeout=60)
    assert (refused.returncode, refused.stdout) == (1, "")
    assert refused.stderr.startswith(f"The data folder {place / 'nursery'} cannot be made")
    assert "Traceback" not in refused.stderr


def test_the_command_works_from_any_folder(data_folder: RunningNursery, tmp_path: object) -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "signin_link", "Ada", "--role", "hand"],
        cwd=os.fspath(tmp_path),  # type: ignore[call-overload]
        env=data_folder.environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
