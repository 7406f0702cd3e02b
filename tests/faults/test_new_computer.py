"""Does the restore card alone lead from a computer that is gone to a running nursery?

Yesterday's copy lies on the stick; database, photos, key and certificate are gone with the
computer. What the tablets sent since then is in their journals, and they offer it again.
"""

from __future__ import annotations

import re
import shlex
import shutil
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpResponse
from django.template.loader import render_to_string
from django.test import Client

from batches.views import backups
from tests.faults.bench_tablets import BenchTablet, check_what_is_stored, make_tablets
from tests.faults.desk import Desk
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

TABLETS, TRAYS, LOOKS_A_DAY = 3, 6, 40


@pytest.fixture
def card(manager: Client, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Gives the lines that the card says are to be typed, for a nursery's data folder."""

    def as_text(_: Any, template: str, context: dict[str, Any], **__: Any) -> HttpResponse:
        return HttpResponse(render_to_string(template, context | {"printed_by": "Greta Lunn"}))

    monkeypatch.setattr(backups, "pdf_file", as_text)

    def lines(data: Path) -> list[str]:
        settings.NURSERY_DATA = data
        page = manager.get("/backups/card/").content.decode()
        return [unescape(line) for line in re.findall(r"<code>(.*?)</code>", page)]

    return lines


def log_a_day(nursery: RunningNursery, tablets: list[BenchTablet], trays: list[str]) -> None:
    """Let every tablet look at every tray and send it."""
    for number in range(LOOKS_A_DAY):
        tablet = tablets[number % TABLETS]
        tablet.look(trays[number % TRAYS])
        tablet.send(nursery.url)


def test_the_card_and_the_tablets_bring_everything_back(
    data_folder: RunningNursery, tmp_path: Path, card: Any
) -> None:
    gone, stick = data_folder, tmp_path / "stick" / "frondbook"
    tablets, trays = make_tablets(gone, tablets=TABLETS, trays=TRAYS)
    (gone.data / "photos").mkdir(exist_ok=True)
    (gone.data / "photos" / "one.jpg").write_bytes(b"a photo")
    gone.start()
    log_a_day(gone, tablets, trays)
    gone.command("backup", str(stick))
    log_a_day(gone, tablets, trays)
    made = check_what_is_stored(gone.data, tablets)
    assert made == 2 * LOOKS_A_DAY
    typed = card(gone.data)
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
