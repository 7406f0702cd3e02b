"""Does the restore card alone lead from a computer that is gone to a running nursery?

Yesterday's copy lies on the stick; database, photos, key and certificate are gone with the
computer. What the tablets sent since then is in their journals, and they offer it again.
"""

from __future__ import annotations

import re
import shlex
import shutil
import socket
import ssl
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.http import HttpResponse
from django.template.loader import render_to_string
from django.test import Client

from batches.services.local_authority import folder_of, read_authority
from batches.views import backups
from tests.faults.bench_tablets import BenchTablet, check_what_is_stored, make_tablets
from tests.faults.conftest import Turns
from tests.faults.desk import Desk
from tests.running_nursery import PreparedNursery, RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

TABLETS, TRAYS = 3, 6
#: how many looks the copy holds, and how many came after it; the second and third by --long
CUTS = ((40, 40), (1, 90), (90, 1))


@pytest.fixture
def card(manager: Client, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Gives the card of a nursery whose data folder is named, as it stands before it is printed."""

    def as_text(_: Any, template: str, context: dict[str, Any], **__: Any) -> HttpResponse:
        return HttpResponse(render_to_string(template, context | {"printed_by": "Greta Lunn"}))

    monkeypatch.setattr(backups, "pdf_file", as_text)

    def text(data: Path, *, https: bool = False) -> str:
        settings.NURSERY_DATA = data
        return manager.get("/backups/card/", secure=https).content.decode()

    return text


def typed_lines(card: str) -> list[str]:
    """Give the lines that a card says are to be typed."""
    found = re.findall(r"<code>(.*?)</code>", card)
    return [unescape(re.sub("</?i>", "", line)) for line in found]


def log_looks(
    nursery: RunningNursery, tablets: list[BenchTablet], trays: list[str], looks: int
) -> None:
    """Let the tablets go round the trays and send each look."""
    for number in range(looks):
        tablet = tablets[number % TABLETS]
        tablet.look(trays[number % TRAYS])
        tablet.send(nursery.url)


def test_the_card_and_the_tablets_bring_everything_back(
    prepared_nursery: PreparedNursery, tmp_path: Path, card: Any, turns: Turns
) -> None:
    for turn in turns(1, len(CUTS)):
        folder = tmp_path / f"cut-{turn}"
        gone = RunningNursery(prepared_nursery.copy_to(folder / "data"))
        try:
            bring_back(gone, folder / "stick" / "frondbook", card, *CUTS[turn])
        finally:
            gone.kill()


def bring_back(gone: RunningNursery, stick: Path, card: Any, copied: int, since: int) -> None:
    """Lose a computer some looks after its copy, follow its card, and compare with what was."""
    tablets, trays = make_tablets(gone, tablets=TABLETS, trays=TRAYS)
    (gone.data / "photos").mkdir(exist_ok=True)
    (gone.data / "photos" / "one.jpg").write_bytes(b"a photo")
    gone.start()
    log_looks(gone, tablets, trays, copied)
    gone.command("backup", str(stick))
    log_looks(gone, tablets, trays, since)
    made = check_what_is_stored(gone.data, tablets)
    assert made == copied + since
    typed = typed_lines(card(gone.data))
    gone.kill()
    shutil.rmtree(gone.data)

    apt, install, *steps = typed
    assert "libpango" in apt
    assert install == "make install"
    newest = max(stick.glob("*.zip"))
    new = RunningNursery(gone.data)
    link, served = "", False
    for step in steps:
        folder, python, manage, *words = shlex.split(step.replace("FILE", str(newest)))
        assert (folder, python, manage) == (
            f"NURSERY_DATA={gone.data}", ".venv/bin/python", "manage.py",
        )  # fmt: skip
        if words[0] == "serve":
            new.start()
            served = True
            continue
        said = new.command(*words).stdout
        found = re.search(r"http\S+/sign-in/\S+", said)
        link = found.group() if found else link
    try:
        assert served
        assert (new.data / "photos" / "one.jpg").read_bytes() == b"a photo"
        desk = Desk(new)
        path = link[link.index("/sign-in/") :]
        desk.get(path)
        assert desk.post(path) == 302
        assert b"Backups" in desk.get("/backups/")[1]
        for tablet in tablets:  # each hears of a new generation, and offers its journal again
            tablet.offer_again()
            while tablet.waiting:
                assert tablet.send(new.url)[0] == 200
        amiss = [one for one in new.answer("doctor") if not one["ok"]]
        # The only thing left to do is the card's last line.
        assert [one["check"].partition(":")[0] for one in amiss] == ["copies of everything"]
    finally:
        new.stop()
    assert check_what_is_stored(new.data, tablets) == made


NAME = "fernery.home.arpa"


def https_speaks_to(nursery: RunningNursery, authority: bytes) -> bool:
    """Say whether a tablet that trusts this authority alone would talk to the server."""
    trusting = ssl.create_default_context(cadata=authority.decode())
    port = urlsplit(nursery.url).port
    assert port is not None
    with socket.create_connection(("127.0.0.1", port), timeout=20) as plain:
        try:
            with trusting.wrap_socket(plain, server_hostname=NAME):
                return True
        except ssl.SSLCertVerificationError:
            return False


def authority_of(nursery: RunningNursery) -> bytes:
    found = read_authority(data=nursery.data)
    assert found is not None
    return found.pem


def test_https_comes_back_with_a_new_authority_or_with_the_kept_one_as_the_card_says(
    prepared_nursery: PreparedNursery, tmp_path: Path, card: Any
) -> None:
    data, kept = tmp_path / "data", tmp_path / "kept"
    nursery = RunningNursery(
        prepared_nursery.copy_to(data), more_environment={"NURSERY_HOSTS": NAME}
    )
    on_the_network = ("--lan", "--host", "127.0.0.1", "--https-port", "0")
    try:
        nursery.start(*on_the_network)
        old = authority_of(nursery)
        assert https_speaks_to(nursery, old)
        nursery.stop()
        file = nursery.answer("backup", str(tmp_path / "stick"))["file"]
        shutil.copytree(folder_of(data), kept)
        printed = card(data, https=True)
        assert f"<b>{folder_of(data)}</b>" in printed
        assert typed_lines(printed)[-2].endswith("--lan")  # the last one is the doctor's

        for brought_along in (False, True):
            shutil.rmtree(data)
            nursery.command("restore", file)
            if brought_along:
                shutil.copytree(kept, folder_of(data))
            nursery.start(*on_the_network)
            assert https_speaks_to(nursery, authority_of(nursery))
            assert https_speaks_to(nursery, old) is brought_along
            assert "/setup/" in nursery.read_on(seconds=10, awaited="/setup/")
            nursery.stop()
    finally:
        nursery.kill()
