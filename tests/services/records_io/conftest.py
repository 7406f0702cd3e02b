"""How do these tests import, and what do they expect?"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from batches.services.records_io import ImportResult, export_records, import_records
from tests.services.records_io.folders import NOW, write

Importer = Callable[..., ImportResult]


@pytest.fixture
def take_in(tmp_path: Path, db: None) -> Importer:
    """Import files (rows by name), written into a new folder each time."""
    times = 0

    def take(files: dict[str, Any], **more: Any) -> ImportResult:
        nonlocal times
        times += 1
        folder = write(tmp_path / f"in-{times}", files)
        settings: dict[str, Any] = {"path": folder, "now": NOW, "by": "Greta Lunn"}
        return import_records(**(settings | more))

    return take


@pytest.fixture
def write_out(tmp_path: Path, db: None) -> Callable[[], Path]:
    """Export everything into a new folder and return it."""
    times = 0

    def out() -> Path:
        nonlocal times
        times += 1
        folder = tmp_path / f"out-{times}"
        export_records(path=folder, now=NOW)
        return folder

    return out
