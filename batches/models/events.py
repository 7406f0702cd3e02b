"""What is only ever added: rows that stay readable, and the later row that strikes one out?"""

from __future__ import annotations

import uuid
from typing import Any, Self

from django.db import models


class EventQuerySet(models.QuerySet[Any]):
    """Rows that are added and never changed; the database refuses UPDATE and DELETE too."""

    def standing(self) -> Self:
        """Rows that hold: neither struck out nor themselves a strike-out."""
        return self.filter(strikes_out__isnull=True, struck_by__isnull=True)

    def struck(self) -> Self:
        """Rows that a later row struck out."""
        return self.filter(struck_by__isnull=False)


class Event(models.Model):
    """A fact with an id made where it was made; storing it again changes nothing."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    by = models.CharField(max_length=80, blank=True, default="")
    recorded_at = models.DateTimeField()
    strikes_out = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="struck_by"
    )

    class Meta:
        abstract = True
