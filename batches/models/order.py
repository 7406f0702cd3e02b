"""What was promised, to whom, and for when?"""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from batches.models.taxon import Taxon


class OrderQuerySet(models.QuerySet["Order"]):
    """Orders in words."""

    def open(self) -> Self:
        """Orders neither fulfilled nor called off."""
        return self.filter(closed_on__isnull=True)


class Order(models.Model):
    """Pots promised."""

    code = models.CharField(max_length=32, unique=True)
    taxon = models.ForeignKey(Taxon, on_delete=models.PROTECT, related_name="orders")
    quantity = models.PositiveIntegerField()
    pot_size = models.CharField(max_length=20, blank=True, default="")
    wanted_on = models.DateField()
    customer = models.CharField(max_length=120, blank=True, default="")
    closed_on = models.DateField(null=True, blank=True)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["wanted_on", "code"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=1), name="order_of_at_least_one")
        ]

    def __str__(self) -> str:
        return self.code
