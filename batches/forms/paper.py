"""What stands on a round sheet that was filled in by pencil?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django import forms

from batches.forms.look import LookForm
from batches.forms.nursery_form import NurseryForm, day_field
from batches.models import Tray
from batches.services.days import at_noon

#: fields of a look that a sheet has no box for
_NOT_ON_PAPER = ("lost", "lost_cause", "opened", "photo", "seen_at")


class SheetForm(NurseryForm):
    """The day of a sheet, and the name written on it."""

    on = day_field("Day of the sheet")
    by = forms.CharField(label="Name written on it", max_length=80)

    side_by_side = (("on", "by"),)

    def __init__(self, data: Mapping[str, Any] | None = None, *, today: date) -> None:
        super().__init__(data, initial={"on": today})
        self.today = today

    def clean_on(self) -> date:
        """Refuse a day that has not come."""
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError("This day lies in the future.")
        return on


class RowForm(LookForm):
    """One row of a sheet: nothing filled in is “nothing new”."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, tray: Tray) -> None:
        super().__init__(data, tray=tray)
        for name in _NOT_ON_PAPER:
            self.fields.pop(name, None)
        # Enter in it stores the row: a row of “nothing new” is code, Enter, Enter.
        self.fields["count"].widget.attrs["autofocus"] = True

    def look(self, *, on: date, now: datetime) -> dict[str, Any]:
        """Return what `record_check` is told: noon of the sheet's day, before that just now."""
        found = self.cleaned_data
        noon = at_noon(on)
        return {
            "seen_at": noon if noon <= now else None,
            "stage_seen": found.get("stage_seen", ""),
            "signs": found["signs"],
            "count": found["count"],
            "about": found["about"],
            "note": found["note"],
            "record_id": found["record_id"],
        }
