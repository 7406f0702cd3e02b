"""When did a tray pass from one stage to the next?"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from batches.models.events import Event, EventQuerySet
from batches.models.tray import STAGE_CHOICES, Tray


class StageTransition(Event):
    """A passage from one stage to the next, somewhere in (``not_before``, ``seen_on``].

    Done stages (pricked out, potted up) have one exact day: ``not_before`` is empty or the day
    before. ``derived`` rows were read out of the tray's looks by Frondbook; a row going backward
    is a correction.
    """

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="transitions")
    from_stage = models.CharField(max_length=12, choices=STAGE_CHOICES)
    to_stage = models.CharField(max_length=12, choices=STAGE_CHOICES)
    not_before = models.DateField(null=True, blank=True)
    seen_on = models.DateField()
    derived = models.BooleanField(default=False)

    objects: ClassVar = EventQuerySet.as_manager()

    class Meta:
        ordering = ["seen_on", "id"]
        indexes = [models.Index(fields=["tray", "seen_on"], name="transition_of_tray")]
        constraints = [
            models.CheckConstraint(
                condition=Q(not_before__isnull=True) | Q(not_before__lte=F("seen_on")),
                name="transition_not_before_its_look",
            )
        ]

    def __str__(self) -> str:
        return f"{self.tray_id} → {self.to_stage} {self.seen_on}"
