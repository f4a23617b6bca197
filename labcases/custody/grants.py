"""The rights that the application's own user needs in PostgreSQL: none to change or empty the ledger.

The tables belong to another role, which migrates. What is not granted is refused by the server, whatever the triggers
(``triggers.py``) would say, and only the owner of a table can take its triggers away.

>>> statements("app", ["custody_event", "custody_head", "lab_place"])[-2]
'GRANT SELECT, INSERT, UPDATE, DELETE ON "lab_place" TO "app";'
"""

from __future__ import annotations

from collections.abc import Sequence

READ = ("SELECT",)
APPEND = ("SELECT", "INSERT")
KEEP = ("SELECT", "INSERT", "UPDATE")  # UPDATE is what locking the head's row asks for, too
ALL = ("SELECT", "INSERT", "UPDATE", "DELETE")
RIGHTS = {
    "custody_event": APPEND,
    "custody_treenode": APPEND,
    "custody_kepthead": APPEND,
    "custody_head": KEEP,
    "django_migrations": READ,
}


def statements(role: str, tables: Sequence[str], schema: str = "public") -> list[str]:
    """SQL for the owner of the tables to run after every migrate; it takes away first what was granted before."""
    to = quoted(role)
    found = [f"GRANT USAGE ON SCHEMA {quoted(schema)} TO {to};"]
    for table in tables:
        found.append(f"REVOKE ALL ON {quoted(table)} FROM {to};")
        found.append(f"GRANT {', '.join(RIGHTS.get(table, ALL))} ON {quoted(table)} TO {to};")
    return [*found, f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {quoted(schema)} TO {to};"]


def quoted(name: str) -> str:
    """A name as PostgreSQL reads it whatever is in it. Raises ValueError for an empty one and for NUL."""
    if not name or "\x00" in name:
        raise ValueError(f"{name!r} is no name of a role or table.")
    return '"' + name.replace('"', '""') + '"'
