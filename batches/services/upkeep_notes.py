"""What came of the last copy on a stick, the last drill, and the last look at this machine?

One row of JSON each among the nursery's settings, written by the rounds beside the pages.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from batches.models import NurserySetting


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """When something was done last, whether it went well, and what there is to say of it."""

    at: datetime
    ok: bool
    words: str


#: known notes
COPY, STICK, DRILL, CHECKUP = "copy", "stick_copy", "drill", "checkup"


def note(name: str, *, at: datetime, ok: bool, words: str = "") -> None:
    """Write down what came of something, in place of the last time."""
    value = {"at": at.isoformat(), "ok": ok, "words": words}
    NurserySetting.objects.update_or_create(pk=f"note_{name}", defaults={"value": value})


def noted(name: str) -> Noted | None:
    """Return what came of something the last time; None where it was never done (one query)."""
    row = NurserySetting.objects.filter(pk=f"note_{name}").first()
    if row is None:
        return None
    value: dict[str, Any] = row.value
    return Noted(at=datetime.fromisoformat(value["at"]), ok=value["ok"], words=value["words"])
