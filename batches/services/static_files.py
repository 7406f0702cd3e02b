"""How do style sheets, scripts and fonts get from their sources to the server?

`collect_if_changed` copies them into the data folder under names that carry a hash of their
content, so that a browser may keep them for good. Until that was done (in tests, in commands),
pages name the plain addresses.
"""

from __future__ import annotations

import hashlib
import io
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from whitenoise.compress import Compressor
from whitenoise.storage import CompressedManifestStaticFilesStorage

# Brotli's last two steps take twelve seconds over the chart script and save a tenth.
BROTLI_QUALITY = 9
#: what django-htmx brings beside the one script that pages load; every file served is looked at
#: when the server starts
NOT_SERVED = ("ext", "htmx-4*", "htmax*", "htmx-2.js", "django-htmx.js")


class QuickCompressor(Compressor):  # type: ignore[misc]
    """Compresses once, at the first start, without making anybody wait."""

    @staticmethod
    def compress_brotli(data: bytes) -> bytes:
        """Give the data as brotli packs it."""
        import brotli  # type: ignore[import-untyped]

        return bytes(brotli.compress(data, quality=BROTLI_QUALITY))


class CollectedStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Hashed names once the files were collected, plain ones before."""

    def stored_name(self, name: str) -> str:
        """Give the address of a file; a file that is absent from a collected set is an error."""
        if not self.hashed_files:
            return name
        return str(super().stored_name(name))

    def create_compressor(self, **kwargs: Any) -> Compressor:
        """Give the compressor that whitenoise uses while files are collected."""
        return QuickCompressor(**kwargs)


def fingerprint_of_sources() -> str:
    """Give a word that changes when any source of a static file does (its name, size or date)."""
    seen = hashlib.sha256(str(BROTLI_QUALITY).encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            found = Path(storage.path(name)).stat()
            address = f"{getattr(storage, 'prefix', None) or ''}/{name}"
            seen.update(f"{address} {found.st_size} {found.st_mtime_ns}\n".encode())
    return seen.hexdigest()


def collect_if_changed() -> bool:
    """Collect the static files where a source changed; say whether that was done."""
    stamp = Path(settings.NURSERY_DATA) / "static-collected-from"
    fingerprint = fingerprint_of_sources()
    if stamp.is_file() and stamp.read_text(encoding="ascii") == fingerprint:
        return False
    stamp.unlink(missing_ok=True)
    call_command(
        "collectstatic",
        interactive=False,
        clear=True,
        verbosity=0,
        stdout=io.StringIO(),
        ignore_patterns=list(NOT_SERVED),
    )
    stamp.write_text(fingerprint, encoding="ascii")
    return True
