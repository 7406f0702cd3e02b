"""What stands on a bench and carries one label, and what is due with it?"""

from __future__ import annotations

from datetime import date
from typing import Self

from django.db import models
from django.db.models import F, Q

from batches.core.lateness import is_stage_late
from batches.core.signs import Sign
from batches.core.stages import COVERED_STAGES, RESTING_STAGES, STAGE_WORDS, Route, Stage
from batches.models.batch import Batch
from batches.models.house import Bench
from batches.models.medium import MediumBatch

STAGE_CHOICES = tuple((str(stage), word) for stage, word in STAGE_WORDS.items())
UNITS = (("plants", "plants"), ("patches", "patches"), ("pots", "pots"))
COVERS = (("closed", "closed"), ("vented", "vented"), ("off", "off"))
ENDS = (("cleared", "cleared"), ("dispatched", "dispatched"), ("discarded", "discarded"))
CONTAINER_STATES = (("new", "new"), ("washed", "washed"))

_STAGE_VALUES = [str(stage) for stage in Stage]


class TrayQuerySet(models.QuerySet["Tray"]):
    """Trays in words."""

    def active(self) -> Self:
        """Trays that still stand (per-object twin: `Tray.is_active`)."""
        return self.filter(ended_on__isnull=True)

    def due(self, today: date) -> Self:
        """Active trays with a line on Today: something falls on or before the day."""
        return self.active().filter(due_on__lte=today)

    def late_in_stage(self, today: date) -> Self:
        """Active trays late in their stage (per-object twin: `Tray.is_late_in_stage`)."""
        week = today.isocalendar().week
        first, last = "batch__taxon__rest_from_week", "batch__taxon__rest_to_week"
        begun, goes_on = Q((f"{first}__lte", week)), Q((f"{last}__gte", week))
        resting = Q(stage__in=[str(stage) for stage in RESTING_STAGES]) & (
            (begun & goes_on & Q((f"{first}__lte", F(last))))
            | ((begun | goes_on) & Q((f"{first}__gt", F(last))))
        )
        seen_late = Q(late_on__lte=today, last_close_look_on__gte=F("late_on"))
        return self.active().filter(seen_late).exclude(resting)

    def unlabelled(self) -> Self:
        """Active trays whose label was never printed."""
        return self.active().filter(label_printed_on__isnull=True)

    def covered(self) -> Self:
        """Trays in a stage that is kept under a lid."""
        return self.filter(stage__in=[str(stage) for stage in COVERED_STAGES])

    def in_walking_order(self) -> Self:
        """Bench by bench; clean closed trays before opened ones, isolated ones last."""
        return self.order_by(
            F("bench__walk_order").asc(nulls_last=True),
            "bench__code",
            "isolated",
            F("opened_on").asc(nulls_first=True),
            "row",
            "column",
            "code",
        )

    def with_fern(self) -> Self:
        """Bring what a line shows: batch, fern, lot, bench and house."""
        return self.select_related("batch__taxon", "batch__spore_lot", "bench__house")


