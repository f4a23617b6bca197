"""Triggers that make the ledger and its kept heads append-only in the database itself, for SQLite and PostgreSQL.

They are put in place after every migrate (``custody.apps``), since a remade table silently loses its triggers.
Functions take an open connection of ``django.db``; nothing here imports Django.
"""

from __future__ import annotations

from typing import Any

TABLE, HEADS = "custody_event", "custody_kepthead"
TABLES = {TABLE: ("sequence", "digest"), HEADS: ("id", "size")}  # each with its columns that stand for one row alone
SAYS = "The ledger is append-only."


def _in_sqlite(table: str) -> dict[str, str]:
    same = " OR ".join(f"{column} = NEW.{column}" for column in TABLES[table])
    refuse = f"BEGIN SELECT RAISE(ABORT, '{SAYS}'); END"
    return {
        f"{table}_no_update": f"BEFORE UPDATE ON {table} {refuse}",
        f"{table}_no_delete": f"BEFORE DELETE ON {table} {refuse}",
        # INSERT OR REPLACE would delete the old row without firing the trigger above while recursive_triggers is off.
        f"{table}_no_replace": f"BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) {refuse}",  # noqa: S608
    }


_POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION {TABLE}_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{SAYS}' USING ERRCODE = 'integrity_constraint_violation'; END $$"""


def _in_postgres(table: str) -> dict[str, str]:
    refuse = f"EXECUTE FUNCTION {TABLE}_refuse()"
    return {
        f"{table}_no_update": f"BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW {refuse}",
        f"{table}_no_truncate": f"BEFORE TRUNCATE ON {table} FOR EACH STATEMENT {refuse}",
    }


def _triggers(connection: Any) -> dict[str, dict[str, str]]:
    """For each table the names of its triggers, and what follows the name where they are made."""
    of = _in_sqlite if connection.vendor == "sqlite" else _in_postgres
    return {table: of(table) for table in TABLES}


def install(connection: Any) -> None:
    """Put every trigger in place; safe to repeat. A table that is not migrated yet gets its own later."""
    there = connection.introspection.table_names()
    word = "CREATE TRIGGER IF NOT EXISTS" if connection.vendor == "sqlite" else "CREATE OR REPLACE TRIGGER"
    with connection.cursor() as cursor:
        if connection.vendor != "sqlite":
            cursor.execute(_POSTGRES_FUNCTION)
        for table, triggers in _triggers(connection).items():
            for name, rest in triggers.items() if table in there else ():
                cursor.execute(f"{word} {name} {rest}")


def drop(connection: Any) -> None:
    """Take the triggers away (the test suite does, around emptying its tables)."""
    with connection.cursor() as cursor:
        for table, triggers in _triggers(connection).items():
            for name in triggers:
                cursor.execute(
                    f"DROP TRIGGER IF EXISTS {name}" + ("" if connection.vendor == "sqlite" else f" ON {table}")
                )


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
    return sorted({name for triggers in _triggers(connection).values() for name in triggers} - present)
