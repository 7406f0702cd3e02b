"""What are a fern's own days from stage to stage?"""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import get_language

from batches.core.errors import NurseryError
from batches.core.stages import STAGE_WORDS, Route, Stage, default_window
from batches.forms.nursery_form import NurseryForm
from batches.models import Taxon
from batches.services.ferns import OwnDays, RouteWindows, WindowLine, require_days
from batches.services.language import said

_DAYS = ("early", "usual", "late")


class OwnDaysForm(NurseryForm):
    """One line of a fern's windows: its own days; empty for the default ones, shown in grey."""

    early = forms.FloatField(required=False)
    usual = forms.FloatField(required=False)
    late = forms.FloatField(required=False)
    look_every = forms.IntegerField(required=False)

    def __init__(self, data: Any = None, *, taxon: Taxon, route: str, line: WindowLine) -> None:
        own = line if line.own else None
        initial = {name: getattr(own, name, None) for name in (*_DAYS, "look_every")}
        super().__init__(data, prefix=f"{route}-{line.stage}", initial=initial)
        self.route, self.stage = route, line.stage
        self.words = STAGE_WORDS[Stage(line.stage)]
        default = default_window(Route(route), Stage(line.stage), taxon.kind)
        language = get_language() or ""
        for name in (*_DAYS, "look_every"):
            usual = getattr(default, name, None)
            label = f"{self.words}, {name.replace('_', ' ')}, days"
            grey = "as usual" if usual is None else f"{usual:g}"
            self.fields[name].widget.attrs |= {
                "aria-label": said(label, language=language),
                "placeholder": said(grey, language=language),
            }

    def clean(self) -> dict[str, Any]:
        """Refuse a line that is filled in half, or whose days make no sense."""
        found = super().clean() or {}
        if self.errors:
            return found
        given = [found[name] is not None for name in _DAYS]
        if any(given) and not all(given):
            self.add_error(None, f"{self.words}: give early, usual and late, or none of them.")
        elif found["look_every"] is not None and not any(given):
            self.add_error(None, f"{self.words}: days between looks need early, usual and late.")
        elif all(given):
            try:
                require_days(self._days(found))
            except NurseryError as error:
                self.add_error(None, error.message)
        return found

    def own_days(self) -> OwnDays | None:
        """Return the days given; None where the line is empty."""
        found = self.cleaned_data
        return None if found["early"] is None else self._days(found)

    def errors_in_words(self) -> list[str]:
        """Return what is wrong with the line, each naming it."""
        found = []
        for name, errors in self.errors.items():
            for error in errors:
                words = "" if name == "__all__" else f"{self.words}, {name.replace('_', ' ')}: "
                found.append(f"{words}{error}")
        return found

    def _days(self, found: dict[str, Any]) -> OwnDays:
        return OwnDays(
            route=self.route, stage=self.stage, **{name: found[name] for name in _DAYS},
            look_every=found["look_every"],
        )  # fmt: skip


def own_days_forms(
    windows: tuple[RouteWindows, ...], *, taxon: Taxon, data: Any = None
) -> list[tuple[RouteWindows, list[OwnDaysForm]]]:
    """Return a form for each line of the fern's windows, filled with its own days."""
    return [
        (
            route,
            [OwnDaysForm(data, taxon=taxon, route=route.route, line=line) for line in route.lines],
        )
        for route in windows
    ]
