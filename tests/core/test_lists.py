"""Lists as CSV: nothing in a cell is run by a spreadsheet, and every cell reads back as it was.

Sources: OWASP ASVS 5.0, 1.2.10 (the six characters, the single quote); RFC 4180, 2.6 and 2.7 (quoting).
"""

from __future__ import annotations

import csv
import io
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.core.lists import csv_lines, csv_text, safe_cell

ASVS = ["=", "+", "-", "@", "\t", "\0"]


@pytest.mark.parametrize("first", [*ASVS, "\r", "\n", " =", "＝", "＋", "－", "＠"])
def test_text_that_a_spreadsheet_would_run_gets_a_quote_in_front(first: str) -> None:
    assert safe_cell(f"{first}SUM(A1:A9)") == f"'{first}SUM(A1:A9)"


@pytest.mark.parametrize("number", ["-12", "+441184960743", "-3.50", 17, -4, "0"])
def test_a_number_stays_a_number(number: object) -> None:
    assert safe_cell(number) == str(number)


@pytest.mark.parametrize("text", ["-1+1", "+-1", "-+-1", "-1.2.3", "+1e5", "-²", "-"])
def test_what_only_looks_like_a_number_is_quoted(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["Orrin Vale", "26-00417-D", "a=b", "", "x@example.com", "5 − 3"])
def test_plain_text_stays_as_it_is(text: str) -> None:
    assert safe_cell(text) == text


def test_nothing_known_is_an_empty_cell() -> None:
    assert safe_cell(None) == ""


def test_lines_end_and_quotes_double_as_the_standard_says() -> None:
    assert csv_text(["a", "b"], [['say "aah"', "x,y\nz"]]) == 'a,b\r\n"say ""aah""","x,y\nz"\r\n'


@given(st.lists(st.lists(st.text(string.printable), min_size=2, max_size=2), max_size=4))
def test_every_cell_reads_back(rows: list[list[str]]) -> None:
    text = csv_text(["a", "b"], rows)
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert read == [["a", "b"], *([safe_cell(cell) for cell in row] for row in rows)]


def test_a_long_list_comes_line_by_line() -> None:
    lines = csv_lines(["n"], ([n] for n in range(3)))
    assert list(lines) == ["n\r\n", "0\r\n", "1\r\n", "2\r\n"]
