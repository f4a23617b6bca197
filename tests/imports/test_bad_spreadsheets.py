"""Spreadsheets as people keep them: each trouble is a sentence with its row, and nothing comes in half."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labcases.core.models import Batch
from labcases.core.refused import Refused
from labcases.custody.models import Event, Thing
from labcases.imports import actions, tasks
from labcases.imports.models import Import
from labcases.lab.models import Actor
from labcases.lab.roles import Role
from labcases.stock.models import Destination, Donor, DonorPart
from tests.builders import NOON, Make

pytestmark = pytest.mark.django_db

HEAD = ["Kind", "Model", "Serial", "Sectors", "Parts", "Made", "Head positions"]
GOOD = ["2.5 disk", "PL500-2M", "G1G2G3", 976_773_168, "heads; board", date(2024, 3, 9), "0-3"]


@pytest.fixture
def by(make: Make) -> Actor:
    make.profile()
    return make.actor(Role.MANAGER)


@pytest.fixture
def send(by: Actor, tmp_path: Path) -> Callable[..., Import]:
    """Send a file and have it checked."""

    def send(data: bytes, name: str = "shelf.xlsx", kind: str = "donors") -> Import:
        file = tmp_path / name
        file.write_bytes(data)
        table = actions.start(kind=kind, file=file, name=name, by=by, happened=NOON)
        return worked(actions.check(table=table, mapping=table.mapping, by=by))

    return send


def worked(table: Import) -> Import:
    tasks.go_on(seconds=60)
    table.refresh_from_db()
    return table


def workbook(*rows: Sequence[Any], merged: Sequence[str] = ()) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(list(row))
    for area in merged:
        book.active.merge_cells(area)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def row(**said: Any) -> list[Any]:
    """A good row in which some cells say something else."""
    names = ["kind", "model", "serial", "sectors", "parts", "made", "head_map"]
    return [said.get(name, cell) for name, cell in zip(names, GOOD, strict=True)]


def everything_taken_in(table: Import) -> Import:
    actor = Actor(table.by, Role.MANAGER)
    return worked(actions.take_in(table=table, skip_refused=False, by=actor, happened=NOON))


def nothing_came_in() -> bool:
    left = (Donor._base_manager, DonorPart._base_manager, Destination._base_manager, Thing._base_manager, Batch.objects)
    return not any(rows.exists() for rows in left) and not Event.objects.filter(kind="imported").exists()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"sectors": -976_773_168}, "Sectors (column D): “-976773168” is less than 1."),
        ({"sectors": 0}, "Sectors (column D): “0” is less than 1."),
        ({"sectors": 1.5}, "Sectors (column D): “1.5” is no whole number."),
        ({"sectors": 2**52}, "Sectors (column D): “4503599627370496” is more than"),
        ({"sectors": "#REF!"}, "Sectors (column D): the spreadsheet itself says #REF! here."),
        ({"made": "9/3/2024"}, "Made (column F): “9/3/2024” can be read as two dates."),
        ({"made": 976_773_168}, "Made (column F): “976773168” is no date."),
        ({"made": 99_999}, "Made (column F): “99999” is 2173-10-13, which lies ahead."),
        ({"made": "13.13.2024"}, "Made (column F): “13.13.2024” is no day of the calendar."),
        ({"serial": "1.23457E+15"}, "Serial (column C): “1.23457E+15” was shortened by the spreadsheet."),
        ({"head_map": date(2026, 1, 3)}, "Head positions (column G): “2026-01-03” is no head."),
        ({"head_map": "zero, one"}, "Head positions (column G): “zero” is no head."),
    ],
)  # fmt: skip
def test_a_cell_that_cannot_be_is_named_with_its_row_and_stops_all_or_none(
    send: Any, wrong: dict[str, Any], said: str
) -> None:
    table = send(workbook(HEAD, GOOD, row(serial="H1H2H3"), row(**{"serial": "K1K2K3", **wrong})))
    refused = table.rows.get(fate="refused")
    assert (refused.number, said in refused.because) == (4, True), refused.because
    with pytest.raises(Refused) as stop:
        everything_taken_in(table)
    assert stop.value.why[0].startswith(f"Row 4: {said[:20]}")
    assert nothing_came_in()


def test_merged_headers_dates_and_day_numbers_are_read_as_they_are_meant(send: Any) -> None:
    head = [["Label", None, None, "Inside", None, None, None], HEAD]
    table = send(workbook(*head, GOOD, row(serial="H1H2H3", made=45_360), merged=["A1:C1", "D1:G1"]))
    everything_taken_in(table)
    assert {donor.made for donor in Donor.objects.all()} == {date(2024, 3, 9)}
    assert {donor.head_map for donor in Donor.objects.all()} == {"0 1 2 3"}


def test_a_formula_that_nothing_worked_out_is_refused_with_its_cell(send: Any) -> None:
    with pytest.raises(actions.NotATable, match="Cell D3 holds a formula without a value"):
        send(workbook(HEAD, GOOD, row(serial="H1H2H3", sectors="=D2*2")))
    assert not Import.objects.exists()


def test_such_a_formula_far_down_stops_the_whole_table(send: Any) -> None:
    many = [row(serial=f"H1H2H{n}") for n in range(60)]
    table = send(workbook(HEAD, *many, row(serial="K1K2K3", sectors="=D2*2")))
    assert (table.state, "Cell D62 holds a formula without a value" in table.said) == ("columns", True)
    assert nothing_came_in()


def test_letters_of_no_encoding_stop_the_whole_table(send: Any) -> None:
    with pytest.raises(actions.NotATable, match="Save it again as UTF-8"):
        send(b"Kind,Model,Serial\n2.5 disk,K\x81,\xff\n", "shelf.csv")
    assert nothing_came_in()
    assert not Import.objects.exists()


def test_an_old_encoding_is_read_and_said(send: Any, by: Actor, tmp_path: Path) -> None:
    file = tmp_path / "shelf.csv"
    file.write_bytes("Kind;Maker;Serial\n2.5 disk;Größe;G1G2G3\n".encode("cp1252"))
    table = actions.start(kind="donors", file=file, name=file.name, by=by, happened=NOON)
    assert "It is read as Windows-1252: look at the accented letters." in table.said


@pytest.mark.parametrize("twice", ["G1G2G3", "g1-g2-g3", " G1 G2 G3 "])
def test_a_serial_twice_is_refused_with_both_rows_however_it_is_typed(send: Any, twice: str) -> None:
    table = send(workbook(HEAD, GOOD, row(serial="H1H2H3"), row(serial=twice)))
    refused = table.rows.get(fate="refused")
    assert (refused.number, "stands in row 2 already" in refused.because) == (4, True)
    with pytest.raises(Refused, match="1 row of it is refused"):
        everything_taken_in(table)
    assert nothing_came_in()


def test_a_serial_that_stock_has_twice_asks_which_is_meant(send: Any, make: Make, by: Actor) -> None:
    one, two = (make.donor(by=by, serial="G1G2G3") for _ in range(2))
    table = send(workbook(HEAD, GOOD))
    said = table.rows.get(fate="refused").because
    assert "Write which in a column Code." in said
    assert {str(one), str(two)} <= set(said.replace(".", "").split())


def test_a_new_medium_that_holds_somebodys_data_does_not_come_in(send: Any) -> None:
    head = ["Use", "Kind", "Serial", "Sectors", "State"]
    table = send(
        workbook(head, ["destination", "3.5 disk", "G1G2G3", 976_773_168, "holds customer data"]), kind="media"
    )
    said = table.rows.get(fate="refused").because
    assert said == "State: a medium comes into stock new and sealed, or wiped and verified."
    assert nothing_came_in()


@pytest.mark.parametrize(
    ("alive", "parts", "said"),
    [("0 1 7", "heads", "head 7 is not fitted; it has 0 1 2 3."), ("0 1", "board", "only a head stack has heads")],
)
def test_heads_that_cannot_be_alive_are_refused(send: Any, alive: str, parts: str, said: str) -> None:
    table = send(workbook([*HEAD, "Heads alive"], [*row(parts=parts), alive]))
    assert said in table.rows.get(fate="refused").because


def test_more_heads_alive_than_fitted_are_refused(send: Any) -> None:
    head = ["Kind", "Parts", "Heads fitted", "Heads alive"]
    table = send(workbook(head, ["2.5 disk", "heads", 2, "0 1 3"]))
    assert table.rows.get().because == "Heads alive: 3 are more than the 2 that are fitted."


def test_what_is_known_of_heads_and_labels_comes_in(send: Any) -> None:
    head = [*HEAD, "Heads alive", "Radial offsets", "Encryption generation", "Label codes", "Flash ids"]
    everything_taken_in(
        send(workbook(head, [*GOOD, "0, 2", "12; -4,5; 8; 0", "E3", "head code: 4K7; site: N", "98 3A;98 3B"]))
    )
    traits = DonorPart.objects.get(part="head stack").traits()
    assert (traits.head_map, traits.heads_alive, traits.head_offsets) == ((0, 1, 2, 3), (0, 2), (12, -4, 5, 8, 0))
    assert (traits.code("HEAD CODE"), traits.code("SITE"), traits.encryption_generation) == ("4K7", "N", "E3")
    assert traits.flash_ids == ("98 3A", "98 3B")
    assert DonorPart.objects.get(part="controller board").heads_alive == ""


def test_what_a_change_would_do_is_said_in_words(send: Any, make: Make, by: Actor) -> None:
    make.donor(by=by, serial="G1G2G3", cost=1250, kind="disk35", codes={"SITE": "N"})
    table = send(workbook(["Serial", "Kind", "Cost", "Codes"], ["G1G2G3", "2.5 disk", "0", "SITE: M"]))
    said = table.rows.get(fate="changes").because
    assert "kind 3.5″ disk → 2.5″ disk; cost 12.50 → 0.00; codes SITE: N → SITE: M" in said
