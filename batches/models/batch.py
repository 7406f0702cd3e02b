"""What was started together, from one origin, by one route?"""

from __future__ import annotations

from functools import cached_property
from typing import Self

from django.db import models
from django.db.models import Q

from batches.core.names import Run
from batches.core.stages import Route
from batches.models.medium import MediumBatch
from batches.models.source import Source
from batches.models.spore_lot import SporeLot
from batches.models.taxon import Taxon

ROUTE_CHOICES = (
    ("spore", "spores"),
    ("bulbil", "bulbils"),
    ("division", "division"),
    ("bought_in", "bought in"),
)


class BatchQuerySet(models.QuerySet["Batch"]):
    """Batches in words."""

    def for_list(self) -> Self:
        """Everything the batches page reads, but its trays' counts."""
        return self.select_related("taxon", "spore_lot__source", "source", "medium_batch")


class Batch(models.Model):
    """One propagation batch; its trays never mix with another batch's."""

    code = models.CharField(max_length=32, unique=True)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="batches")
    route = models.CharField(max_length=10, choices=ROUTE_CHOICES)
    sold_as = models.CharField(max_length=160, blank=True, default="")
    spore_lot = models.ForeignKey(
        SporeLot, on_delete=models.PROTECT, null=True, blank=True, related_name="batches"
    )
    source = models.ForeignKey(
        Source, on_delete=models.PROTECT, null=True, blank=True, related_name="batches"
    )
    medium_batch = models.ForeignKey(
        MediumBatch, on_delete=models.PROTECT, null=True, blank=True, related_name="batches"
    )
    started_on = models.DateField(db_index=True)
    sown_mg = models.FloatField(null=True, blank=True)
    confirmed_true_on = models.DateField(null=True, blank=True)
    #: the given-out batch code whose groups its trays take, when its own code is the nursery's
    code_stem = models.CharField(max_length=32, blank=True, default="")
    #: the last tray number given out
    trays_given = models.PositiveIntegerField(default=0)
    notes = models.TextField(blank=True, default="")

    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["-started_on", "code"]
        verbose_name_plural = "batches"
        constraints = [
            models.CheckConstraint(
                condition=Q(route__in=[str(route) for route in Route]), name="batch_route_known"
            )
        ]

    def __str__(self) -> str:
        return self.code

    @cached_property
    def sold_name(self) -> tuple[Run, ...]:
        """What labels print, as runs of roman and italic text.

        The nursery's own *sold as* where one is given. Else a spore-raised cultivar that is not
        confirmed true is printed under its Group, or as “ex” the cultivar (International Code of
        Nomenclature for Cultivated Plants: a cultivar's name belongs to plants true to it).
        """
        if self.sold_as:
            return (Run(self.sold_as, italic=False),)
        name = self.taxon.name
        if self.route != Route.SPORE or not name.cultivar or self.confirmed_true_on is not None:
            return name.runs
        plain = type(name)(
            genus=name.genus,
            species=name.species,
            infra_rank=name.infra_rank,
            infra_epithet=name.infra_epithet,
            group=name.group,
            hybrid=name.hybrid,
        )
        if name.group:
            return plain.runs
        return (*plain.runs, Run(f" ex '{name.cultivar}'", italic=False))
