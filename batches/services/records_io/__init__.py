"""How do records come in from, and go out as, plain CSV files?

`import_records` and `export_records` are what others call; the format itself is the table in
`columns`, from which docs/records.md and datapackage.json are made. They are loaded when first
asked for: the server starts without them.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from batches.services.records_io.explaining import records_page
    from batches.services.records_io.faults import RowError
    from batches.services.records_io.importing import ImportResult, Progress, import_records
    from batches.services.records_io.opening import MOST_BYTES_UPLOADED, CannotOpen
    from batches.services.records_io.writing import CannotWrite, export_records

__all__ = [
    "MOST_BYTES_UPLOADED",
    "CannotOpen",
    "CannotWrite",
    "ImportResult",
    "Progress",
    "RowError",
    "export_records",
    "import_records",
    "records_page",
]

_PLACES = {
    "MOST_BYTES_UPLOADED": "opening",
    "CannotOpen": "opening",
    "CannotWrite": "writing",
    "ImportResult": "importing",
    "Progress": "importing",
    "RowError": "faults",
    "export_records": "writing",
    "import_records": "importing",
    "records_page": "explaining",
}


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(name)
    return getattr(import_module(f"{__name__}.{_PLACES[name]}"), name)
