"""How does a made thing get its code into the register, as the program itself would write it?"""

from __future__ import annotations

from typing import Any, TypeVar

from factory.django import DjangoModelFactory

from batches.core.codes import read_code
from batches.models import CodeEntry

Thing = TypeVar("Thing")

#: models whose kind in the register is not their own name
_KINDS = {"SporeLot": "lot", "MediumBatch": "medium", "LaidOutTray": "tray"}


class CodedFactory(DjangoModelFactory[Thing]):
    """Makes a row with a code, and the register's entry for it."""

    class Meta:
        abstract = True

    @classmethod
    def _create(cls, model_class: type, *args: Any, **kwargs: Any) -> Any:
        code = kwargs["code"]
        CodeEntry.objects.get_or_create(
            code=code,
            defaults={
                "folded": code.casefold(),
                "kind": _KINDS.get(model_class.__name__, model_class.__name__.lower()),
                "given_out_here": bool(read_code(code).shape),
            },
        )
        return super()._create(model_class, *args, **kwargs)
