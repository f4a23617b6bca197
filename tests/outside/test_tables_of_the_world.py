"""CSV by the samples of RFC 4180, and a workbook that another program wrote."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from labcases.core.tables import open_table

SHEETS = Path(__file__).parent / "vectors" / "spreadsheet"
OFFICE = shutil.which("soffice")


@pytest.mark.parametrize(
    ("text", "rows"),
    [  # RFC 4180, section 2, the samples of rules 1 to 7 in their order; headers are put above those that have none
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["zzz", "yyy", "xxx"]]),
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["zzz", "yyy", "xxx"]]),
        (
            "field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
            [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
        ),
        ('a,b,c\r\n"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('a,b,c\r\n"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('a,b,c\r\n"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
    ],
)
def test_the_samples_of_rfc_4180_are_read(text: str, rows: list[list[str]]) -> None:
    assert [cells for _, cells in open_table(text.encode("ascii"), "sample.csv").rows()] == rows


def converted(folder: Path) -> bytes:
    """The sheet as the program on this machine writes it now."""
    profile = f"-env:UserInstallation={folder.as_uri()}/profile"
    to = ["--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(folder), str(SHEETS / "shelf.fods")]
    subprocess.run([str(OFFICE), profile, "--headless", *to], check=True, capture_output=True, timeout=120)
    return (folder / "shelf.xlsx").read_bytes()


# Kept once, so that no test machine has to have the program; where it is there, it writes the sheet anew as well.
@pytest.mark.parametrize("anew", [False, True] if OFFICE else [False])
def test_a_workbook_of_another_program_is_read(anew: bool, tmp_path: Path) -> None:
    table = open_table(converted(tmp_path) if anew else (SHEETS / "shelf.xlsx").read_bytes(), "shelf.xlsx")
    assert table.sheets == ["Shelf"]
    assert table.headers == ["Label: Maker", "Label: Serial", "Size: Sectors", "Size: Bytes", "Made", "Note"]
    assert list(table.rows()) == [
        (4, ["Kestrel", "00Ž417", "976773168", "500107862016", "2024-03-09", ""]),
        (5, ["Pelorus", "1E5", "15628053168", "8001563222016", "1999-12-31", "#DIV/0!"]),
    ]
