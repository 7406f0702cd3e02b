"""Where did a tray stand, from which day on?"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce

from batches.models.events import Event, EventQuerySet
from batches.models.house import Bench
from batches.models.tray import Tray


class PlaceQuerySet(EventQuerySet):
    """Places in words."""

    def in_order(self) -> PlaceQuerySet:
        """As the trays came to them: by day, by the hour where it is known, as written down."""
        return self.order_by("on", Coalesce("at", "recorded_at"), "recorded_at", "id")


class Place(Event):
    """From this day on the tray stood here; without a bench its place is not known."""

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="places")
    on = models.DateField()
    #: the hour, where a tablet's clock told it; else it was when it was written down
    at = models.DateTimeField(null=True, blank=True)
    bench = models.ForeignKey(
        Bench, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    row = models.PositiveSmallIntegerField(null=True, blank=True)
    column = models.PositiveSmallIntegerField(null=True, blank=True)

    objects: ClassVar = PlaceQuerySet.as_manager()

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
