"""What the pages of an import show."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.http import Http404

from labcases.core import importing, vault
from labcases.core.importing import Fate
from labcases.core.tables import Table, open_table
from labcases.custody.firsts.beginning import Beginning
from labcases.imports import lines
from labcases.imports.models import Import
from labcases.lab.models import Actor
from labcases.lab.roles import Role

FIRST_ROWS = 5


def table_for(user: Any, pk: int) -> Import:
    """The import, for those who may bring such tables. 404 with a sentence for all others."""
    found = Import.objects.select_related("by", "batch").filter(pk=pk).first()
    if found is None or found.of.right not in user.rights:
        raise Http404(f"There is no import {pk} that you may see.")
    return found


def beginning_of(batch: int) -> Beginning | None:
    """How the things of a batch came: with which table, and who took it in."""
    table = Import.objects.select_related("by").filter(batch=batch).first()
    return Beginning(Actor(table.by, Role(table.role)), table.happened, str(table)) if table else None


def looked_at(table: Import) -> tuple[Table, list[tuple[int, list[str]]]]:
    """The table as it came, with its first rows."""
    with vault.path(table.file).open("rb") as data:
        opened = open_table(data, table.name, table.sheet, table.header_row)
        rows = []
        for row in opened.rows():
            rows.append(row)
            if len(rows) == FIRST_ROWS:
                break
        return opened, rows


def refused_rows(table: Import) -> Iterator[list[str]]:
    """The refused rows as they came, each with its number and the reason, to be put right and sent again."""
    because = dict(table.rows.filter(fate=Fate.REFUSED).values_list("number", "because"))
    if not table.lines:
        return
    for number, cells in lines.every(vault.path(table.lines)):
        if number in because:
            yield [str(number), because[number], *cells]


def wanting_labels(table: Import) -> Any:
    """The things of an import that labels are printed for."""
    if table.state != Import.State.SHOWN or table.batch_id is None or table.of.things is None:
        raise Http404("There is nothing of this import to print labels for.")
    return table.of.things(table.batch_id)


def columns_of(table: Import) -> list[tuple[str, str]]:
    """Every column as a choice: its number, its letters and header."""
    return [(str(n), f"{importing.letters(n)} · {header}") for n, header in enumerate(table.headers)]
