"""Stock as files, and files that come back."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.urls import reverse

from labcases.core.workbook import write
from labcases.imports import actions, tasks
from labcases.imports.models import counts
from labcases.lab.roles import Role
from labcases.stock.imports.queries import donors_out
from labcases.stock.models import Destination
from tests.builders import NOON, Make

pytestmark = pytest.mark.django_db


def sent(client: Any, name: str, what: str) -> bytes:
    return b"".join(client.get(reverse(name, args=[what])).streaming_content)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
@pytest.mark.parametrize("what", ["donors", "media"])
def test_what_goes_out_comes_back_as_the_same(form: str, what: str, make: Make, client_as: Any, tmp_path: Path) -> None:
    make.profile()
    make.family("Pelorus Minnow")
    about = {"kind": "disk25", "serial": "0012E5", "cost": 1250, "sectors": 976_773_168, "note": "=1+1"}
    inside = {"head_map": "0 1", "head_offsets": "-4.5 8", "flash_ids": "98 3A; 98 3B", "encryption_generation": "E3"}
    inside |= {"codes": {"HEAD CODE": "4K7", "SITE": "N; M"}}
    donor = make.donor(by=make.everyone(), made=date(2024, 3, 9), heads=2, parts=["head stack"], **about, **inside)
    donor.parts.update(heads_alive="1")
    make.destination(note="-4 mm short")
    Destination.objects.update(state=Destination.State.ASSIGNED, held_for=make.case())
    file = tmp_path / f"stock.{form}"
    file.write_bytes(sent(client_as(Role.MANAGER), f"stock:export-{form}", what))
    by = make.everyone()
    table = actions.start(kind=what, file=file, name=file.name, by=by, happened=NOON)
    actions.check(table=table, mapping=table.mapping, by=by)
    tasks.go_on(seconds=60)
    assert counts(table) == {"new": 0, "changes": 0, "same": 1, "refused": 0}, list(table.rows.values("because"))


def test_parts_go_out_with_their_donors(make: Make, client_as: Any) -> None:
    donor = make.donor(parts=["head stack", "motor"])
    lines = sent(client_as(Role.COUNTER), "stock:export-csv", "parts").decode().splitlines()
    assert len(lines) == 3
    assert all(str(donor) in line for line in lines[1:])


@pytest.mark.parametrize("text", ["=1+1", "+4", "@home", "-4 mm", "#REF!"])
def test_text_in_a_workbook_is_never_a_formula(text: str) -> None:
    out = io.BytesIO()
    write(out, ["note"], [[text]])
    cell = openpyxl.load_workbook(out)["Table"]["A2"]
    assert (cell.value, cell.data_type) == (text, "s")


def test_an_export_asks_no_more_for_more_rows(make: Make, client_as: Any, django_assert_num_queries: Any) -> None:
    client = client_as(Role.MANAGER)
    make.donor()
    sent(client, "stock:export-csv", "donors")
    with django_assert_num_queries(2):
        list(donors_out())
    for _ in range(4):
        make.donor()
    with django_assert_num_queries(2):
        list(donors_out())
