"""Which trays are held back, why and by whom; and how quickly did a mock alarm find them?"""

from __future__ import annotations

import uuid
from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from batches.models.events import Event, EventQuerySet
from batches.models.tray import Tray


class TrayHold(Event):
    """A tray is held: nothing of it may leave.

    A row that strikes one out is its lifting, with the reason for that; ``standing()`` is what
    holds now. ``alarm`` is shared by the rows that were made at once, ``traced_from`` says from
    what they were found.
    """

    alarm = models.UUIDField(db_index=True)
    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="holds")
    reason = models.CharField(max_length=300)
    traced_from = models.CharField(max_length=160)

    objects: ClassVar = EventQuerySet.as_manager()

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="hold_says_why"),
            models.UniqueConstraint(
                fields=["alarm", "tray"],
                condition=Q(strikes_out__isnull=True),
                name="tray_held_once_an_alarm",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tray_id} held: {self.reason}"


class AlarmDrillQuerySet(models.QuerySet["AlarmDrill"]):
    """Drills in words."""

    def running(self) -> Self:
        """Drills whose clock was not stopped yet."""
        return self.filter(finished_at__isnull=True)


class AlarmDrill(models.Model):
    """A mock alarm: from a pot that was sent, how long until every tray of its kin was found?

    The numbers are of the moment it began; ``found`` is how many standing trays somebody put a
    hand on before the clock was stopped.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    begun_at = models.DateTimeField()
    begun_by = models.CharField(max_length=80)
    traced_from = models.CharField(max_length=160)
    #: asks for its trail again, like ``sent=…`` or ``bench=…&from=…``
    query = models.CharField(max_length=300)
    standing = models.PositiveIntegerField()
    recipients = models.PositiveIntegerField()
    sent = models.PositiveIntegerField()
    traced_ms = models.PositiveIntegerField()
    adds_up = models.BooleanField()
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.CharField(max_length=80, blank=True, default="")
    found = models.PositiveIntegerField(null=True, blank=True)
    missing = models.TextField(blank=True, default="")
    note = models.CharField(max_length=300, blank=True, default="")

    objects = AlarmDrillQuerySet.as_manager()

    class Meta:
        ordering = ["-begun_at", "id"]

    def __str__(self) -> str:
        return f"{self.traced_from} {self.begun_at:%Y-%m-%d}"
