"""Which recipe does the nursery use to prick this fern out, or to pot it up?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.db import connection

from batches.core.stages import Stage

# Counted by mixing and batch first, out of one index alone (`tray_filled`), and only then by fern
# and recipe: a nursery of 50,000 trays has a hundred mixings and some thousand batches.
_FILLED = """
SELECT b.taxon_id, f.start_stage, m.recipe, CAST(SUM(f.trays) AS bigint), MAX(f.last_on)
FROM (
    SELECT medium_batch_id, start_stage, batch_id, COUNT(*) AS trays, MAX(started_on) AS last_on
    FROM batches_tray WHERE medium_batch_id IS NOT NULL AND start_stage IN (%s, %s)
    GROUP BY medium_batch_id, start_stage, batch_id
) f
JOIN batches_batch b ON b.id = f.batch_id
JOIN batches_mediumbatch m ON m.id = f.medium_batch_id
GROUP BY b.taxon_id, f.start_stage, m.recipe
"""


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
    with connection.cursor() as cursor:
        cursor.execute(_FILLED, [Stage.PRICKED_OUT.value, Stage.POTTED_UP.value])
        rows = cursor.fetchall()
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
