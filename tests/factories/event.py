"""Looks, passages, rows of the stock book and places, as bare rows.

These write what happened and nothing else; call `batches.services.standing.refold` when the fold
of the tray matters.
"""

from __future__ import annotations

from factory.declarations import SelfAttribute, SubFactory
from factory.django import DjangoModelFactory

from batches.models import KeepingChange, Place, PlantMovement, StageTransition, TrayCheck
from tests.factories.days import NOW, TODAY
from tests.factories.tray import TrayFactory


class TrayCheckFactory(DjangoModelFactory[TrayCheck]):
    """A look at which nothing new was seen."""

    class Meta:
        model = TrayCheck
        skip_postgeneration_save = True

    tray = SubFactory(TrayFactory)
    seen_at = NOW
    recorded_at = NOW
    by = "Una Tarn"


class StageTransitionFactory(DjangoModelFactory[StageTransition]):
    """A passage from the tray's start stage, seen today."""

    class Meta:
        model = StageTransition
        skip_postgeneration_save = True

    tray = SubFactory(TrayFactory)
    from_stage = SelfAttribute("tray.start_stage")
    to_stage = "gametophyte"
    seen_on = TODAY
    recorded_at = NOW
    by = "Una Tarn"


class PlantMovementFactory(DjangoModelFactory[PlantMovement]):
    """A first count of 60."""

    class Meta:
        model = PlantMovement
        skip_postgeneration_save = True

    tray = SubFactory(TrayFactory)
    on = TODAY
    kind = "in"
    quantity = 60
    recorded_at = NOW
    by = "Una Tarn"


class PlaceFactory(DjangoModelFactory[Place]):
    """Where a tray stood from a day on."""

    class Meta:
        model = Place
        skip_postgeneration_save = True

    tray = SubFactory(TrayFactory)
    on = TODAY
    recorded_at = NOW
    by = "Una Tarn"


class KeepingChangeFactory(DjangoModelFactory[KeepingChange]):
    """A lid that was vented."""

    class Meta:
        model = KeepingChange
        skip_postgeneration_save = True

    tray = SubFactory(TrayFactory)
    on = TODAY
    what = "cover"
    after = "vented"
    recorded_at = NOW
    by = "Una Tarn"
