"""Triggers that make the ledger append-only in the database itself, for SQLite and PostgreSQL.

They are put in place after every migrate (``custody.apps``), since a remade table silently loses its triggers.
Functions take an open connection of ``django.db``; nothing here imports Django.
"""

from __future__ import annotations

from typing import Any

TABLE = "custody_event"
SAYS = "The ledger is append-only."

_SQLITE = {
    f"{TABLE}_no_update": f"BEFORE UPDATE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{SAYS}'); END",
    f"{TABLE}_no_delete": f"BEFORE DELETE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{SAYS}'); END",
    # INSERT OR REPLACE would delete the old row without firing the trigger above while recursive_triggers is off.
    f"{TABLE}_no_replace": (
        f"BEFORE INSERT ON {TABLE} WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE sequence = NEW.sequence"  # noqa: S608
        f" OR digest = NEW.digest) BEGIN SELECT RAISE(ABORT, '{SAYS}'); END"
    ),
}
_POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION {TABLE}_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{SAYS}' USING ERRCODE = 'integrity_constraint_violation'; END $$"""
_POSTGRES = {
    f"{TABLE}_no_update": f"BEFORE UPDATE OR DELETE ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {TABLE}_refuse()",
    f"{TABLE}_no_truncate": f"BEFORE TRUNCATE ON {TABLE} FOR EACH STATEMENT EXECUTE FUNCTION {TABLE}_refuse()",
}


def install(connection: Any) -> None:
    """Put every trigger in place; safe to repeat."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for name, rest in _SQLITE.items():
                cursor.execute(f"CREATE TRIGGER IF NOT EXISTS {name} {rest}")
        else:
            cursor.execute(_POSTGRES_FUNCTION)
            for name, rest in _POSTGRES.items():
                cursor.execute(f"CREATE OR REPLACE TRIGGER {name} {rest}")


def drop(connection: Any) -> None:
    """Take the triggers away (the test suite does, around emptying its tables)."""
    with connection.cursor() as cursor:
        for name in _SQLITE if connection.vendor == "sqlite" else _POSTGRES:
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}" + ("" if connection.vendor == "sqlite" else f" ON {TABLE}"))


def missing(connection: Any) -> list[str]:
    """Names of the triggers that should be there and are not."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        present = {row[0] for row in cursor.fetchall()}
    return sorted(set(_SQLITE if connection.vendor == "sqlite" else _POSTGRES) - present)
