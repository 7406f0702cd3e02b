"""What the tests make records with: one factory a noun, fixed days, codes in the register."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tests.factories.days import NOW, STARTED_ON, TODAY, ZONE, at

if TYPE_CHECKING:
    # A factory is called like a function and gives a row of its model; no type can say so.
    BatchFactory: Any
    BenchFactory: Any
    DeviceFactory: Any
    GerminationTestFactory: Any
    HouseFactory: Any
    KeepingChangeFactory: Any
    LaidOutTrayFactory: Any
    MediumBatchFactory: Any
    OrderFactory: Any
    ParentageFactory: Any
    PersonFactory: Any
    PlaceFactory: Any
    PlantMovementFactory: Any
    SourceFactory: Any
    SporeLotFactory: Any
    StageTransitionFactory: Any
    TaxonFactory: Any
    TrayCheckFactory: Any
    TrayFactory: Any
else:
    from tests.factories.batch import BatchFactory
    from tests.factories.event import (
        KeepingChangeFactory,
        PlaceFactory,
        PlantMovementFactory,
        StageTransitionFactory,
        TrayCheckFactory,
    )
    from tests.factories.house import BenchFactory, HouseFactory
    from tests.factories.medium import MediumBatchFactory
    from tests.factories.order import OrderFactory
    from tests.factories.people import DeviceFactory, PersonFactory
    from tests.factories.source import SourceFactory
    from tests.factories.spore_lot import GerminationTestFactory, SporeLotFactory
    from tests.factories.taxon import TaxonFactory
    from tests.factories.tray import LaidOutTrayFactory, ParentageFactory, TrayFactory

__all__ = [
    "NOW",
    "STARTED_ON",
    "TODAY",
    "ZONE",
    "BatchFactory",
    "BenchFactory",
    "DeviceFactory",
    "GerminationTestFactory",
    "HouseFactory",
    "KeepingChangeFactory",
    "LaidOutTrayFactory",
    "MediumBatchFactory",
    "OrderFactory",
    "ParentageFactory",
    "PersonFactory",
    "PlaceFactory",
    "PlantMovementFactory",
    "SourceFactory",
    "SporeLotFactory",
    "StageTransitionFactory",
    "TaxonFactory",
    "TrayCheckFactory",
    "TrayFactory",
    "at",
]
