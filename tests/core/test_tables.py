"""A table out of a file: encodings, separators, headers of two rows, and what is no table at all."""

from __future__ import annotations

import io
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest

from labcases.core import delimited, workbook
from labcases.core.tables import Table, TableError, open_table

ROWS = [["Maker", "Größe"], ["Kestrel", "500"], ["Pelorus", "1000"]]


def typed(rows: list[list[str]], separator: str = ",") -> str:
    return "".join(separator.join(row) + "\r\n" for row in rows)


def workbook_of(rows: list[list[Any]], prepare: Callable[[Any], None] | None = None) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    if prepare:
        prepare(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read(table: Table) -> list[list[str]]:
    return [table.headers, *(cells for _, cells in table.rows())]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_usual_encoding_is_read(encoding: str) -> None:
    assert read(open_table(typed(ROWS).encode(encoding), "drives.csv")) == ROWS


def test_an_old_encoding_is_warned_of() -> None:
    assert "Windows-1252" in open_table(typed(ROWS).encode("cp1252"), "drives.csv").warnings[0]
    assert not open_table(typed(ROWS).encode(), "drives.csv").warnings


def test_a_letter_beyond_the_first_block_counts_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(delimited, "BLOCK", 7)  # cuts letters of two bytes apart as well
    rows = [["a", "b"], *[["é" * 9, "x"]] * 9]
    assert read(open_table(typed(rows).encode(), "x.csv")) == rows


def test_letters_of_no_encoding_are_refused() -> None:
    with pytest.raises(TableError, match="Save it again as UTF-8"):
        open_table(b"maker,model\nK\x81strel,\xff\n", "drives.csv")


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_found(separator: str) -> None:
    assert read(open_table(typed(ROWS, separator).encode(), "drives.csv")) == ROWS


def test_a_separator_inside_quotation_marks_does_not_mislead() -> None:
    rows = 'a;b\n"1,2,3";x\n"4,5,6";y\n'
    assert read(open_table(rows.encode(), "x.csv")) == [["a", "b"], ["1,2,3", "x"], ["4,5,6", "y"]]


def test_one_column_is_a_table_too() -> None:
    assert read(open_table(b"serial\nA1\nB2\n", "x.csv")) == [["serial"], ["A1"], ["B2"]]


def test_blank_rows_and_a_title_above_the_headers_are_passed_over() -> None:
    table = open_table(b"\n\nStock of the north shelf\n,\nMaker,Serial\nKestrel,A1\n\nPelorus,B2\n", "x.csv")
    assert (table.header_row, table.headers) == (5, ["Maker", "Serial"])
    assert list(table.rows()) == [(6, ["Kestrel", "A1"]), (8, ["Pelorus", "B2"])]
    assert "Row 5 is read as the headers" in table.warnings[0]


def test_merged_headers_over_two_rows_become_one() -> None:
    def merge(book: Any) -> None:
        for area in ("A1:B1", "C1:D1", "E1:E2"):
            book.active.merge_cells(area)

    head = [["Label", None, "Size", None, "Price"], ["Maker", "Serial", "Sectors", "Sector bytes", None]]
    table = open_table(workbook_of([*head, ["Kestrel", "A1", 1000, 512, 9.5]], merge), "x.xlsx")
    assert table.headers == ["Label: Maker", "Label: Serial", "Size: Sectors", "Size: Sector bytes", "Price"]
    assert list(table.rows()) == [(3, ["Kestrel", "A1", "1000", "512", "9.5"])]


def test_a_row_of_data_is_not_taken_for_headers() -> None:
    table = open_table(b"Maker,,Serial\nKestrel,blue,A1\nPelorus,red,B2\n", "x.csv")
    assert table.headers == ["Maker", "column 2", "Serial"]


def test_a_wrong_guess_of_the_headers_can_be_put_right() -> None:
    table = open_table(b"North,South\nMaker,Serial\nKestrel,A1\n", "x.csv", header_row=2)
    assert (table.headers, list(table.rows())) == (["Maker", "Serial"], [(3, ["Kestrel", "A1"])])


def test_equal_headers_are_told_apart() -> None:
    assert open_table(b"Code,Code,Code\n1,2,3\n", "x.csv").headers == ["Code", "Code (2)", "Code (3)"]


def test_cells_of_a_workbook_become_text() -> None:
    row = [date(2024, 3, 9), datetime(2024, 3, 9, 14, 5), 500107862016, 12.0, 0.25, True, "0012"]
    table = open_table(workbook_of([[*"abcdefg"], row]), "x.xlsx")
    expected = ["2024-03-09", "2024-03-09 14:05:00", "500107862016", "12", "0.25", "yes", "0012"]
    assert [cells for _, cells in table.rows()] == [expected]


def test_a_formula_without_a_value_is_refused_with_its_cell() -> None:
    data = workbook_of([["a", "b"], [1, 2], [3, "=A2+A3"]])  # nothing has calculated this file
    with pytest.raises(TableError, match="Cell B3 holds a formula without a value"):
        list(open_table(data, "x.xlsx").rows())


def test_a_sheet_is_chosen_by_name_and_an_empty_one_passed_over() -> None:
    def more(book: Any) -> None:
        book.create_sheet("stock").append(["Maker", "Serial"])
        book.create_sheet("more").append(["Code", "Shelf"])

    data = workbook_of([], more)
    assert open_table(data, "x.xlsx").sheets == ["Sheet", "stock", "more"]
    assert open_table(data, "x.xlsx").headers == ["Maker", "Serial"]
    assert open_table(data, "x.xlsx", "more").headers == ["Code", "Shelf"]
    with pytest.raises(TableError, match="There is no sheet “shelf”"):
        open_table(data, "x.xlsx", "shelf")


def zipped(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name.replace("__", "/") + ".xml", data)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "name", "said"),
    [
        (b"", "x.csv", "The file is empty"),
        (b"\n\n,,\n", "x.csv", "no row has a cell with text"),
        (b"a,b\n1,\0\n", "x.csv", "Line 2 holds a NUL"),
        ("a,b\n1,\0\n".encode("utf-16"), "x.csv", "Row 2 holds a NUL"),
        (b'a,b\n1,2\n3,"4\n5,6\n', "x.csv", "Row 3 of the file is no proper row"),
        (b"a,b\n1," + b"x" * 40_000, "x.csv", "Row 2 has a cell of 40,000 characters"),
        (b"a,b\n" + b"x," * 300, "x.csv", "Row 2 has 301 cells"),
        (b"maker,serial\n", "x.xlsx", "The name says XLSX, but the file is none"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "x.xls", "the old kind"),
        (b"%PDF-1.7\n", "x.csv", "This is a PDF"),
        (b"PK\x03\x04 and then nothing", "x.xlsx", "cut off on the way"),
        (zipped(letter=b"<a/>"), "x.xlsx", "a ZIP file of something else"),
    ],
)
def test_what_is_no_table_is_refused_with_a_sentence(data: bytes, name: str, said: str) -> None:
    with pytest.raises(TableError, match=said):
        list(open_table(data, name).rows())


