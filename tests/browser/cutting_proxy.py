"""How does a test cut the line between a tablet and the nursery at the worst moment?

A small proxy on loopback passes everything on until it is told otherwise, then plays one trick on
each message that a tablet sends to /sync/.
"""

from __future__ import annotations

import http.client
import json
import threading
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import urlsplit

from tests.browser.secure import NAME
from tests.running_nursery import RunningNursery

Trick = Callable[["Passing", bytes], bool]


class CuttingProxy:
    """A proxy before a nursery; ``trick`` is what happens to what is sent to /sync/."""

    def __init__(self, nursery: RunningNursery) -> None:
        self.nursery = nursery
        self.trick: Trick | None = None
        self.tricks_played = 0
        #: how many items each message held
        self.lots: list[int] = []
        proxy = self

        class Handler(Passing):
            line = proxy

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.address = f"http://{NAME}:{self.server.server_address[1]}"
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()

    def port(self) -> int:
        """Give the port of the nursery as it is served now."""
        return urlsplit(self.nursery.url).port or 0

    def close(self) -> None:
        """End the proxy."""
        self.server.shutdown()
        self.server.server_close()
        self.thread.join(10)


class Passing(BaseHTTPRequestHandler):
    """Passes one message on."""

    line: CuttingProxy
    timeout = 30

    def do_GET(self) -> None:
        """Pass on what the tablet asks."""
        self._answer()

    def do_POST(self) -> None:
        """Pass on what the tablet sends."""
        self._answer()

    def do_PUT(self) -> None:
        """Pass on a picture."""
        self._answer()

    def log_message(self, *words: Any) -> None:
        """Say nothing."""

    def _answer(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        self.close_connection = True
        if self.command == "POST" and self.path == "/sync/":
            self.line.lots.append(len(json.loads(body)["items"]))
            if self.line.trick is not None:
                self.line.tricks_played += 1
                if self.line.trick(self, body):
                    return
        try:
            status, headers, content = self.passed_on(body)
        except OSError:
            return
        self.send(status, headers, content)

    def passed_on(self, body: bytes) -> tuple[int, list[tuple[str, str]], bytes]:
        """Ask the nursery and give its whole answer."""
        line = http.client.HTTPConnection("127.0.0.1", self.line.port(), timeout=30)
        line.putrequest(self.command, self.path, skip_host=True, skip_accept_encoding=True)
        for name, value in self.headers.items():
            line.putheader(name, value)
        line.endheaders(body)
        answer = line.getresponse()
        content = answer.read()
        line.close()
        return answer.status, answer.getheaders(), content

    def send(self, status: int, headers: list[tuple[str, str]], content: bytes) -> None:
        """Send an answer to the tablet."""
        self.send_response_only(status)
        for name, value in headers:
            if name.lower() not in {"content-length", "connection", "transfer-encoding"}:
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(content)


def cut_answer(passing: Passing, body: bytes) -> bool:
    """Let the nursery store everything, and cut the line before its answer."""
    passing.passed_on(body)
    return True


def kill_in_the_middle(passing: Passing, body: bytes) -> bool:
    """End the nursery's server without warning when half of the message has come."""
    line = http.client.HTTPConnection("127.0.0.1", passing.line.port(), timeout=30)
    line.putrequest("POST", "/sync/", skip_host=True, skip_accept_encoding=True)
    for name, value in passing.headers.items():
        line.putheader(name, value)
    line.endheaders()
    line.send(body[: len(body) // 2])
    passing.line.nursery.kill()
    line.close()
    return True


def kill_after_storing(passing: Passing, body: bytes) -> bool:
    """End the nursery's server when it has answered, before the answer reaches the tablet."""
    passing.passed_on(body)
    passing.line.nursery.kill()
    return True


def portal(passing: Passing, body: bytes) -> bool:
    """Answer as the sign-in page of a guest Wi-Fi does: with a page, and “all is well”."""
    passing.send(200, [("Content-Type", "text/html")], b"<h1>Welcome to the guest Wi-Fi</h1>")
    return True


def at_most(items: int) -> Trick:
    """Refuse messages of more items than this as too large."""

    def refuse(passing: Passing, body: bytes) -> bool:
        if len(json.loads(body)["items"]) <= items:
            return False
        answer = json.dumps({"error": "This is too large to take at once."}).encode()
        passing.send(413, [("Content-Type", "application/json")], answer)
        return True

    return refuse


def fault_at(*trays: str) -> Trick:
    """Answer as a program does that meets a fault: at a message with one of these, or at any."""

    def fail(passing: Passing, body: bytes) -> bool:
        sent = {item["tray"] for item in json.loads(body)["items"]}
        if trays and not sent & set(trays):
            return False
        passing.send(500, [("Content-Type", "text/html")], b"<h1>Something went wrong</h1>")
        return True

    return fail
