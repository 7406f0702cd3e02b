"""What is laid out, what goes into each tray, and what becomes of the tray it came from?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import uuid4

from django import forms

from batches.core.signs import CAUSE_WORDS, CAUSES
from batches.models import Bench, LaidOutTray, MediumBatch, Tray
from batches.models.tray import CONTAINER_STATES
from batches.services.laid_out import POT_DEEDS
from batches.services.moves import Spot
from batches.services.picking_rules import UNIT_OF, Filling, ParentAfter, Take

_DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class LayOutForm(forms.Form):
    """How many trays, of what: their codes are given out and their labels printed first."""

    how_many = forms.IntegerField(label="How many trays?", min_value=1, max_value=200)
    container = forms.CharField(label="Container", max_length=60)
    cells = forms.IntegerField(label="Cells in each", required=False, min_value=1, max_value=2_000)
    pot_size = forms.CharField(label="Pot size", max_length=20, help_text="Such as 9 cm or 1 L.")

    def __init__(self, data: Mapping[str, Any] | None = None, *, deed: str) -> None:
        pots = deed in POT_DEEDS
        start = {"container": "carrier 9 cm", "pot_size": "9 cm"} if pots else {}
        if deed == "prick_out":
            start = {"container": "cell tray 84", "cells": "84"}
        elif deed == "patch_out":
            start = {"container": "covered tray"}
        super().__init__(data, initial={**start, "how_many": 1}, prefix="lay")
        if pots:
            del self.fields["cells"]
        else:
            del self.fields["pot_size"]


class FillForm(forms.Form):
    """What went into the laid-out and standing trays, a pair of numbers each, on one day."""

    on = forms.DateField(label="Done on", widget=_DAY)
    container_state = forms.ChoiceField(
        label="New trays are", choices=[("", "not noted"), *CONTAINER_STATES], required=False
    )
    medium_batch = forms.ModelChoiceField(
        label="Medium batch", queryset=MediumBatch.objects.none(), required=False,
        empty_label="the batch's own",
        to_field_name="code",
    )  # fmt: skip
    bench = forms.ModelChoiceField(
        label="They go to bench", queryset=Bench.objects.none(), required=False,
        empty_label="not set down yet",
        to_field_name="code",
    )  # fmt: skip
    lost = forms.IntegerField(
        label="Lost in the doing",
        required=False,
        min_value=1,
        help_text="Broken or too weak to be set.",
    )
    lost_cause = forms.ChoiceField(
        label="Cause of the loss",
        required=False,
        choices=[("", "not known")] + [(cause, CAUSE_WORDS[cause]) for cause in CAUSES],
    )
    after = forms.ChoiceField(
        label="What is left in the parent",
        choices=[
            ("keep", "keep it as it is"),
            ("more", "more to come: come back on the day below"),
            ("end", "nothing is left: clear it"),
        ],
        initial="keep",
        widget=forms.RadioSelect,
    )
    come_back_on = forms.DateField(label="Come back on", required=False, widget=_DAY)
    record_id = forms.UUIDField(widget=forms.HiddenInput)
    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        deed: str,
        parent: Tray,
        laid_out: tuple[LaidOutTray, ...],
        standing: tuple[Tray, ...],
        today: date,
    ) -> None:
        initial = {
            "on": today,
            "bench": parent.bench.code if parent.bench else None,
            "record_id": uuid4(),
            "revision": parent.revision,
        }
        super().__init__(data, initial=initial)
        self.deed, self.parent = deed, parent
        self.laid_out, self.standing = laid_out, standing
        self.fields["medium_batch"].queryset = MediumBatch.objects.all()  # type: ignore[attr-defined]
        self.fields["bench"].queryset = Bench.objects.in_walking_order()  # type: ignore[attr-defined]
        self.same_unit = parent.unit == UNIT_OF[deed]
        for code in self.codes:
            self.fields[f"left_{code}"] = forms.IntegerField(
                label=f"Left the parent for {code}", required=False, min_value=1
            )
            if not self.same_unit:
                self.fields[f"arrived_{code}"] = forms.IntegerField(
                    label=f"Arrived in {code}", required=False, min_value=1
                )
        for row in laid_out:
            if row.cells:
                self.fields[f"gaps_{row.code}"] = forms.IntegerField(
                    label=f"{row.code} is full less so many gaps", required=False, min_value=0,
                    max_value=row.cells - 1,
                )  # fmt: skip

    @property
    def codes(self) -> list[str]:
        """Codes of the trays that may be filled."""
        return [row.code for row in self.laid_out] + [tray.code for tray in self.standing]

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The pairs of number fields with what each fills, for the page."""
        held = {tray.code: tray for tray in self.standing}
        return [
            {
                "code": code,
                "standing": held.get(code),
                "left": self[f"left_{code}"],
                "arrived": None if self.same_unit else self[f"arrived_{code}"],
                "gaps": self[f"gaps_{code}"] if f"gaps_{code}" in self.fields else None,
            }
            for code in self.codes
        ]

    def clean(self) -> dict[str, Any]:
        """Refuse a filling without any number, half a pair, and a day to come back without one."""
        found = super().clean() or {}
        self._count_gaps(found)
        filled = [code for code in self.codes if found.get(f"left_{code}")]
        if not filled and not self.errors:
            self.add_error(None, "Say how many went into at least one tray.")
        if not self.same_unit:
            for code in self.codes:
                left, arrived = found.get(f"left_{code}"), found.get(f"arrived_{code}")
                if bool(left) != bool(arrived):
                    missing = "arrived" if left else "left"
                    self.add_error(f"{missing}_{code}", "Both numbers belong together.")
        if found.get("after") == "more" and not found.get("come_back_on"):
            self.add_error("come_back_on", "On which day is there more to pick?")
        if found.get("lost_cause") and not found.get("lost"):
            self.add_error("lost", "How many were lost?")
        return found

    @property
    def any_gaps(self) -> bool:
        """Whether a tray with known cells may be counted by its gaps."""
        return any(row.cells for row in self.laid_out)

    def _count_gaps(self, found: dict[str, Any]) -> None:
        """Turn gaps into what went into a tray: its cells less the gaps."""
        for row in self.laid_out:
            gaps = found.get(f"gaps_{row.code}")
            if gaps is None or row.cells is None:
                continue
            name = f"left_{row.code}" if self.same_unit else f"arrived_{row.code}"
            if found.get(name):
                self.add_error(f"gaps_{row.code}", "Gaps or a number, not both.")
            else:
                found[name] = row.cells - gaps

    def fillings(self) -> list[Filling]:
        """Return what the picking services are told."""
        found = self.cleaned_data
        held = {tray.code: tray for tray in self.standing}
        fillings = []
        for code in self.codes:
            left = found.get(f"left_{code}")
            if not left:
                continue
            take = Take(parent=self.parent, left=left, arrived=found.get(f"arrived_{code}"))
            if code in held:
                fillings.append(Filling(takes=[take], into=held[code]))
                continue
            fillings.append(
                Filling(
                    takes=[take],
                    code=code,
                    container_state=found["container_state"],
                    medium_batch=found["medium_batch"],
                    spot=Spot(bench=found["bench"]),
                )
            )
        return fillings

    def parent_after(self) -> ParentAfter:
        """Return what becomes of the parent."""
        found = self.cleaned_data
        return ParentAfter(
            parent=self.parent,
            losses=[(found["lost"], found["lost_cause"])] if found["lost"] else [],
            come_back_on=found["come_back_on"] if found["after"] == "more" else None,
            end=found["after"] == "end",
            revision=found["revision"],
        )
