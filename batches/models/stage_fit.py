"""How long does each fern take here, as last reckoned: what due dates are made from?"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.models.taxon import Taxon


class StageFit(models.Model):
    """The stored estimate of one fern, route and stage; `batches.services.refits` writes it.

    ``expected_days`` and ``late_days`` are on the stage's clock. ``own`` says that it rests on
    this fern's trays alone. The evidence columns are what the fern says to its relatives; empty
    while none of its trays has moved on.
    """

    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="stage_fits")
    route = models.CharField(max_length=10)
    stage = models.CharField(max_length=12)
    trays = models.PositiveIntegerField()
    expected_days = models.FloatField()
    late_days = models.FloatField()
    stalled_share = models.FloatField()
    own = models.BooleanField()
    basis = models.CharField(max_length=120)
    window_early = models.FloatField()
    window_late = models.FloatField()
    evidence_mean = models.FloatField(null=True, blank=True)
    evidence_variance = models.FloatField(null=True, blank=True)
    evidence_trays = models.FloatField(null=True, blank=True)
    revision = models.PositiveIntegerField(default=1)
    fitted_on = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["taxon", "route", "stage"], name="one_fit_per_fern_route_and_stage"
            ),
            models.CheckConstraint(
                condition=Q(expected_days__gt=0, late_days__gt=0, trays__gte=1),
                name="fit_of_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.taxon_id} {self.stage}: {self.expected_days:.0f}, {self.late_days:.0f} days"
