"""How long does each fern take from stage to stage here, as far as due dates need to know?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import sqrt

from batches.core.lateness import Outlook
from batches.core.stages import Route, Stage, default_window
from batches.models import OwnWindow, StageFit, Taxon

_Key = tuple[int, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlooks:
    """Outlooks of some ferns, loaded once; ask `of`."""

    own: dict[_Key, OwnWindow]
    learned: dict[_Key, Outlook] = field(default_factory=dict)

    def of(self, taxon: Taxon, route: Route, stage: Stage) -> Outlook | None:
        """Return the outlook from this stage to the next; None for *ready* or a foreign stage.

        What this nursery's trays taught comes first, then the fern's own window, then the
        default one; a fern without records behaves exactly like its window.
        """
        key = (taxon.pk, str(route), str(stage))
        if key in self.learned:
            return self.learned[key]
        own = self.own.get(key)
        if own is not None:
            return Outlook(
                expected_days=sqrt(own.early * own.late), late_days=own.late, basis="own window"
            )
        window = default_window(route, stage, taxon.kind)
        if window is None:
            return None
        return Outlook(
            # The median of the prior that the window stands for: the middle on a log scale.
            expected_days=sqrt(window.early * window.late),
            late_days=window.late,
            basis="default window",
        )

    def look_every(self, taxon: Taxon, route: Route, stage: Stage) -> int | None:
        """Return the fern's own days between looks in this stage; None where it has none."""
        own = self.own.get((taxon.pk, str(route), str(stage)))
        return None if own is None else own.look_every


def load_outlooks(taxon_ids: Iterable[int]) -> Outlooks:
    """Return the outlooks of these ferns out of the stored fits; two queries."""
    wanted = list(set(taxon_ids))
    return Outlooks(
        own=own_windows(wanted),
        learned={
            (row.taxon_id, row.route, row.stage): Outlook(
                expected_days=row.expected_days,
                late_days=row.late_days,
                basis=row.basis,
                trays=row.trays if row.own else 0,
            )
            for row in StageFit.objects.filter(taxon__in=wanted)
        },
    )


def own_windows(taxon_ids: list[int] | None) -> dict[tuple[int, str, str], OwnWindow]:
    """Return the windows of some ferns' own (of all, for None), by fern, route and stage."""
    rows = OwnWindow.objects.all()
    if taxon_ids is not None:
        rows = rows.filter(taxon__in=taxon_ids)
    return {(row.taxon_id, row.route, row.stage): row for row in rows}
