"""Which plant passports were issued, on how many pots, in whose place?"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from batches.models.batch import Batch
from batches.models.events import Event, EventQuerySet


class PassportIssue(Event):
    """A plant passport as it was printed: its parts word for word, and on how many labels.

    ``c`` is the traceability code, the code on the label. ``replaces`` is the passport with which
    the plants came (Regulation (EU) 2016/2031, Article 93), empty for plants raised here. A row
    that strikes one out is labels spoiled or destroyed.
    """

    issued_at = models.DateTimeField(db_index=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="passports")
    form = models.CharField(max_length=2)
    title = models.CharField(max_length=120)
    a = models.CharField(max_length=160)
    b = models.CharField(max_length=60)
    c = models.CharField(max_length=32, db_index=True)
    d = models.CharField(max_length=60)
    e = models.CharField(max_length=60, blank=True, default="")
    labels = models.PositiveIntegerField()
    replaces = models.CharField(max_length=120, blank=True, default="")

    objects: ClassVar = EventQuerySet.as_manager()

    class Meta:
        ordering = ["issued_at", "c", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(form__in=["EU", "GB"]), name="passport_form_known"),
            models.CheckConstraint(condition=Q(labels__gte=1), name="passport_on_a_label"),
        ]

    def __str__(self) -> str:
        return f"{self.c} {self.issued_at:%Y-%m-%d}"
