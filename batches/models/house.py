"""Where do trays stand, in which order does one walk past them, and how cold was the night?"""

from __future__ import annotations

import uuid
from typing import Self

from django.db import models
from django.db.models import F, Q


class House(models.Model):
    """A glasshouse, tunnel or frame."""

    code = models.CharField(max_length=32, unique=True)
    name = models.CharField(max_length=80, blank=True, default="")
    light_note = models.CharField(max_length=200, blank=True, default="")
    temperature_note = models.CharField(max_length=200, blank=True, default="")
    frost_free = models.BooleanField(default=False)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name or self.code


class BenchQuerySet(models.QuerySet["Bench"]):
    """Benches in words."""

    def in_walking_order(self) -> Self:
        """Benches as one walks past them; those without a place in the walk last."""
        return self.order_by(F("walk_order").asc(nulls_last=True), "house__code", "code")


class Bench(models.Model):
    """A bench of rows and columns of places."""

    code = models.CharField(max_length=32, unique=True)
    house = models.ForeignKey(House, on_delete=models.PROTECT, related_name="benches")
    name = models.CharField(max_length=80, blank=True, default="")
    rows = models.PositiveSmallIntegerField(null=True, blank=True)
    columns = models.PositiveSmallIntegerField(null=True, blank=True)
    walk_order = models.IntegerField(null=True, blank=True)

    objects = BenchQuerySet.as_manager()

    class Meta:
        ordering = ["walk_order", "code"]
        verbose_name_plural = "benches"
        constraints = [
            models.CheckConstraint(
                condition=(Q(rows__isnull=True) | Q(rows__range=(1, 200)))
                & (Q(columns__isnull=True) | Q(columns__range=(1, 200))),
                name="bench_size_within_reason",
            )
        ]

    def __str__(self) -> str:
        return self.name or self.code


class HouseReading(models.Model):
    """The lowest and highest temperature of one day in a house, in °C."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    house = models.ForeignKey(House, on_delete=models.PROTECT, related_name="readings")
    on = models.DateField(db_index=True)
    lowest_c = models.FloatField(null=True, blank=True)
    highest_c = models.FloatField(null=True, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(lowest_c__isnull=True)
                | Q(highest_c__isnull=True)
                | Q(lowest_c__lte=F("highest_c")),
                name="reading_lowest_below_highest",
            )
        ]

    def __str__(self) -> str:
        return f"{self.house_id} {self.on}"
