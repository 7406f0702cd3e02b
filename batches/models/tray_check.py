"""Who looked at a tray, when, and what was seen?"""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q

from batches.core.signs import Sign
from batches.models.events import Event, EventQuerySet
from batches.models.people import Device, Person
from batches.models.tray import STAGE_CHOICES, Tray


class TrayCheck(Event):
    """Somebody looked; *look* on screens. “Nothing new” is a row too.

    ``seen_at`` is when it happened (the device's clock, corrected when it was more than five
    minutes off; then ``seen_at_device`` keeps what the device said), ``recorded_at`` when the
    server stored it. A *glance* satisfies the look that was due and proves nothing of a stage.
    """

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="checks")
    seen_at = models.DateTimeField()
    seen_at_device = models.DateTimeField(null=True, blank=True)
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    device_ref = models.ForeignKey(
        Device, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    #: whether who looked proved it by PIN or badge; None where nobody was asked
    by_verified = models.BooleanField(null=True, blank=True)
    device = models.CharField(max_length=80, blank=True, default="")
    device_seq = models.BigIntegerField(null=True, blank=True)
    stage_seen = models.CharField(max_length=12, choices=STAGE_CHOICES, blank=True, default="")
    count = models.PositiveIntegerField(null=True, blank=True)
    about = models.BooleanField(default=False)
    signs = models.CharField(max_length=240, blank=True, default="")
    opened = models.BooleanField(default=False)
    glance = models.BooleanField(default=False)
    note = models.TextField(blank=True, default="")
    source = models.CharField(max_length=20, blank=True, default="")

    objects: ClassVar = EventQuerySet.as_manager()

    class Meta:
        ordering = ["seen_at", "device_seq", "id"]
        indexes = [
            models.Index(fields=["tray", "seen_at"], name="check_of_tray"),
            # “What went wrong yesterday” (services.today) reads only looks that showed something.
            models.Index(fields=["seen_at"], name="check_with_signs", condition=~Q(signs="")),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(about=False) | Q(count__isnull=False), name="check_about_a_count"
            ),
            models.CheckConstraint(
                condition=Q(glance=False) | Q(stage_seen="", count__isnull=True),
                name="check_glance_proves_nothing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tray_id} {self.seen_at:%Y-%m-%d %H:%M}"

    @property
    def sign_set(self) -> frozenset[Sign]:
        """Troubles and heart shapes seen."""
        return frozenset(Sign(word) for word in self.signs.split())


class CheckPhoto(models.Model):
    """A picture taken at a look, re-encoded by us, without place or camera data."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    check_row = models.ForeignKey(TrayCheck, on_delete=models.PROTECT, related_name="photos")
    file = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    green_share = models.FloatField(null=True, blank=True)
    green_second = models.FloatField(null=True, blank=True)
    comparable = models.BooleanField(null=True, blank=True)
    #: the fields of `core.photo_light.PhotoLight`; None for one that was not reckoned so
    light = models.JSONField(null=True, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["recorded_at", "id"]

    def __str__(self) -> str:
        return self.file
