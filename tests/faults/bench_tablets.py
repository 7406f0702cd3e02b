"""How do tablets of a test talk to a real server, and remember what it promised them?

Each is a client of its own on loopback, as the tablet's page is: it sends looks, keeps those that
were not answered, and offers them again.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import socket
import sqlite3
import uuid
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings

from tests.running_nursery import RunningNursery

STORED = {"created", "merged", "duplicate", "review"}
#: plants in each tray; every look takes one of them away, so the book counts looks as well
PLANTS = 100_000

MAKE = """
import json
from batches.services import devices, standing
from django.utils import timezone
from tests.factories import TrayFactory
now = timezone.now()
trays = [TrayFactory.create(counted={plants}, cells_of_84=True) for _ in range({trays})]
standing.refold(trays=trays, recorded_at=now)
made = []
for number in range({tablets}):
    code = devices.make_enrolment_code(tablet_name=f"tablet {{number}}", made_by="", now=now)
    made.append(devices.enrol(code=code.secret, now=now).secret)
print("MADE", json.dumps([made, [tray.code for tray in trays]]))
"""


@dataclass(slots=True)
class BenchTablet:
    """A tablet: its cookie, what waits in it, and what the server says is stored."""

    secret: str
    waiting: list[dict[str, Any]] = field(default_factory=list)
    stored: set[str] = field(default_factory=set)
    journal: list[dict[str, Any]] = field(default_factory=list)
    answers: list[str] = field(default_factory=list)
    photos: dict[str, str] = field(default_factory=dict)
    token: str = ""
    made: int = 0

    def look(self, tray: str) -> dict[str, Any]:
        """Log a look that found one plant dead; it waits until it was sent."""
        self.made += 1
        item = {
            "id": str(uuid.uuid4()),
            "device_seq": self.made,
            "kind": "check",
            "tray": tray,
            "by": "Wilf Asher",
            "occurred_at": datetime.now(UTC).isoformat(),
            "losses": [{"quantity": 1, "cause": "mould"}],
        }
        self.waiting.append(item)
        return item

    def send(self, url: str, *, most: int = 50) -> tuple[int, dict[str, Any]]:
        """Send what waits, and forget what was answered; raise `OSError` where no answer came."""
        items = self.waiting[:most]
        if not self.token:
            self._hello(url)
        body = {"sent_at": datetime.now(UTC).isoformat(), "generation": 1, "items": items}
        sent = json.dumps(body).encode()
        status, answer = self._ask(url, "POST", "/sync/", sent, "application/json")
        if status == 200:
            for one in answer["results"]:
                self.answers.append(one["status"])
                if one["status"] in STORED:
                    self.stored.add(one["id"])
            told = {one["id"] for one in answer["results"]}
            self.journal += [item for item in self.waiting if item["id"] in told]
            self.waiting = [item for item in self.waiting if item["id"] not in told]
        return status, answer

    def send_photo(self, url: str, look: str, picture: bytes) -> tuple[int, dict[str, Any]]:
        """Send a picture of a look that was stored, and remember what was promised of it."""
        photo = str(uuid.uuid4())
        path = f"/sync/photos/{photo}?check={look}"
        status, answer = self._ask(url, "PUT", path, picture, "image/jpeg")
        if status == 200 and answer == {"id": photo, "status": "created"}:
            self.photos[photo] = look
        return status, answer

    def offer_again(self) -> None:
        """Let all that was ever sent wait again, as a tablet does after a restore."""
        self.waiting, self.journal = self.journal + self.waiting, []

    def _hello(self, url: str) -> None:
        with closing(_connection(url)) as connection:
            connection.request("GET", "/sync/hello", headers={"Cookie": self._cookies()})
            answer = connection.getresponse()
            answer.read()
            for header in answer.headers.get_all("Set-Cookie", []):
                name, _, value = header.partition(";")[0].partition("=")
                if name == settings.CSRF_COOKIE_NAME:
                    self.token = value

    def _ask(
        self, url: str, method: str, path: str, body: bytes, kind: str
    ) -> tuple[int, dict[str, Any]]:
        headers = {"Cookie": self._cookies(), "X-CSRFToken": self.token, "Content-Type": kind}
        try:
            with closing(_connection(url)) as connection:
                connection.request(method, path, body, headers)
                answer = connection.getresponse()
                return answer.status, json.loads(answer.read() or b"{}")
        except (http.client.HTTPException, ValueError) as error:
            raise OSError("the answer broke off") from error

    def _cookies(self) -> str:
        device = f"{settings.NURSERY_DEVICE_COOKIE}={self.secret}"
        return f"{device}; {settings.CSRF_COOKIE_NAME}={self.token}"


def _connection(url: str) -> http.client.HTTPConnection:
    parts = urlsplit(url)
    assert parts.hostname == "127.0.0.1"
    made = http.client.HTTPConnection(parts.hostname, parts.port, timeout=30)
    made.connect()
    made.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return made


def make_tablets(
    nursery: RunningNursery, *, tablets: int, trays: int
) -> tuple[list[BenchTablet], list[str]]:
    """Enrol tablets and make counted trays; give the tablets and the trays' codes."""
    script = MAKE.format(plants=PLANTS, tablets=tablets, trays=trays)
    said = nursery.command("shell", "--no-imports", "--command", script).stdout
    (line,) = [one for one in said.splitlines() if one.startswith("MADE ")]
    secrets, codes = json.loads(line.removeprefix("MADE "))
    return [BenchTablet(secret) for secret in secrets], codes


def check_what_is_stored(data: Path, tablets: Iterable[BenchTablet]) -> int:
    """Compare the file on disk with what the tablets were promised; give how many looks it holds.

    Everything promised is there; every look took exactly one plant, so none is there by half
    or twice; SQLite finds its file whole.
    """
    with closing(sqlite3.connect(data / "nursery.sqlite3")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        looks = _ids(database, "SELECT id FROM batches_traycheck")
        aside = _ids(database, "SELECT id FROM batches_tosettle")
        (deaths,) = database.execute(
            "SELECT coalesce(sum(quantity), 0) FROM batches_plantmovement WHERE kind = 'loss'"
        ).fetchone()
        trays, alive = database.execute(
            "SELECT count(*), sum(alive) FROM batches_tray WHERE alive IS NOT NULL"
        ).fetchone()
    promised = {one for tablet in tablets for one in tablet.stored}
    assert promised - looks - aside == set()
    assert deaths == len(looks)
    assert alive == trays * PLANTS - len(looks)
    return len(looks)


def photos_stored(data: Path) -> dict[str, str]:
    """Give the photos on record with the looks they show; each one's file is on the disk whole."""
    with closing(sqlite3.connect(data / "nursery.sqlite3")) as database:
        rows = database.execute(
            "SELECT id, check_row_id, file, sha256 FROM batches_checkphoto"
        ).fetchall()
    for _, _, name, digest in rows:
        assert hashlib.sha256((data / "photos" / name).read_bytes()).hexdigest() == digest
    return {str(uuid.UUID(photo)): str(uuid.UUID(look)) for photo, look, _, _ in rows}


def _ids(database: sqlite3.Connection, query: str) -> set[str]:
    return {str(uuid.UUID(row[0])) for row in database.execute(query)}
