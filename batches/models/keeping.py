"""How was a tray kept before, and how since: under which lid, apart or not?"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from batches.models.events import Event, EventQuerySet
from batches.models.tray import Tray


class KeepingChange(Event):
    """A lid closed, vented or taken off, or a tray set apart or taken back; taken back by another.

    ``before`` and ``after`` are words of `batches.models.tray.COVERS`, or ``yes`` and nothing for
    ``isolated``.
    """

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="keeping_changes")
    on = models.DateField()
    what = models.CharField(max_length=8)
    before = models.CharField(max_length=8, blank=True, default="")
    after = models.CharField(max_length=8, blank=True, default="")

    objects: ClassVar = EventQuerySet.as_manager()

    class Meta:
        ordering = ["on", "recorded_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(what="cover", after__in=["closed", "vented", "off"])
                | Q(what="isolated", after__in=["yes", ""]),
                name="keeping_change_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tray_id} {self.what} {self.after} from {self.on}"
