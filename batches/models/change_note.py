"""What was changed that no event row tells of, in a chain that shows a missing link?"""

from __future__ import annotations

from django.db import models


class ChangeNote(models.Model):
    """One change: who, from where, when by both clocks, what, before and after, and why.

    ``before`` and ``after`` are JSON as text, empty for none. ``hash`` seals all other columns
    together with the hash of the note before (`batches.services.change_notes`).
    """

    number = models.PositiveBigIntegerField(primary_key=True)
    at = models.DateTimeField()
    device_at = models.DateTimeField(null=True, blank=True)
    by = models.CharField(max_length=80, blank=True, default="")
    device = models.CharField(max_length=80, blank=True, default="")
    what = models.CharField(max_length=60)
    about = models.CharField(max_length=200, blank=True, default="")
    before = models.TextField(blank=True, default="")
    after = models.TextField(blank=True, default="")
    why = models.CharField(max_length=300, blank=True, default="")
    previous = models.CharField(max_length=64, blank=True, default="")
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.CheckConstraint(condition=models.Q(number__gte=1), name="change_note_counted"),
            models.UniqueConstraint(fields=["previous"], name="change_note_follows_once"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.what} {self.about}".strip()
