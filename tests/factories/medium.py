"""A mixing of medium, made clean by heat."""

from __future__ import annotations

from datetime import date

from factory.declarations import Sequence

from batches.models import MediumBatch
from tests.factories.coded import CodedFactory


class MediumBatchFactory(CodedFactory[MediumBatch]):
    """Peat and perlite, half an hour at 65 °C."""

    class Meta:
        model = MediumBatch
        skip_postgeneration_save = True

    code = Sequence(lambda n: f"MIX{n:03d}")
    recipe = "peat:2 perlite:1"
    treatment = "steamed"
    temperature_c = 65.0
    minutes = 30.0
    made_on = date(2026, 3, 30)
    litres = 60.0