class Tray(models.Model):
    """A covered sowing tray, a cell tray or a carrier of pots.

    The columns from ``stage`` on are a fold over the tray's looks, transitions, movements and
    places, stored for speed; `batches.services.standing` recomputes them and
    ``check_stored_dates`` compares.
    """

    code = models.CharField(max_length=32, unique=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="trays")
    container = models.CharField(max_length=60)
    cells = models.PositiveSmallIntegerField(null=True, blank=True)
    started_on = models.DateField()
    start_stage = models.CharField(max_length=12, choices=STAGE_CHOICES)
    parents: models.ManyToManyField[Tray, Parentage] = models.ManyToManyField(
        "self",
        symmetrical=False,
        related_name="children",
        through="Parentage",
        through_fields=("child", "parent"),
        blank=True,
    )
    medium_batch = models.ForeignKey(
        MediumBatch, on_delete=models.PROTECT, null=True, blank=True, related_name="trays"
    )
    unit = models.CharField(max_length=8, choices=UNITS, default="plants")
    pot_size = models.CharField(max_length=20, blank=True, default="")
    container_state = models.CharField(
        max_length=8, choices=CONTAINER_STATES, blank=True, default=""
    )
    control = models.BooleanField(default=False)
    label_printed_on = models.DateField(null=True, blank=True)
    come_back_on = models.DateField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    end = models.CharField(max_length=10, choices=ENDS, blank=True, default="")
    end_cause = models.CharField(max_length=20, blank=True, default="")

    # Where it stands and how it is kept, as last set.
    bench = models.ForeignKey(
        Bench, on_delete=models.PROTECT, null=True, blank=True, related_name="trays"
    )
    row = models.PositiveSmallIntegerField(null=True, blank=True)
    column = models.PositiveSmallIntegerField(null=True, blank=True)
    cover = models.CharField(max_length=8, choices=COVERS, blank=True, default="")
    isolated = models.BooleanField(default=False)

    # The stored fold.
    stage = models.CharField(max_length=12, choices=STAGE_CHOICES)
    stage_not_before = models.DateField(null=True, blank=True)
    stage_seen_on = models.DateField()
    last_look_on = models.DateField(null=True, blank=True)
    last_close_look_on = models.DateField(null=True, blank=True)
    last_signs = models.CharField(max_length=240, blank=True, default="")
    opened_on = models.DateField(null=True, blank=True)
    alive = models.IntegerField(null=True, blank=True)
    first_picked_on = models.DateField(null=True, blank=True)
    last_picked_on = models.DateField(null=True, blank=True)
    look_due_on = models.DateField(null=True, blank=True)
    look_every = models.PositiveSmallIntegerField(default=7)
    expected_on = models.DateField(null=True, blank=True)
    late_on = models.DateField(null=True, blank=True)
    decide_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    #: counts every write, so that two people at once are told apart
    revision = models.PositiveIntegerField(default=0)

    objects = TrayQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        indexes = [
            # The morning's question: what is due and still stands (services.overdue).
            models.Index(
                fields=["due_on", "id"], name="tray_due", condition=Q(ended_on__isnull=True)
            ),
            models.Index(
                fields=["bench", "row", "column"],
                name="tray_place",
                condition=Q(ended_on__isnull=True),
            ),
            # This week's work (services.weeks_trays).
            models.Index(
                fields=["stage", "expected_on"],
                name="tray_expected",
                condition=Q(ended_on__isnull=True),
            ),
            models.Index(
                fields=["come_back_on"],
                name="tray_come_back",
                condition=Q(ended_on__isnull=True, come_back_on__isnull=False),
            ),
            # What trays were filled with (services.usual_mixes).
            models.Index(
                fields=["medium_batch", "start_stage", "batch", "started_on"], name="tray_filled"
            ),
            # What Today counts of them is few among many.
            models.Index(
                fields=["code"],
                name="tray_control",
                condition=Q(ended_on__isnull=True, control=True),
            ),
            models.Index(
                fields=["label_printed_on"],
                name="tray_label",
                condition=Q(ended_on__isnull=True),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, end="") | Q(ended_on__isnull=False, end__gt=""),
                name="tray_end_has_a_day",
            ),
            models.CheckConstraint(
                condition=Q(end__in=["", "cleared", "dispatched", "discarded"]),
                name="tray_end_known",
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("started_on")),
                name="tray_ends_after_its_start",
            ),
            models.CheckConstraint(
                condition=Q(alive__isnull=True) | Q(alive__gte=0), name="tray_never_below_nothing"
            ),
            models.CheckConstraint(
                condition=Q(stage__in=_STAGE_VALUES, start_stage__in=_STAGE_VALUES),
                name="tray_stage_known",
            ),
            models.CheckConstraint(
                condition=Q(unit__in=["plants", "patches", "pots"]), name="tray_unit_known"
            ),
            models.CheckConstraint(
                condition=Q(bench__isnull=False) | Q(row__isnull=True, column__isnull=True),
                name="tray_place_needs_a_bench",
            ),
            models.CheckConstraint(
                condition=Q(cells__isnull=True) | Q(cells__gte=1), name="tray_cells_at_least_one"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def is_active(self) -> bool:
        """Whether it still stands (QuerySet twin: `TrayQuerySet.active`)."""
        return self.ended_on is None

    def is_late_in_stage(self, today: date) -> bool:
        """Whether it is late in its stage (QuerySet twin: `TrayQuerySet.late_in_stage`)."""
        return self.is_active and is_stage_late(
            stage=Stage(self.stage),
            rest=self.batch.taxon.rest_weeks,
            late_on=self.late_on,
            last_close_look_on=self.last_close_look_on,
            on=today,
        )

    @property
    def route(self) -> Route:
        """What its batch is raised from."""
        return Route(self.batch.route)

    @property
    def signs(self) -> frozenset[Sign]:
        """What the last look showed."""
        return frozenset(Sign(word) for word in self.last_signs.split())

    @property
    def medium(self) -> MediumBatch | None:
        """Its own mixing of medium, else its batch's; None when neither is known."""
        return self.medium_batch if self.medium_batch_id is not None else self.batch.medium_batch


class Parentage(models.Model):
    """Which tray a tray was filled from."""

    parent = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="+")
    child = models.ForeignKey(Tray, on_delete=models.PROTECT, related_name="parentages")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["parent", "child"], name="parent_named_once"),
            models.CheckConstraint(
                condition=~Q(parent=F("child")), name="tray_is_not_its_own_parent"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.parent_id} → {self.child_id}"


class LaidOutQuerySet(models.QuerySet["LaidOutTray"]):
    """Codes given out ahead, in words."""

    def waiting(self) -> Self:
        """Codes neither filled nor handed back."""
        return self.filter(filled_by__isnull=True, handed_back_on__isnull=True)

    def not_filled(self) -> Self:
        """Codes that wait, then those handed back, whose labels are thrown away."""
        found = self.filter(filled_by__isnull=True)
        return found.order_by(F("handed_back_on").asc(nulls_first=True), "code")


class LaidOutTray(models.Model):
    """A code given out before its tray is filled, so that the label lies ready.

    It becomes a `Tray` of the same code when plants are counted into it, or is handed back; a
    handed-back code is never given out again.
    """

    code = models.CharField(max_length=32, unique=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="laid_out")
    parent = models.ForeignKey(
        Tray, on_delete=models.PROTECT, null=True, blank=True, related_name="laid_out"
    )
    deed = models.CharField(max_length=12)
    container = models.CharField(max_length=60)
    cells = models.PositiveSmallIntegerField(null=True, blank=True)
    pot_size = models.CharField(max_length=20, blank=True, default="")
    laid_out_on = models.DateField()
    by = models.CharField(max_length=80, blank=True, default="")
    label_printed_on = models.DateField(null=True, blank=True)
    handed_back_on = models.DateField(null=True, blank=True)
    filled_by = models.OneToOneField(
        Tray, on_delete=models.PROTECT, null=True, blank=True, related_name="laid_out_as"
    )

    objects = LaidOutQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(deed__in=["prick_out", "patch_out", "pot_up", "pot_on"]),
                name="laid_out_deed_known",
            ),
            models.CheckConstraint(
                condition=Q(filled_by__isnull=True) | Q(handed_back_on__isnull=True),
                name="laid_out_filled_or_handed_back",
            ),
        ]

    def __str__(self) -> str:
        return self.code
