"""How green is a tray in a photo?"""

from __future__ import annotations

from argparse import ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from batches.management.nursery_command import NurseryCommand
from batches.services.green_share import Crop, cover_of_file


class Command(NurseryCommand):
    help = (
        "Measure the green share of a photo of a tray, with a second opinion. Moss and algae are "
        "green too; take the lid off and crop to the tray."
    )
    example = "manage.py cover tray.jpg --crop 40,30,800,600 --json"
    needs_tables = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("image", type=Path, help="a JPEG, PNG or WebP picture")
        parser.add_argument("--crop", type=_crop, metavar="x,y,w,h", help="the tray alone")

    def answer(self, *, image: Path, crop: Crop | None, **_: Any) -> dict[str, Any]:
        """Reckon the picture."""
        found = cover_of_file(path=image, crop=crop)
        return {
            "share": found.share,
            "second_opinion": found.second_opinion,
            "comparable": found.comparable,
            "reason": found.reason,
        }

    def in_words(self, found: dict[str, Any]) -> None:
        self.stdout.write(
            f"{found['share']:.1%} green (second opinion {found['second_opinion']:.1%}). "
            f"{found['reason']}".rstrip()
        )


def _crop(text: str) -> Crop:
    try:
        x, y, w, h = (int(part) for part in text.split(","))
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is no crop. Write it like 40,30,800,600.") from None
    return x, y, w, h
