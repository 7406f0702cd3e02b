"""How does a test get an empty nursery again, though history cannot be deleted?"""

from __future__ import annotations

from django.apps import apps
from django.db import connection, transaction

from batches.models import guards


def empty_nursery() -> None:
    """Delete every record, with the guards of the event tables lifted for that moment."""
    models = [m for m in apps.get_app_config("batches").get_models() if m.__name__ != "Person"]
    guards.drop_guards(connection)
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            for model in models:
                table = connection.ops.quote_name(model._meta.db_table)
                cursor.execute(f"DELETE FROM {table}")  # noqa: S608
    finally:
        guards.create_guards(connection)
