"""Which codes were ever used, by what kind of thing?

One register keeps codes unique for ever and across kinds; a code handed back stays in it.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

KINDS = (
    "taxon", "source", "lot", "medium", "house", "bench", "batch", "tray", "order",
)  # fmt: skip


class CodeEntry(models.Model):
    """One code, whatever carries it; ``folded`` is the code in lower case for look-ups."""

    code = models.CharField(max_length=32, primary_key=True)
    folded = models.CharField(max_length=32, db_index=True)
    kind = models.CharField(max_length=8)
    given_out_here = models.BooleanField(default=False)
    handed_back_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "code entries"
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=KINDS), name="code_kind_known"),
            models.CheckConstraint(condition=~Q(code=""), name="code_not_empty"),
        ]

    def __str__(self) -> str:
        return self.code


class CodeCounter(models.Model):
    """The last serial given out in a series (``26W14`` for batches, ``L26`` for lots …)."""

    series = models.CharField(max_length=12, primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.series}: {self.last}"
