"""What changed the count of a tray, and by how many?"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from batches.core.signs import CAUSES
from batches.models.events import Event, EventQuerySet
from batches.models.order import Order
from batches.models.tray import Tray

MOVEMENT_KINDS = (
    ("in", "counted in"),
    ("loss", "lost"),
    ("out", "moved out"),
    ("dispatch", "dispatched"),
    ("recount", "recount difference"),
)


class PlantMovementQuerySet(EventQuerySet):
    """The stock book in words."""

    def touching(self, tray: Tray) -> PlantMovementQuerySet:
        """Rows of the tray and rows that brought something into it."""
        return self.filter(Q(tray=tray) | Q(to_tray=tray))


class PlantMovement(Event):
    """One row of the stock book; *stock book* on screens.

    ``quantity`` is in the tray's own unit; ``arrived`` in the unit of ``to_tray`` (empty means
    the same number). A recount is signed, everything else positive. A loss is dated by the look
    that found it.
    """

    tray = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="movements")
    on = models.DateField()
    #: the hour of a deed, where a tablet's clock told it
    at = models.DateTimeField(null=True, blank=True)
    kind = models.CharField(max_length=8, choices=MOVEMENT_KINDS)
    quantity = models.IntegerField()
    arrived = models.PositiveIntegerField(null=True, blank=True)
    cause = models.CharField(max_length=20, blank=True, default="")
    to_tray = models.ForeignKey(
        Tray, on_delete=models.PROTECT, null=True, blank=True, related_name="arrivals"
    )
    recipient = models.CharField(max_length=120, blank=True, default="")
    order = models.ForeignKey(
        Order, on_delete=models.PROTECT, null=True, blank=True, related_name="dispatches"
    )

    objects: ClassVar = PlantMovementQuerySet.as_manager()

    class Meta:
        ordering = ["on", "recorded_at", "id"]
        indexes = [
            models.Index(fields=["tray", "on"], name="movement_of_tray"),
            models.Index(fields=["kind", "on"], name="movement_by_kind"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=[kind for kind, _ in MOVEMENT_KINDS]),
                name="movement_kind_known",
            ),
            models.CheckConstraint(
                condition=Q(kind="recount") & ~Q(quantity=0) | Q(quantity__gte=1),
                name="movement_quantity_positive",
            ),
            models.CheckConstraint(
                condition=Q(to_tray__isnull=True) | Q(kind="out"),
                name="movement_only_out_has_a_child",
            ),
            models.CheckConstraint(
                condition=Q(arrived__isnull=True) | Q(to_tray__isnull=False, arrived__gte=1),
                name="movement_arrives_in_a_tray",
            ),
            models.CheckConstraint(
                condition=Q(recipient="", order__isnull=True) | Q(kind="dispatch"),
                name="movement_only_dispatch_has_a_recipient",
            ),
            models.CheckConstraint(
                condition=Q(cause__in=["", *CAUSES]), name="movement_cause_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tray_id} {self.kind} {self.quantity} {self.on}"

    @property
    def arrived_there(self) -> int:
        """What arrived in the child's unit."""
        return self.quantity if self.arrived is None else self.arrived
