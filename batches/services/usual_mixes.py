"""Which recipe does the nursery use to prick this fern out, or to pot it up?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.db.models import Count, Max

from batches.core.stages import Stage
from batches.models import MediumBatch


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualMixes:
    """Recipes last used by fern and stage that a tray starts in, and the most used by stage."""

    last: dict[tuple[int, Stage], str]
    most: dict[Stage, str]

    def of(self, taxon_id: int, stage: Stage) -> str:
        """Return the fern's last recipe, else the most used; empty where none is noted."""
        return self.last.get((taxon_id, stage), "") or self.most.get(stage, "")


def usual_mixes() -> UsualMixes:
    """Return what pricked out and potted up trays were filled with; one query.

    Of several recipes of one day the last by name counts as a fern's last.
    """
    rows = (
        MediumBatch.objects.filter(trays__start_stage__in=[Stage.PRICKED_OUT, Stage.POTTED_UP])
        .order_by()
        .values_list("trays__batch__taxon", "trays__start_stage", "recipe")
        .annotate(filled=Count("trays"), last_on=Max("trays__started_on"))
    )
    last: dict[tuple[int, Stage], str] = {}
    used: dict[Stage, Counter[str]] = {}
    for taxon, start, recipe, filled, _ in sorted(rows, key=lambda row: (row[4], row[2])):
        stage = Stage(start)
        last[taxon, stage] = recipe
        used.setdefault(stage, Counter())[recipe] += filled
    return UsualMixes(
        last=last,
        # The most used; of those used alike, the first by name.
        most={
            stage: min(counts, key=lambda recipe: (-counts[recipe], recipe))
            for stage, counts in used.items()
        },
    )
