"""Where did a tray stand, from which day on?"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from batches.models.events import Event, EventQuerySet
from batches.models.house import Bench
from batches.models.tray import Tray


class Place(Event):
    """From this day on the tray stood here; without a bench its place is not known."""

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="places")
    on = models.DateField()
    bench = models.ForeignKey(
        Bench, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    row = models.PositiveSmallIntegerField(null=True, blank=True)
    column = models.PositiveSmallIntegerField(null=True, blank=True)

    objects: ClassVar = EventQuerySet.as_manager()

    class Meta:
        ordering = ["on", "recorded_at", "id"]
        indexes = [models.Index(fields=["tray", "on"], name="place_of_tray")]
        constraints = [
            models.CheckConstraint(
                condition=Q(bench__isnull=False) | Q(row__isnull=True, column__isnull=True),
                name="place_needs_a_bench",
            )
        ]

    def __str__(self) -> str:
        return f"{self.tray_id} on {self.bench_id} from {self.on}"
