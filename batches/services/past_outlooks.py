"""What would the records of a past day have taught of each fern's times?"""

from __future__ import annotations

from datetime import date

from batches.core.lateness import Outlook
from batches.services.outlooks import Outlooks, own_windows
from batches.services.stage_times import stage_times


def outlooks_as_of(on: date) -> Outlooks:
    """Return the outlooks by what was seen until the end of a day; nothing is stored."""
    return Outlooks(
        own=own_windows(None),
        learned={
            (row.taxon.pk, str(row.route), str(row.stage)): Outlook(
                expected_days=row.estimate.expected_days,
                late_days=row.estimate.late_after_days,
                basis=row.estimate.basis,
                trays=row.estimate.trays if row.estimate.rests_on_own else 0,
            )
            for row in stage_times(on=on)
        },
    )
