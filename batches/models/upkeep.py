"""What does the nursery set for itself, what waits to be settled, and what was printed?"""

from __future__ import annotations

import uuid
from typing import ClassVar, Self

from django.db import models

from batches.models.events import Event, EventQuerySet
from batches.models.people import Device, Person
from batches.models.tray import Tray


class NurserySetting(models.Model):
    """One setting by name; its value as JSON. Known names: `batches.services.own_settings`."""

    name = models.CharField(max_length=40, primary_key=True)
    value = models.JSONField()

    def __str__(self) -> str:
        return self.name


class ToSettleQuerySet(models.QuerySet["ToSettle"]):
    """What the manager has to settle, in words."""

    def open(self) -> Self:
        """Not settled yet."""
        return self.filter(settled_at__isnull=True)


class ToSettle(models.Model):
    """Something that happened at the bench and contradicts what is stored: kept, not refused."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    item = models.JSONField()
    reason = models.CharField(max_length=300)
    tray = models.ForeignKey(
        Tray, on_delete=models.PROTECT, null=True, blank=True, related_name="to_settle"
    )
    by = models.CharField(max_length=80, blank=True, default="")
    #: when it happened, the device's clock put right; the item says what that clock said
    at = models.DateTimeField(null=True, blank=True)
    device = models.ForeignKey(
        Device, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    recorded_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.CharField(max_length=80, blank=True, default="")
    settled_how = models.CharField(max_length=200, blank=True, default="")

    objects = ToSettleQuerySet.as_manager()

    class Meta:
        ordering = ["recorded_at", "id"]
        verbose_name_plural = "to settle"

    def __str__(self) -> str:
        return self.reason


class LabelPrint(models.Model):
    """One run of labels: what was printed, on which stock, by whom."""

    printed_at = models.DateTimeField()
    by = models.CharField(max_length=80)
    stock = models.CharField(max_length=40)
    kind = models.CharField(max_length=8)
    codes = models.TextField()
    labels = models.PositiveIntegerField()

    class Meta:
        ordering = ["-printed_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.labels} labels {self.printed_at:%Y-%m-%d}"


class CareReminder(models.Model):
    """A care the nursery wants to be reminded of on a route: wean, feed at half strength."""

    route = models.CharField(max_length=10)
    care = models.CharField(max_length=20)
    enabled = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["route", "care"], name="care_reminder_once")]

    def __str__(self) -> str:
        return f"{self.route}: {self.care}"


class CareDone(Event):
    """A care was given to a tray on a day."""

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="cares")
    care = models.CharField(max_length=20)
    on = models.DateField()

    objects: ClassVar = EventQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.tray_id} {self.care} {self.on}"


class WorkShare(models.Model):
    """A line of Today or of this week's work given to a person for a day."""

    line = models.CharField(max_length=80)
    on = models.DateField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="work_shares")
    given_by = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["line", "on"], name="line_given_to_one_person_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.line} to {self.person_id}"


class PlannedSowing(models.Model):
    """A sowing that is planned and not sown yet."""

    taxon = models.ForeignKey("batches.Taxon", on_delete=models.PROTECT, related_name="+")
    trays = models.PositiveIntegerField()
    sow_on = models.DateField()
    why = models.CharField(max_length=200, blank=True, default="")
    planned_by = models.CharField(max_length=80)
    planned_at = models.DateTimeField()
    batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    dropped_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["sow_on", "pk"]

    def __str__(self) -> str:
        return f"{self.taxon_id}: {self.trays} on {self.sow_on}"