def with_part(path: str, content: bytes) -> bytes:
    """A good workbook in which one part has other content."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook_of([["a", "b"]]))) as good, zipfile.ZipFile(out, "w", 8) as bad:
        for name in good.namelist():
            bad.writestr(name, content if name == path else good.read(name))
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    bomb = with_part(SHEET, b"<worksheet>" + b" " * (workbook.SMALL * 4))
    tracemalloc.start()
    with pytest.raises(TableError, match="unpacks to far more"):
        open_table(bomb, "x.xlsx")
    assert tracemalloc.get_traced_memory()[1] < workbook.SMALL
    tracemalloc.stop()


def test_a_workbook_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "MOST_BYTES", 2000)
    with pytest.raises(TableError, match="Cut it into several files"):
        open_table(workbook_of([["a", "b"]]), "x.xlsx")


def test_entities_never_reach_the_reader() -> None:
    swell = b'<!DOCTYPE w [<!ENTITY a "aaaaaaaa">]><worksheet><sheetData/></worksheet>'
    with pytest.raises(TableError, match="a document type inside"):
        open_table(with_part(SHEET, swell), "x.xlsx")


def test_a_damaged_sheet_is_a_sentence() -> None:
    cut = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c'
    with pytest.raises(TableError, match=r"damaged|can be read"):
        list(open_table(with_part(SHEET, cut), "x.xlsx").rows())


def test_a_row_number_of_no_sheet_ends_the_reading() -> None:
    far = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        b'<row r="1"><c r="A1" t="inlineStr"><is><t>a</t></is></c></row>'
        b'<row r="99999999999"><c r="A99999999999"><v>1</v></c></row></sheetData></worksheet>'
    )
    assert list(open_table(with_part(SHEET, far), "x.xlsx").rows()) == []


class Endless(io.RawIOBase):
    """A file of so many bytes that is made while it is read."""

    def __init__(self, line: bytes, lines: int) -> None:
        self._line, self._size, self._at = line, len(line) * lines, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, to: int, whence: int = 0) -> int:
        self._at = to
        return to

    def readinto(self, buffer: Any) -> int:
        count = max(0, min(len(buffer), self._size - self._at))
        shift = self._at % len(self._line)
        buffer[:count] = (self._line * (count // len(self._line) + 2))[shift : shift + count]
        self._at += count
        return count


def counted(rows: Iterator[tuple[int, list[str]]]) -> int:
    return sum(1 for _ in rows)


def test_a_million_rows_pass_in_flat_memory() -> None:
    data = io.BufferedReader(Endless(b"Kestrel;KS500;A1B2C3;976773168\n", 1_000_000))
    table = open_table(data, "x.csv", header_row=1)
    tracemalloc.start()
    assert counted(table.rows()) == 999_999
    assert tracemalloc.get_traced_memory()[1] < 4_000_000
    tracemalloc.stop()


def test_more_rows_than_a_sheet_has_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(delimited, "MOST_ROWS", 3)
    with pytest.raises(TableError, match="more than 3 rows"):
        list(open_table(b"a,b\n1,2\n1,2\n1,2\n", "x.csv").rows())
