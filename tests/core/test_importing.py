"""Which column is which field, and what a cell says."""

from __future__ import annotations

from datetime import date

import pytest

from labcases.core import importing
from labcases.core.actions import remember
from labcases.core.importing import Field, guess, read_row, signature
from labcases.core.lists import plain_cell, safe_cell
from labcases.core.queries import remembered

FIELDS = [
    Field("maker", "Maker", ("manufacturer",)),
    Field("serial", "Serial", ("serial number", "s/n"), required=True, read=importing.label_text()),
    Field("sectors", "Sectors", ("lba",), read=importing.whole(least=1, most=2**50)),
]


@pytest.mark.parametrize(
    ("headers", "found"),
    [
        (["Maker", "Serial", "Sectors"], {"maker": 0, "serial": 1, "sectors": 2}),
        (["S/N", "MANUFACTURER"], {"maker": 1, "serial": 0}),
        (["Label: Maker", "Size: LBA", "serial_number"], {"maker": 0, "serial": 2, "sectors": 1}),
        (["Sectors (512 bytes)", "colour"], {"sectors": 0}),
        (["Serial", "Serial number"], {"serial": 0}),
    ],
)
def test_columns_are_guessed_by_their_headers(headers: list[str], found: dict[str, int]) -> None:
    assert guess(headers, FIELDS) == found


def test_a_layout_is_known_however_its_headers_are_typed() -> None:
    assert signature(["Serial No.", "maker"]) == signature(["SERIAL NO", "Maker "])
    assert signature(["maker", "serial"]) != signature(["serial", "maker"])
    assert signature(["ab", "c"]) != signature(["a", "bc"])


def test_what_a_row_says_and_what_is_wrong_with_it() -> None:
    mapping = {"maker": 0, "serial": 1, "sectors": 2}
    row = read_row([" Kestrel\u200b ", "", "minus one"], mapping, FIELDS)
    assert row.values == {"maker": "Kestrel"}
    assert row.mistakes == [
        "Serial (column B): is needed, and the cell is empty.",
        "Sectors (column C): “minus one” is no whole number.",
    ]


def test_what_a_spreadsheet_could_not_calculate_is_never_taken_for_a_word() -> None:
    assert "says #REF! here" in read_row(["#REF!", "A1"], {"maker": 0, "serial": 1}, FIELDS).mistakes[0]


@pytest.mark.parametrize("cell", ["1953525168", "1,953,525,168", "1 953 525 168", "1.953.525.168", "1953525168.0"])
def test_group_marks_are_read_over(cell: str) -> None:
    assert importing.whole()(cell) == 1_953_525_168


@pytest.mark.parametrize(
    ("cell", "said"),
    [("-5", "less than 1"), ("1,5", "no whole number"), ("9" * 20, "more than"), ("½", "no whole"), ("٣", "no whole")],
)
def test_what_is_no_count_is_refused(cell: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        importing.whole(least=1)(cell)


@pytest.mark.parametrize(
    "cell", ["2024-03-09", "2024-03-09 00:00:00", "2024/3/9", "9.3.2024", "09.03.2024", "45360", "45360.5"]
)
def test_a_date_is_read_as_text_and_as_a_number(cell: str) -> None:
    assert importing.day(cell) == date(2024, 3, 9)  # day 45,360 of the 1900 date system, ECMA-376 part 1, 18.17.4.1


def test_a_date_with_strokes_is_read_when_it_can_be_read_one_way_only() -> None:
    assert importing.day("25/3/2024") == importing.day("3/25/2024") == date(2024, 3, 25)
    with pytest.raises(ValueError, match="two dates"):
        importing.day("9/3/2024")


@pytest.mark.parametrize("cell", ["2024-02-30", "31.4.2024", "March", "0001-01-01", "20"])
def test_what_is_no_date_is_refused(cell: str) -> None:
    with pytest.raises(ValueError, match="“"):
        importing.day(cell)


def test_a_serial_that_the_spreadsheet_has_shortened_is_refused() -> None:
    with pytest.raises(ValueError, match="shortened by the spreadsheet"):
        importing.label_text()("1.23457E+15")
    assert importing.label_text()("1E5X") == "1E5X"


def test_an_unknown_word_is_refused_with_the_words_there_are() -> None:
    read = importing.one_of({"destination": "clone", "delivery medium": "delivery"})
    assert read("Delivery-Medium") == "delivery"
    with pytest.raises(ValueError, match="Write one of: destination, delivery medium"):
        read("spare")


def test_several_words_are_cut_and_taken_once() -> None:
    assert importing.several_of({"head stack": "head stack", "motor": "motor"})("Motor; head stack,motor") == [
        "motor",
        "head stack",
    ]


@pytest.mark.parametrize("text", ["=1+1", "-4 mm", "@home", "'s Gravesande", "plain", "-4"])
def test_what_was_made_safe_for_a_spreadsheet_comes_back_as_it_was(text: str) -> None:
    assert plain_cell(safe_cell(text)) == text


@pytest.mark.django_db
def test_chosen_columns_are_remembered_for_the_next_table_of_the_layout() -> None:
    headers = ["Fabricant", "No."]
    assert remembered("donors", headers) is None
    remember("donors", headers, {"maker": 0})
    remember("donors", headers, {"maker": 0, "serial": 1})
    assert remembered("donors", ["fabricant", "NO"]) == {"maker": 0, "serial": 1}
    assert remembered("media", headers) is None
