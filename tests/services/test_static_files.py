"""Are static files collected once, under names that change with their content?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.templatetags.static import static

from batches.services import static_files
from tests.running_nursery import PreparedNursery

pytestmark = pytest.mark.sqlite_only


def test_pages_name_the_plain_addresses_until_files_were_collected() -> None:
    assert static("css/frond.css") == "/static/css/frond.css"


@pytest.fixture
def collected(prepared_nursery: PreparedNursery, settings: Any) -> Path:
    """The folder of a nursery's collected files, in use."""
    folder = prepared_nursery.folder / "static"
    settings.STATIC_ROOT = folder
    settings.NURSERY_DATA = prepared_nursery.folder
    return folder


def test_collected_files_carry_their_hash_and_are_packed_twice(collected: Path) -> None:
    names = json.loads((collected / "staticfiles.json").read_text())["paths"]
    for address in ("css/frond.css", "plotly/plotly.min.js", "django_htmx/htmx-2.min.js"):
        hashed = collected / names[address]
        assert hashed.is_file()
        for packed in (".br", ".gz"):
            smaller = hashed.with_name(hashed.name + packed)
            assert smaller.stat().st_size < hashed.stat().st_size
    assert names["css/frond.css"] != "css/frond.css"


def test_the_style_sheet_names_the_hashed_fonts(collected: Path) -> None:
    names = json.loads((collected / "staticfiles.json").read_text())["paths"]
    sheet = (collected / names["css/frond.css"]).read_text()
    assert names["fonts/regular.woff2"].split("/")[-1] in sheet


def test_they_are_collected_again_only_when_a_source_changed(
    collected: Path, settings: Any, tmp_path: Path
) -> None:
    assert static_files.collect_if_changed() is False
    (tmp_path / "css").mkdir()
    (tmp_path / "css" / "more.css").write_text("p { margin: 0 }")
    before = static_files.fingerprint_of_sources()
    settings.STATICFILES_DIRS = [*django_settings.STATICFILES_DIRS, tmp_path]
    assert static_files.fingerprint_of_sources() != before


def test_a_file_that_is_missing_from_a_collected_set_is_an_error(collected: Path) -> None:
    storage = static_files.CollectedStorage()
    assert storage.stored_name("css/frond.css") != "css/frond.css"
    with pytest.raises(ValueError, match=r"css/misspelt\.css"):
        storage.stored_name("css/misspelt.css")
