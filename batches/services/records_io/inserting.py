"""How do a hundred thousand rows get into a table quickly, on SQLite and PostgreSQL alike?

One prepared statement for all rows, in portions; every column of the table is given, those that
the records do not know by the model's own default.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from itertools import islice
from typing import Any

from django.db import connection, models

PORTION = 2_000

Adapt = Callable[[Any], Any]


def insert(
    model: type[models.Model],
    rows: Iterable[Mapping[str, Any]],
    *,
    columns: Iterable[str],
    progress: Callable[[int], None] | None = None,
) -> int:
    """Store rows given as field name → value (the pk for a foreign key); return how many.

    ``columns`` are the fields that every row gives; all others get the model's default.
    """
    given = tuple(columns)
    fields = [field for field in model._meta.local_concrete_fields if not _is_serial(field)]
    adapters = [(field.name, _adapter(field)) for field in fields]
    defaults = {f.name: _adapter(f)(f.get_default()) for f in fields if f.name not in given}
    quote = connection.ops.quote_name
    names = ", ".join(quote(field.column) for field in fields)
    marks = ", ".join(["%s"] * len(fields))
    statement = f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({marks})"  # noqa: S608

    def adapted(row: Mapping[str, Any]) -> tuple[Any, ...]:
        return tuple(
            defaults[name] if name in defaults else adapt(row[name]) for name, adapt in adapters
        )

    stored = 0
    with connection.cursor() as cursor:
        for portion in _portions(map(adapted, rows)):
            cursor.executemany(statement, portion)
            stored += len(portion)
            if progress is not None:
                progress(len(portion))
    return stored


def _is_serial(field: models.Field[Any, Any]) -> bool:
    return isinstance(field, models.AutoField)


def _portions(rows: Iterator[tuple[Any, ...]]) -> Iterator[list[tuple[Any, ...]]]:
    while portion := list(islice(rows, PORTION)):
        yield portion


def _adapter(field: models.Field[Any, Any]) -> Adapt:
    """Return what turns a value of the field into what the database driver takes."""
    if isinstance(field, models.ForeignKey):
        return _adapter(field.target_field)
    if isinstance(field, (models.CharField, models.IntegerField, models.FloatField)):
        return _as_it_is
    if isinstance(field, (models.AutoField, models.TextField, models.BooleanField)):
        return _as_it_is
    if isinstance(field, models.UUIDField):
        return _as_it_is if connection.features.has_native_uuid_field else _hex
    if isinstance(field, models.DateTimeField):
        return connection.ops.adapt_datetimefield_value
    if isinstance(field, models.DateField):
        return connection.ops.adapt_datefield_value
    return partial(field.get_db_prep_save, connection=connection)


def _as_it_is(value: Any) -> Any:
    return value


def _hex(value: Any) -> str | None:
    return None if value is None else value.hex
