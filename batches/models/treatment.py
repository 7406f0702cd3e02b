"""What was put on a house, a bench or trays, and until when is the door shut?"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Self

from django.db import models
from django.db.models import Q


class TreatmentQuerySet(models.QuerySet["Treatment"]):
    """Treatments in words."""

    def newest_first(self) -> Self:
        """As the register is read."""
        return self.order_by("-done_at", "-recorded_at", "id")


class Treatment(models.Model):
    """A product or a biological control as the operator wrote it down from its label.

    ``place_or_trays`` holds codes of houses, benches or trays with spaces between. Frondbook
    recommends no product and no dose.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    done_at = models.DateTimeField(db_index=True)
    product = models.CharField(max_length=120)
    rate = models.CharField(max_length=80, blank=True, default="")
    place_or_trays = models.TextField()
    operator = models.CharField(max_length=80)
    reentry_hours = models.FloatField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    #: what it said before it was mended, a line each time
    said_before = models.TextField(blank=True, default="")

    objects = TreatmentQuerySet.as_manager()

    class Meta:
        ordering = ["done_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reentry_hours__isnull=True) | Q(reentry_hours__range=(0, 24 * 60)),
                name="treatment_reentry_within_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.product} {self.done_at:%Y-%m-%d}"

    @property
    def places(self) -> tuple[str, ...]:
        """The codes it names."""
        return tuple(self.place_or_trays.split())

    @property
    def reentry_at(self) -> datetime | None:
        """When the place may be entered again; None when nothing was noted."""
        if not self.reentry_hours:
            return None
        return self.done_at + timedelta(hours=self.reentry_hours)


class ExaminationQuerySet(models.QuerySet["Examination"]):
    """Examinations in words."""

    def newest_first(self) -> Self:
        """As an inspector reads them."""
        return self.order_by("-on", "-recorded_at")


class Examination(models.Model):
    """A plant-health examination as an inspector asks for it: where, what was found, what done."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    on = models.DateField()
    examiner = models.CharField(max_length=80)
    place_or_trays = models.TextField()
    looked_for = models.CharField(max_length=200, blank=True, default="")
    finding = models.TextField(blank=True, default="")
    action = models.TextField(blank=True, default="")
    recorded_at = models.DateTimeField()

    objects = ExaminationQuerySet.as_manager()

    class Meta:
        ordering = ["on", "id"]

    def __str__(self) -> str:
        return f"{self.examiner} {self.on}"
