"""Where did material come from: a stock plant, several, the wild, an exchange, a purchase?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.models.house import Bench
from batches.models.taxon import Taxon

SOURCE_KINDS = (
    ("stock_plant", "stock plant"),
    ("pooled", "several mothers pooled"),
    ("tray", "a tray of ours"),
    ("wild", "wild place"),
    ("exchange", "exchange"),
    ("purchase", "purchase"),
)
#: International Transfer Format for Botanic Garden Plant Records, version 2: provenance
PROVENANCES = (
    ("W", "of wild origin"),
    ("Z", "raised from wild-origin material"),
    ("G", "not of wild origin"),
    ("U", "origin not known"),
)


class Source(models.Model):
    """An origin; a stock plant is a thing with a label, a place and ripening weeks."""

    code = models.CharField(max_length=32, unique=True)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="sources")
    kind = models.CharField(max_length=12, choices=SOURCE_KINDS)
    mothers = models.CharField(max_length=400, blank=True, default="")
    bench = models.ForeignKey(
        Bench, on_delete=models.PROTECT, null=True, blank=True, related_name="stock_plants"
    )
    provenance = models.CharField(max_length=1, choices=PROVENANCES)
    locality = models.CharField(max_length=200, blank=True, default="")
    permit = models.CharField(max_length=120, blank=True, default="")
    supplier = models.CharField(max_length=120, blank=True, default="")
    passport = models.CharField(max_length=120, blank=True, default="")
    ripe_from_week = models.PositiveSmallIntegerField(null=True, blank=True)
    ripe_to_week = models.PositiveSmallIntegerField(null=True, blank=True)
    sori_looked_on = models.DateField(null=True, blank=True)
    label_printed_on = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=[kind for kind, _ in SOURCE_KINDS]), name="source_kind_known"
            ),
            models.CheckConstraint(
                condition=Q(provenance__in=["W", "Z", "G", "U"]), name="source_provenance_known"
            ),
            models.CheckConstraint(
                condition=Q(ripe_from_week__isnull=True, ripe_to_week__isnull=True)
                | Q(ripe_from_week__isnull=False, ripe_to_week__isnull=False)
                & Q(ripe_from_week__range=(1, 53), ripe_to_week__range=(1, 53)),
                name="source_ripening_has_both_ends",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def ripe_weeks(self) -> tuple[int, int] | None:
        """First and last ISO week in which its sori ripen; None when not noted."""
        if self.ripe_from_week is None or self.ripe_to_week is None:
            return None
        return self.ripe_from_week, self.ripe_to_week
