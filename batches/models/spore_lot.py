"""Which spores lie in the drawer, how dry, how clean, how alive?"""

from __future__ import annotations

import uuid
from typing import Self

from django.db import models
from django.db.models import F, Q

from batches.models.source import Source
from batches.models.taxon import Taxon

METHODS = (
    ("fronds in paper", "fronds in paper"),
    ("scraped", "scraped"),
    ("received", "received"),
)


class SporeLotQuerySet(models.QuerySet["SporeLot"]):
    """Lots in words."""

    def drying(self) -> Self:
        """Lots laid out to dry and not cleaned yet."""
        return self.filter(drying_since__isnull=False, cleaned_on__isnull=True, ended_on=None)

    def in_store(self) -> Self:
        """Lots not used up or thrown away."""
        return self.filter(ended_on__isnull=True)

    def for_list(self) -> Self:
        """Everything the lots page reads."""
        return self.select_related("taxon", "source").prefetch_related("germination_tests")


class SporeLot(models.Model):
    """One collection of spores of one fern from one origin."""

    code = models.CharField(max_length=32, unique=True)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="spore_lots")
    source = models.ForeignKey(Source, on_delete=models.PROTECT, related_name="spore_lots")
    collected_on = models.DateField()
    collected_by = models.CharField(max_length=80, blank=True, default="")
    method = models.CharField(max_length=40, blank=True, default="")
    ripeness = models.CharField(max_length=80, blank=True, default="")
    drying_since = models.DateField(null=True, blank=True)
    cleaned_on = models.DateField(null=True, blank=True)
    mass_mg = models.FloatField(null=True, blank=True)
    remaining_mg = models.FloatField(null=True, blank=True)
    storage = models.CharField(max_length=120, blank=True, default="")
    sow_by = models.DateField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True, default="")

    objects = SporeLotQuerySet.as_manager()

    class Meta:
        ordering = ["-collected_on", "code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(cleaned_on__isnull=True) | Q(cleaned_on__gte=F("collected_on")),
                name="lot_cleaned_after_collected",
            ),
            models.CheckConstraint(
                condition=(Q(mass_mg__isnull=True) | Q(mass_mg__gte=0))
                & (Q(remaining_mg__isnull=True) | Q(remaining_mg__gte=0)),
                name="lot_mass_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class GerminationTest(models.Model):
    """A sample sown and counted on a day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lot = models.ForeignKey(SporeLot, on_delete=models.PROTECT, related_name="germination_tests")
    sown_on = models.DateField()
    counted_on = models.DateField(null=True, blank=True)
    counted = models.PositiveIntegerField(null=True, blank=True)
    germinated = models.PositiveIntegerField(null=True, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["sown_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(counted_on__isnull=True, counted__isnull=True, germinated__isnull=True)
                | Q(counted_on__isnull=False, counted__isnull=False, germinated__isnull=False)
                & Q(counted__gte=1, germinated__lte=F("counted"), counted_on__gte=F("sown_on")),
                name="germination_not_more_than_counted",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} {self.sown_on}"

    @property
    def days(self) -> int | None:
        """Days after sowing at which it was counted; None while it waits."""
        return None if self.counted_on is None else (self.counted_on - self.sown_on).days
