"""What was mixed, of which parts, and how was it made clean?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q


class Medium(models.Model):
    """A recipe by parts of volume that the nursery uses again and again."""

    name = models.CharField(max_length=60, unique=True)
    recipe = models.CharField(max_length=200)
    notes = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "media"

    def __str__(self) -> str:
        return self.name


class MediumBatch(models.Model):
    """One mixing of a recipe; ``recipe`` is ``peat:2 perlite:1``, parts by volume."""

    code = models.CharField(max_length=32, unique=True)
    recipe = models.CharField(max_length=200)
    treatment = models.CharField(max_length=80, blank=True, default="")
    temperature_c = models.FloatField(null=True, blank=True)
    minutes = models.FloatField(null=True, blank=True)
    made_on = models.DateField()
    cooled_at = models.DateTimeField(null=True, blank=True)
    litres = models.FloatField(null=True, blank=True)
    bag_number = models.CharField(max_length=80, blank=True, default="")
    notes = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["-made_on", "code"]
        verbose_name_plural = "medium batches"
        constraints = [
            models.CheckConstraint(
                condition=Q(temperature_c__isnull=True) | Q(temperature_c__range=(0, 200)),
                name="medium_temperature_possible",
            ),
            models.CheckConstraint(
                condition=(Q(minutes__isnull=True) | Q(minutes__gte=0))
                & (Q(litres__isnull=True) | Q(litres__gte=0)),
                name="medium_amounts_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.code
