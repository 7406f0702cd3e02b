"""How long does each fern take from stage to stage here, as far as due dates need to know?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

from batches.core.lateness import Outlook
from batches.core.stages import Route, Stage, default_window
from batches.models import OwnWindow, Taxon


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlooks:
    """Outlooks of some ferns, loaded once; ask `of`."""

    own: dict[tuple[int, str, str], OwnWindow]

    def of(self, taxon: Taxon, route: Route, stage: Stage) -> Outlook | None:
        """Return the outlook from this stage to the next; None for *ready* or a foreign stage."""
        own = self.own.get((taxon.pk, route, stage))
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
        own = self.own.get((taxon.pk, route, stage))
        return None if own is None else own.look_every


def load_outlooks(taxon_ids: Iterable[int]) -> Outlooks:
    """Return the outlooks of these ferns; one query."""
    rows = OwnWindow.objects.filter(taxon__in=list(set(taxon_ids)))
    return Outlooks(own={(row.taxon_id, row.route, row.stage): row for row in rows})
