"""Triggers that hold the life of a medium in the database itself, for SQLite and PostgreSQL.

A check sees one row as it is; these see what it was. They are put in place after every migrate (``stock.apps``), and
speak of one table only, so that a later migration may remake any other. Functions take an open connection of
``django.db``; nothing here imports Django.
"""

from __future__ import annotations

from typing import Any

from labcases.stock.fitting import State
from labcases.stock.life import FOLLOWS

TABLE = "stock_destination"
NO_SUCH_WAY = "A medium does not go from its state to this one."
NOT_WIPED = "It held data of a case: nobody else gets it before its wipe is verified."


def _ways() -> str:
    """True where the new state follows the old one."""
    ways = ["NEW.state = OLD.state"]
    for state, after in FOLLOWS.items():
        if after:
            listed = ", ".join(f"'{one}'" for one in sorted(after))
            ways.append(f"(OLD.state = '{state}' AND NEW.state IN ({listed}))")
    return " OR ".join(ways)


# Its data is gone only when a wipe that had run was verified; until then its case stays its case.
_FREED = f"(OLD.state = '{State.NOT_VERIFIED}' AND NEW.state IN ('{State.WIPED}', '{State.RETIRED}'))"
_OTHERS = "NEW.held_for_id IS NOT NULL AND NEW.held_for_id <> OLD.held_for_id"
_BLANK = f"OLD.written AND (NEW.held_for_id IS NULL OR NOT NEW.written) AND NOT {_FREED}"
_TAKEN = f"OLD.held_for_id IS NOT NULL AND (({_OTHERS}) OR ({_BLANK}))"
RULES = {f"{TABLE}_way": (f"NOT ({_ways()})", NO_SUCH_WAY), f"{TABLE}_wiped": (_TAKEN, NOT_WIPED)}


def install(connection: Any) -> None:
    """Put every trigger in place; safe to repeat."""
    with connection.cursor() as cursor:
        for name, (refused, says) in RULES.items():
            for statement in _statements(connection.vendor, name, refused, says):
                cursor.execute(statement)


def _statements(vendor: str, name: str, refused: str, says: str) -> list[str]:
    if vendor == "sqlite":
        body = f"BEFORE UPDATE ON {TABLE} WHEN {refused} BEGIN SELECT RAISE(ABORT, '{says}'); END"
        return [f"DROP TRIGGER IF EXISTS {name}", f"CREATE TRIGGER {name} {body}"]
    function = (
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$"
        f" BEGIN RAISE EXCEPTION '{says}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    each = f"BEFORE UPDATE ON {TABLE} FOR EACH ROW WHEN ({refused}) EXECUTE FUNCTION {name}()"
    return [function, f"CREATE OR REPLACE TRIGGER {name} {each}"]


def drop(connection: Any) -> None:
    """Take them away: a test may need rows that no verb makes."""
    with connection.cursor() as cursor:
        for name in RULES:
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}" + ("" if connection.vendor == "sqlite" else f" ON {TABLE}"))
