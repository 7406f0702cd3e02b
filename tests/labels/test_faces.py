"""Are texts as wide as they are reckoned to be, and never wider?"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from PIL import ImageFont

from batches.labels.faces import covered, face, font_face_css, width_em

TEXTS = ["Dryopteris filix-mas", "'Plumosum Moss'", "30 Mar 2026 (wk 14)", "AVAToTy×dycei £6.50"]


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("italic", [False, True])
def test_a_width_is_what_another_program_measures(bold: bool, italic: bool) -> None:
    # Pillow measures by FreeType; ours may be wider by the room for kerning, never narrower.
    font = ImageFont.truetype(str(face(bold=bold, italic=italic).path), 1000)
    for text in TEXTS:
        measured = font.getlength(text) / 1000
        reckoned = width_em(text, bold=bold, italic=italic)
        assert measured <= reckoned <= measured * 1.06, text


def test_the_four_cuts_are_four_files() -> None:
    paths = {face(bold=bold, italic=italic).path for bold in (0, 1) for italic in (0, 1)}
    assert len(paths) == 4


def test_letters_that_the_font_lacks_are_taken_as_wide() -> None:
    assert width_em("蕨", bold=False, italic=False) > 1.2
    assert width_em("Щ", bold=False, italic=False) > 1.0
    assert not covered("蕨")
    assert covered("×")


def test_the_fonts_travel_inside_the_stylesheet() -> None:
    css = font_face_css()
    assert len(re.findall(r"url\(data:font/ttf;base64,", css)) == 4
    assert not re.search(r"url\((?!data:)", css)


def test_no_font_is_kept_in_the_program_itself() -> None:
    root = Path(__file__).parents[2]
    tracked = subprocess.run(
        ["git", "ls-files", "*.ttf", "*.otf", "*.woff", "*.woff2"],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
    assert tracked.stdout == ""
