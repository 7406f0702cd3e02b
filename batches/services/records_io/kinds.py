"""What can stand in a cell of the records, and what is known of a column and of a file?"""

from __future__ import annotations

from collections import namedtuple
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Any

from django.db import models


class Kind(StrEnum):
    """What a column holds; every cell may be empty, which means unknown, unless required."""

    CODE = "code"
    REF = "code of another file"
    REFS = "codes with spaces between"
    TEXT = "text"
    WORD = "word"
    WORDS = "words with spaces between"
    WHOLE = "whole number"
    NUMBER = "number"
    DAY = "date"
    MOMENT = "date and time with offset"
    YES = "yes or nothing"
    ID = "id (UUID)"
    ROW = "id of another row"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of one file.

    ``words`` are the words a WORD or WORDS column knows; ``refers`` the files whose codes a REF or
    REFS column names; ``least`` and ``most`` bound a number; ``longest`` counts the characters of
    a text; ``future`` says whether a day may lie ahead; ``field`` is the model's own field, empty
    where the column is reckoned.
    """

    name: str
    kind: Kind
    about: str
    field: str
    required: bool = False
    words: tuple[str, ...] = ()
    refers: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    longest: int | None = None
    future: bool = False

    @property
    def path(self) -> str:
        """Where the value stands, seen from the model: ``taxon__code``."""
        return f"{self.field}__code" if self.kind is Kind.REF else self.field


@dataclass(frozen=True, kw_only=True)
class RecordsFile:
    """One file: its name without ``.csv``, its columns in order, and the model behind its rows.

    ``code_kind`` is the kind of its codes in the register, empty for files without codes.
    ``key`` names the column by which a row is known (``code`` or ``id``), empty where only the
    whole row says which it is. ``order`` is how the rows stand in an exported file.
    """

    name: str
    noun: str
    model: type[models.Model]
    about: str
    columns: tuple[Column, ...]
    code_kind: str = ""
    key: str = ""
    order: tuple[str, ...] = ()

    @property
    def file_name(self) -> str:
        """The name on disk: ``trays.csv``."""
        return f"{self.name}.csv"

    @cached_property
    def by_name(self) -> dict[str, Column]:
        """The columns by their names."""
        return {column.name: column for column in self.columns}

    @cached_property
    def row_type(self) -> Any:
        """A named tuple with the file's columns, then the line, and whether every cell was read."""
        names = [*self.by_name, "line", "sound"]
        return namedtuple(f"{self.name}_row", names)
