"""How does the database itself refuse to change or delete what happened?

Triggers on the event tables, made by a migration on SQLite and PostgreSQL alike.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

#: tables that are only ever added to
GUARDED_TABLES = (
    "batches_traycheck",
    "batches_stagetransition",
    "batches_plantmovement",
    "batches_place",
    "batches_caredone",
    "batches_keepingchange",
    "batches_trayhold",
    "batches_passportissue",
    "batches_changenote",
)
_DEEDS = ("UPDATE", "DELETE")


def create_guards(connection: BaseDatabaseWrapper) -> None:
    """Make the triggers on every guarded table that is there; made already, they stay."""
    with connection.cursor() as cursor:
        there = connection.introspection.table_names(cursor)
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION batches_only_added() RETURNS trigger AS $$ BEGIN "
                "RAISE EXCEPTION 'rows of % are only ever added', TG_TABLE_NAME; END $$ "
                "LANGUAGE plpgsql"
            )
        # A later migration makes the other tables, and their triggers.
        for table in [name for name in GUARDED_TABLES if name in there]:
            for deed in _DEEDS:
                name = f"{table}_no_{deed.lower()}"
                if connection.vendor == "postgresql":
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")
                    cursor.execute(
                        f"CREATE TRIGGER {name} BEFORE {deed} ON {table} "
                        "FOR EACH ROW EXECUTE FUNCTION batches_only_added()"
                    )
                else:
                    cursor.execute(
                        f"CREATE TRIGGER IF NOT EXISTS {name} BEFORE {deed} ON {table} "
                        f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are only ever added'); END"
                    )


def missing_guards(connection: BaseDatabaseWrapper) -> list[str]:
    """Give the guarded tables that are there and let rows be changed or deleted, in order."""
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        triggers = {name for (name,) in cursor.fetchall()}
    return [
        table
        for table in GUARDED_TABLES
        if table in there and not {f"{table}_no_{deed.lower()}" for deed in _DEEDS} <= triggers
    ]


def drop_guards(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away: for tests that empty their tables, and for going back a migration."""
    with connection.cursor() as cursor:
        there = connection.introspection.table_names(cursor)
        for table in [name for name in GUARDED_TABLES if name in there]:
            for deed in _DEEDS:
                name = f"{table}_no_{deed.lower()}"
                on = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")
