"""At which address does this nursery's server answer?"""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.urls import reverse


def _note() -> Path:
    return Path(settings.NURSERY_DATA) / "server.address"


def keep_address(base: str) -> None:
    """Note where the server of this data folder answers, for commands that print addresses."""
    _note().write_text(base, encoding="utf-8")


def forget_address() -> None:
    """Note that no server runs."""
    _note().unlink(missing_ok=True)


def address_of(page: str, *args: str) -> str:
    """Give a page's full address: at the running server, else where `serve` would start."""
    try:
        base = _note().read_text(encoding="utf-8").strip()
    except OSError:
        base = ""
    return (base or f"http://127.0.0.1:{settings.NURSERY_PORT}") + reverse(page, args=args)
