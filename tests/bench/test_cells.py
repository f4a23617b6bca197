"""Tables of many rows: any separator, any encoding, with headers or without; what is no table is refused."""

from __future__ import annotations

import io

import openpyxl
import pytest

from labcases.bench.cells import TableError, load

ROWS = [["pos", "len", "state"], ["0", "8", "ok"], ["8", "4", "bad"]]


def text(separator: str, end: str = "\n") -> str:
    return end.join(separator.join(row) for row in ROWS) + end


def workbook() -> bytes:
    book, out = openpyxl.Workbook(), io.BytesIO()
    for row in [ROWS[0], *([int(a), int(b), c] for a, b, c in ROWS[1:])]:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize(
    "data",
    [
        text(",").encode(),
        text(";", "\r\n").encode(),
        text("\t").encode("utf-16"),
        text("|").encode("utf-8-sig"),
        text("   ").encode(),
        workbook(),
    ],
    ids=["comma", "semicolon", "utf-16", "mark", "blanks", "workbook"],
)
def test_the_same_table_is_read_however_it_was_saved(data: bytes) -> None:
    cells = load(data, "spans")
    assert cells.headers == ROWS[0]
    assert cells.first_rows() == [(2, ROWS[1]), (3, ROWS[2])]


@pytest.mark.parametrize("data", [b"0,8\n8,4\n", b"0x0 0x8\n0x8 0x4\n"])
def test_a_table_without_headers_loses_no_row(data: bytes) -> None:
    cells = load(data, "spans.txt")
    assert cells.headers == ["column 1", "column 2"]
    assert cells.rows.tolist() == [1, 2]


def test_rows_keep_their_numbers_past_titles_and_blank_lines() -> None:
    cells = load(b"read on the second evening\n\npos,len\n\n0,8\n,\n8,4\n", "spans.csv")
    assert (cells.headers, cells.rows.tolist()) == (["pos", "len"], [5, 7])


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "The file is empty."),
        (b"a,b\n1,2\n1,2,3\n", "Row 3 has 3 cells, where the headers have 2. Nothing was kept."),
        (b"a,b\n1,2\n1\n", "Row 3 has 1 cell, where the headers have 2. Nothing was kept."),
        (b"a,b\n1,\x00\n", "NUL character"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"a,b\n" + b"1,2\n" * 400_000 + b"3,\xff\n", "Line 400002 cannot be read as utf-8"),
    ],
    ids=["empty", "long", "short", "nul", "pdf", "late damage"],
)
def test_what_is_no_table_is_refused_with_a_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(TableError) as refused:
        load(data, "spans.csv")
    assert sentence in str(refused.value)
