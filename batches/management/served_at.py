"""At which address does this nursery's server answer?"""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.urls import reverse


def _note() -> Path:
    return Path(settings.NURSERY_DATA) / "server.address"


def keep_address(base: str, *, setup: str = "") -> None:
    """Note where the server of this data folder answers, for commands that print addresses.

    ``setup`` is the page that a new device opens first; empty where nothing is to be set up.
    """
    _note().write_text(f"{base}\n{setup}\n", encoding="utf-8")


def forget_address() -> None:
    """Note that no server runs."""
    _note().unlink(missing_ok=True)


def _noted() -> tuple[str, str]:
    """Give the server's address and that of the page for new devices; empty where there is none."""
    try:
        lines = _note().read_text(encoding="utf-8").splitlines()
    except OSError:
        lines = []
    base, setup, *_ = [*lines, "", ""]
    return base, setup


def address_of(page: str, *args: str) -> str:
    """Give a page's full address: at the running server, else where `serve` would start."""
    base, _ = _noted()
    return (base or f"http://127.0.0.1:{settings.NURSERY_PORT}") + reverse(page, args=args)


def setup_address() -> str:
    """Give the address that a new device opens first; empty where nothing is to be set up."""
    return _noted()[1]
