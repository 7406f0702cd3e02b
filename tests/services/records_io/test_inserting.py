"""Do rows stored by one bare statement equal those that Django itself stores?"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from django.db import connection

from batches.models import House, HouseReading, TrayCheck
from batches.services.records_io.inserting import insert
from tests.factories import HouseFactory, TrayFactory

pytestmark = pytest.mark.django_db

MOMENTS = (
    datetime(2026, 3, 1, 9, 0, tzinfo=UTC),
    datetime(2026, 7, 1, 9, 0, 0, 250_000, tzinfo=timezone(timedelta(hours=5, minutes=30))),
    datetime(2026, 1, 1, 0, 30, tzinfo=timezone(timedelta(hours=1))),
)


def raw(table: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table} ORDER BY seen_at")  # noqa: S608
        return list(cursor.fetchall())


def test_every_column_is_stored_as_django_stores_it():
    # cross-implementation: Django's own save
    tray = TrayFactory()
    given = [
        {"id": uuid.uuid4(), "tray_id": tray.pk, "seen_at": seen, "recorded_at": seen, "by": "Bram",
         "count": 7, "opened": True, "note": "€ ü\r\n'", "device_seq": -3}
        for seen in MOMENTS
    ]  # fmt: skip
    for row in given:
        TrayCheck.objects.create(**row)
    by_django = raw("batches_traycheck")
    from batches.models import guards

    guards.drop_guards(connection)
    TrayCheck.objects.all().delete()
    guards.create_guards(connection)
    fields = ["id", "tray", *list(given[0])[2:]]
    assert insert(TrayCheck, [list(row.values()) for row in given], fields=fields) == 3
    assert raw("batches_traycheck") == by_django


def test_dates_numbers_and_keys_given_by_the_database():
    house = HouseFactory()
    insert(
        HouseReading,
        [[uuid.uuid4(), house.pk, MOMENTS[0].date(), -1.5, None, MOMENTS[0]]],
        fields=["id", "house", "on", "lowest_c", "highest_c", "recorded_at"],
    )
    row = HouseReading.objects.get()
    assert (row.house, row.on, row.lowest_c, row.highest_c) == (
        house,
        MOMENTS[0].date(),
        -1.5,
        None,
    )
    insert(House, [["X"], ["Y"]], fields=["code"])
    assert House.objects.get(code="Y").pk > house.pk


def test_nothing_to_store_is_nothing_stored():
    assert insert(House, [], fields=["code"]) == 0
