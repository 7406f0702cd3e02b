"""How are pages served to a whole nursery by one process and eight threads?

The server reads a request to its end before a thread takes it, and a thread hands its whole
answer back before it is sent. So neither a silent connection, nor an upload that stops half way,
nor a tablet that reads slowly keeps a thread: eight of them are enough for every bench.
"""

from __future__ import annotations

import asyncio
import io
import logging
import signal
import sys
from collections.abc import Awaitable, Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, cast

from hypercorn.asyncio.run import worker_serve
from hypercorn.config import Sockets

from batches.services.server_config import GRACE_S, ServerConfig

THREADS = 8
# How often the certificate is looked at while pages are served.
LOOK_EVERY_S = 3600.0

Headers = list[tuple[bytes, bytes]]

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a page came to: a status, headers as bytes, and the body."""

    status: int
    headers: Headers
    body: bytes


def plain_answer(status: int, words: str) -> Answer:
    """Give an answer that the server makes itself, in words."""
    body = f"{words}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
    ]
    return Answer(status=status, headers=headers, body=body)


def wsgi_environ(scope: dict[str, Any], body: bytes) -> dict[str, Any]:
    """Give the request in the form that WSGI applications read (PEP 3333)."""
    host, port = scope.get("server") or ("localhost", 80)
    environ: dict[str, Any] = {
        "REQUEST_METHOD": scope["method"],
        "SCRIPT_NAME": "",
        "PATH_INFO": scope["path"].encode("utf-8").decode("latin-1"),
        "QUERY_STRING": scope["query_string"].decode("latin-1"),
        "SERVER_NAME": host,
        "SERVER_PORT": str(port),
        "SERVER_PROTOCOL": f"HTTP/{scope['http_version']}",
        "REMOTE_ADDR": (scope.get("client") or ("",))[0],
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.get("scheme", "http"),
        "wsgi.input": io.BytesIO(body),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
    }
    for raw_name, raw_value in scope["headers"]:
        name, value = raw_name.decode("latin-1").lower(), raw_value.decode("latin-1")
        if "_" in name:
            continue  # in WSGI it could not be told from the same name with a hyphen
        key = name.upper().replace("-", "_")
        if key not in {"CONTENT_LENGTH", "CONTENT_TYPE"}:
            key = f"HTTP_{key}"
        # HTTP/2 may send a cookie in several headers (RFC 9113, 8.2.3).
        joint = "; " if name == "cookie" else ","
        environ[key] = f"{environ[key]}{joint}{value}" if key in environ else value
    if body and "CONTENT_LENGTH" not in environ:
        environ["CONTENT_LENGTH"] = str(len(body))
    return environ


def call_wsgi(application: Callable[..., Iterable[bytes]], environ: dict[str, Any]) -> Answer:
    """Run a WSGI application to the end of its answer."""
    started: list[tuple[int, Headers]] = []

    def start_response(
        status: str,
        headers: list[tuple[str, str]],
        exc_info: Any = None,  # noqa: ARG001 - PEP 3333
    ) -> Callable[[bytes], object]:
        as_bytes = [
            (name.lower().encode("latin-1"), text.encode("latin-1")) for name, text in headers
        ]
        started.append((int(status.split(" ", 1)[0]), as_bytes))
        return body.append

    body: list[bytes] = []
    pieces = application(environ, start_response)
    try:
        body.extend(piece for piece in pieces if piece)
    finally:
        close = getattr(pieces, "close", None)
        if close is not None:
            close()
    status, headers = started[-1]
    return Answer(status=status, headers=headers, body=b"".join(body))


class WholeRequests:
    """Hands whole requests from the server to a WSGI application, and whole answers back."""

    def __init__(self, application: Callable[..., Iterable[bytes]], *, max_body: int) -> None:
        self.application = application
        self.max_body = max_body

    async def __call__(
        self,
        scope: dict[str, Any],
        receive: Callable[[], Awaitable[dict[str, Any]]],
        send: Callable[[dict[str, Any]], Awaitable[None]],
        sync_spawn: Callable[..., Awaitable[Any]],
        call_soon: Callable[..., Any],  # noqa: ARG002 - part of the server's signature
    ) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close"})
        if scope["type"] != "http":
            return
        body = await self._whole_body(receive)
        if body is None:
            return  # whoever asked went away; half a request is no request
        if len(body) > self.max_body:
            answer = plain_answer(
                413,
                f"This is larger than {self.max_body // 1024**2} MB, and nothing of it was stored. "
                "Send it in smaller parts.",
            )
        else:
            environ = wsgi_environ(scope, bytes(body))
            answer = await sync_spawn(call_wsgi, self.application, environ)
        await send(
            {"type": "http.response.start", "status": answer.status, "headers": answer.headers}
        )
        await send({"type": "http.response.body", "body": answer.body, "more_body": False})

    async def _whole_body(
        self, receive: Callable[[], Awaitable[dict[str, Any]]]
    ) -> bytearray | None:
        """Give the body, or one byte more than is allowed of it; None where it broke off."""
        body = bytearray()
        read = 0
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                return None
            read += len(message["body"])
            if len(body) <= self.max_body:
                body += message["body"]
                del body[self.max_body + 1 :]
            # What is too large is read on for a while, unkept: a sender reads no answer before
            # its end.
            if not message.get("more_body") or read > 4 * self.max_body:
                return body


class ToldToStop(BaseException):
    """The process was told to stop before it served: no fault, so no `Exception` either."""


def _told_to_stop() -> list[signal.Signals]:
    """Give the signals that mean: stop."""
    names = ("SIGINT", "SIGTERM", "SIGBREAK")
    return [signal.Signals[name] for name in names if hasattr(signal, name)]


def stop_when_told() -> list[int]:
    """Raise `ToldToStop` when the process is told to stop, until it serves.

    The signals that came are kept in the list that is given back: Python drops what is raised
    while it tidies up an object, and the server must not begin then.
    """
    came: list[int] = []

    def stop(number: int, _: object) -> None:
        came.append(number)
        raise ToldToStop

    for number in _told_to_stop():
        signal.signal(number, stop)
    return came


def serve_until_told(
    application: Callable[..., Iterable[bytes]],
    config: ServerConfig,
    sockets: Sockets,
    *,
    came: Sequence[int] = (),
    renewed: Callable[[], bool] | None = None,
    look_every: float = LOOK_EVERY_S,
) -> None:
    """Serve until the process is told to stop (SIGTERM, SIGINT, or Ctrl-Break on Windows).

    ``came`` holds the signals that came before (`stop_when_told`): after one, it ends at once.
    ``renewed`` is asked every ``look_every`` seconds; where it says yes, the certificate's file is
    read again, and connections that are open go on undisturbed.

    Pages that are being made when it is told are made to their end, and what they store is stored;
    connections that do not come to an end are left after `GRACE_S` and a little more.
    """
    loop = asyncio.new_event_loop()
    pages = ThreadPoolExecutor(THREADS, thread_name_prefix="page")
    loop.set_default_executor(pages)
    try:
        if renewed is not None:
            looking = loop.create_task(_look_after_certificate(config, renewed, look_every))
            looking.add_done_callback(lambda task: task.cancelled() or task.exception())
        loop.run_until_complete(_serve(application, config, sockets, came))
    finally:
        pages.shutdown(wait=True)
        # A reader that never reads would hold the loop up for good: its tasks are not waited for.
        for task in asyncio.all_tasks(loop):
            task.cancel()
        loop.run_until_complete(asyncio.sleep(0))


async def _look_after_certificate(
    config: ServerConfig, renewed: Callable[[], bool], every: float
) -> None:
    loop = asyncio.get_running_loop()
    while True:
        await asyncio.sleep(every)
        try:
            if await loop.run_in_executor(None, renewed):
                config.load_certificate_again()
        except Exception:
            # A disk that is full: the certificate that is served holds for sixty days yet.
            _log.exception("The certificate could not be looked after now; tried again later.")


async def _serve(
    application: Callable[..., Iterable[bytes]],
    config: ServerConfig,
    sockets: Sockets,
    came: Sequence[int],
) -> None:
    loop = asyncio.get_running_loop()
    told = asyncio.Event()
    for number in _told_to_stop():
        try:
            loop.add_signal_handler(number, told.set)
        except NotImplementedError:  # Windows
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(told.set))
    if came:
        told.set()
    # The server's own types name every message of its protocol; ours are plain dictionaries.
    app = cast("Any", WholeRequests(application, max_body=config.wsgi_max_body_size))
    serving = asyncio.ensure_future(
        worker_serve(app, config, sockets=sockets, shutdown_trigger=told.wait)
    )
    telling = asyncio.ensure_future(told.wait())
    await asyncio.wait({serving, telling}, return_when=asyncio.FIRST_COMPLETED)
    telling.cancel()
    # Connections that are left from here on end as cancelled tasks; asyncio would print a trace.
    loop.set_exception_handler(lambda *_: None)
    done, _ = await asyncio.wait({serving}, timeout=GRACE_S + 2)
    for task in done:
        task.result()
