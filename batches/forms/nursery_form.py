"""How do all forms of the nursery look and take a refusal?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, ClassVar
from uuid import uuid4

from django import forms
from django.forms.boundfield import BoundField

from batches.core.errors import NurseryError

#: names of fields, row by row
Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A field as a page shows it: with its unit behind it, its choices as tiles or as rows."""

    field: BoundField
    unit: str
    tiles: bool


class NurseryForm(forms.Form):
    """A form in one column; fields named together in ``side_by_side`` stand side by side.

    What `side_by_side` does not name follows below. ``units`` stand behind their inputs.
    """

    side_by_side: ClassVar[Rows] = ()
    units: ClassVar[dict[str, str]] = {}
    tiles: ClassVar[frozenset[str]] = frozenset()

    def by_rows(self) -> Iterator[list[Piece]]:
        """Yield the visible fields row by row."""
        named = {name for row in self.side_by_side for name in row}
        rest = tuple((name,) for name in self.fields if name not in named)
        for row in (*self.side_by_side, *rest):
            pieces = [
                Piece(field=self[name], unit=self.units.get(name, ""), tiles=name in self.tiles)
                for name in row
                if name in self.fields and not self[name].is_hidden
            ]
            if pieces:
                yield pieces

    def refuse(self, error: NurseryError) -> None:
        """Put what a service refused onto the field it belongs to; what was typed stays."""
        known = error.field in self.fields
        self.add_error(error.field if known else None, error.message)


class OnceForm(NurseryForm):
    """A form that carries the id of what it makes: sent twice, it stores once."""

    record_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"record_id": uuid4()} | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)


def day_field(label: str, *, required: bool = True, help_text: str = "") -> forms.DateField:
    """Return a field for a day."""
    return forms.DateField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is no day. Write it like 2026-11-24."},
    )


def moment_field(label: str, *, required: bool = True, help_text: str = "") -> forms.DateTimeField:
    """Return a field for a day and an hour, in the nursery's own time."""
    return forms.DateTimeField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        error_messages={"invalid": "This is no time. Write it like 2026-11-24T09:30."},
    )


def week_field(label: str, *, help_text: str = "") -> forms.IntegerField:
    """Return a field for an ISO week of the year, 1 to 53."""
    return forms.IntegerField(
        label=label,
        required=False,
        help_text=help_text,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
    )


def notes_field(label: str = "Notes", *, rows: int = 2) -> forms.CharField:
    """Return a field for a few lines of text."""
    return forms.CharField(
        label=label,
        required=False,
        max_length=2_000,
        widget=forms.Textarea(attrs={"rows": rows}),
    )


def own_code_field(*, help_text: str) -> forms.CharField:
    """Return a field for a code of the nursery's own choosing."""
    return forms.CharField(
        label="Your own code",
        required=False,
        max_length=32,
        help_text=help_text,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "short"}),
    )
