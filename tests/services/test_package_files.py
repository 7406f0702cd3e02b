"""Do the chart script and the typeface come out of the installed packages, small enough?"""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from fontTools.ttLib import TTFont

from batches.services.package_files import PACKAGE_FILES, PackageStorage, package_path


@pytest.mark.parametrize("address", sorted(PACKAGE_FILES))
def test_every_address_leads_to_an_installed_file(address: str) -> None:
    found = finders.find(address)
    assert found is not None
    assert "site-packages" in str(found)


def test_nothing_of_somebody_elses_is_kept_in_the_repository() -> None:
    own = Path(settings.BASE_DIR) / "static"
    foreign = [*own.rglob("*.woff2"), *own.rglob("*.ttf"), *own.rglob("*.min.js")]
    assert foreign == []


def test_an_address_of_no_package_leads_nowhere() -> None:
    assert package_path("plotly/other.js") is None
    assert finders.find("plotly/other.js") is None


def test_a_missing_package_leads_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: None)
    assert package_path("plotly/plotly.min.js") is None


def test_a_face_is_cut_to_latin_and_keeps_every_letter_the_trade_writes() -> None:
    with PackageStorage().open("fonts/regular.woff2") as file:
        packed = file.read()
    # 20 KB a face: the budget of the pages' weight (own choice, no source).
    assert len(packed) <= 20 * 1024
    face = TTFont(io.BytesIO(packed))
    assert face.flavor == "woff2"
    letters = set(face.getBestCmap())
    assert {ord(letter) for letter in "Aßéøž × ‘Crispa’ – … ½ ° ≤ ≥"} <= letters | {0x20}
    assert 0x0416 not in letters  # a Cyrillic letter that the whole typeface may have
