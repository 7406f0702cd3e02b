"""At which private address does a person's calendar fetch the week's looks?"""

from __future__ import annotations

from typing import Self

from django.db import models

from batches.models.people import Person


class CalendarAddressQuerySet(models.QuerySet["CalendarAddress"]):
    """Calendar addresses in words."""

    def open(self) -> Self:
        """Addresses not revoked, of people who still work here."""
        return self.filter(revoked_at__isnull=True, person__is_active=True)


class CalendarAddress(models.Model):
    """A calendar's address; only the hash of its secret is stored."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="calendars")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    last_read_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = CalendarAddressQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "pk"]
        verbose_name_plural = "calendar addresses"

    def __str__(self) -> str:
        return f"calendar of {self.person_id}"
