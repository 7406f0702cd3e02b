"""A tray: a covered sowing tray, a cell tray or a carrier of pots."""

from __future__ import annotations

from typing import Any

from factory.declarations import LazyAttribute, SelfAttribute, Sequence, SubFactory, Trait
from factory.django import DjangoModelFactory

from batches.core.stages import COVERED_STAGES, START_STAGES, Route, Stage
from batches.models import LaidOutTray, Parentage, Place, PlantMovement, Tray
from tests.factories.batch import BatchFactory
from tests.factories.coded import CodedFactory
from tests.factories.days import NOW, STARTED_ON


class TrayFactory(CodedFactory[Tray]):
    """A labelled tray in the first stage of its batch's route.

    ``counted=60`` writes its first count into the stock book; ``bench=`` also writes the place;
    ``parents=[tray]`` names what it was filled from. The fold holds its stage and count; dates
    that are due come from `batches.services.standing.refold`.
    """

    class Meta:
        model = Tray
        skip_postgeneration_save = True

    class Params:
        cells_of_84 = Trait(
            start_stage="pricked_out", container="cell tray 84", cells=84, unit="plants"
        )
        carrier = Trait(
            start_stage="potted_up", container="carrier 9 cm", unit="pots", pot_size="9 cm"
        )

    code = Sequence(lambda n: f"T{n:04d}")
    batch = SubFactory(BatchFactory)
    container = "covered tray"
    started_on = SelfAttribute("batch.started_on")
    start_stage = LazyAttribute(lambda t: str(START_STAGES[Route(t.batch.route)][0]))
    unit = "plants"
    stage = SelfAttribute("start_stage")
    stage_seen_on = SelfAttribute("started_on")
    label_printed_on = SelfAttribute("started_on")
    cover = LazyAttribute(lambda t: "closed" if Stage(t.start_stage) in COVERED_STAGES else "off")

    @classmethod
    def _create(cls, model_class: type, *args: Any, **kwargs: Any) -> Any:
        counted = kwargs.pop("counted", None)
        parents = kwargs.pop("parents", ())
        if counted is not None:
            kwargs["alive"] = counted
        tray = super()._create(model_class, *args, **kwargs)
        if counted:
            PlantMovement.objects.create(
                tray=tray, on=tray.started_on, kind="in", quantity=counted, recorded_at=NOW
            )
        if tray.bench_id is not None:
            Place.objects.create(
                tray=tray,
                on=tray.started_on,
                bench_id=tray.bench_id,
                row=tray.row,
                column=tray.column,
                recorded_at=NOW,
            )
        for parent in parents:
            Parentage.objects.create(parent=parent, child=tray)
        return tray


class LaidOutTrayFactory(CodedFactory[LaidOutTray]):
    """A code given out for a cell tray that is not filled yet."""

    class Meta:
        model = LaidOutTray
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"L{n:04d}")
    batch = SubFactory(BatchFactory)
    deed = "prick_out"
    container = "cell tray 84"
    cells = 84
    laid_out_on = STARTED_ON


class ParentageFactory(DjangoModelFactory[Parentage]):
    """Which tray a tray was filled from."""

    class Meta:
        model = Parentage
        skip_postgeneration_save = True

    parent = SubFactory(TrayFactory)
    child = SubFactory(TrayFactory, cells_of_84=True, batch=SelfAttribute("..parent.batch"))
