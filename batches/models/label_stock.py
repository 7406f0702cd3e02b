"""Which label paper of its own has the nursery measured?"""

from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q


class LabelStockQuerySet(models.QuerySet["LabelStock"]):
    """Label stocks in words."""

    def offered(self) -> Self:
        """Those still in use."""
        return self.filter(in_use=True)


class LabelStock(models.Model):
    """A label paper of the nursery's own: all lengths in mm, `batches.labels.Stock` explains each.

    One that is used up is taken out of use and never deleted: the log of prints names it.
    """

    name = models.CharField(max_length=40, unique=True)
    title = models.CharField(max_length=80)
    page_width = models.FloatField()
    page_height = models.FloatField()
    label_width = models.FloatField()
    label_height = models.FloatField()
    columns = models.PositiveSmallIntegerField(default=1)
    rows = models.PositiveSmallIntegerField(default=1)
    margin_left = models.FloatField(default=0)
    margin_top = models.FloatField(default=0)
    gap_x = models.FloatField(default=0)
    gap_y = models.FloatField(default=0)
    inset_x = models.FloatField(default=1.5)
    inset_y = models.FloatField(default=1.5)
    blank_lower_third = models.BooleanField(default=False)
    single = models.BooleanField(default=False)
    offset_x = models.FloatField(default=0)
    offset_y = models.FloatField(default=0)
    in_use = models.BooleanField(default=True)

    objects = LabelStockQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(page_width__gt=0, page_height__gt=0)
                & Q(label_width__gt=0, label_height__gt=0),
                name="label_stock_has_a_size",
            ),
            models.CheckConstraint(
                condition=Q(rows__gte=1, columns__gte=1), name="label_stock_has_labels"
            ),
        ]

    def __str__(self) -> str:
        return self.title or self.name
