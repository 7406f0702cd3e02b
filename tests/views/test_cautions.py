"""Does each step at which work can hurt show its caution, in one line that defers to the rules?

The steps and what can hurt there: *common practice, no source*; the dangers themselves are those
that labels, local codes and plant health law name.
"""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse

from batches.models import Source, Tray
from tests.factories import (
    BenchFactory,
    SourceFactory,
    SporeLotFactory,
    TrayFactory,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

#: name of the page and what is needed for its address → words that its cautions hold
STEPS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("lot-new", "", ("Cut away", "permit")),
    ("lot", "lot", ("dust", "mask")),
    ("stock-plant-new", "", ("owner's leave", "CITES", "authority decides")),
    ("sow-route", "spores", ("Legionella", "respirator", "bleach", "never with acids")),
    ("sow-route", "bulbils", ("Legionella", "Cut away")),
    ("sow-route", "division", ("Legionella", "Cut away")),
    ("sow-route", "bought-in", ("plant health law", "plant passports")),
    ("medium-new", "", ("dust", "steam", "scald")),
    ("tray", "covered", ("Legionella", "wash your hands")),
    ("prick-out", "mat", ("Legionella",)),
    ("patch-out", "mat", ("Legionella", "blade")),
    ("pot-up", "cells", ("Legionella",)),
    ("pot-on", "pots", ("Legionella",)),
    ("select-form", "cells", ("blade",)),
    ("tray-deed", "mat discard", ("notifiable", "authority")),
    ("tray-deed", "pots dispatch", ("plant passport", "authority decides")),
    ("treatment-new", "", ("label", "licen")),
    ("examination-new", "", ("authority",)),
    ("reckon", "mix", ("dust",)),
    ("reckon", "feed", ("label",)),
    ("reckon", "suspension", ("sharp",)),
)
#: who decides, in the words of the pages
DEFERS = re.compile(
    r"\b(rules?|codes?|law|label|licen[cs]ed?|authority|authorities|employer|decides?|hold)\b"
)


@pytest.fixture
def things(db) -> dict[str, str]:
    """One of each thing that a step is done to."""
    bench = BenchFactory()
    lot = SporeLotFactory(cleaned_on=None)
    SourceFactory(kind="purchase")
    mat = TrayFactory(start_stage="sown", stage="first_frond", counted=40, unit="patches")
    covered = TrayFactory(bench=bench)
    cells = TrayFactory(cells_of_84=True, counted=80, batch__route="bought_in")
    pots = TrayFactory(carrier=True, counted=18, batch__route="bought_in", stage="ready")
    assert Tray.objects.count() == 4
    assert Source.objects.exists()
    return {"lot": lot.code, "mat": mat.code, "covered": covered.code, "cells": cells.code,
            "pots": pots.code}  # fmt: skip


@pytest.mark.parametrize(("name", "parts", "words"), STEPS, ids=lambda part: str(part))
def test_a_step_shows_its_caution(office, things, name, parts, words) -> None:
    args = [things.get(part, part) for part in parts.split()]
    answer = office.get(reverse(f"batches:{name}", args=args))
    assert answer.status_code == 200
    shown = re.findall(
        r'<div class="caution"[^>]*>.*?<p>(.*?)</p></div>', answer.content.decode(), re.DOTALL
    )
    text = html.unescape(" ".join(shown))
    assert [word for word in words if word.lower() not in text.lower()] == [], text
    assert DEFERS.search(text), text
    for line in shown:
        assert len(html.unescape(line)) <= 260, "a caution is one line"
