"""Rows as CSV (RFC 4180), safe to open in a spreadsheet program.

>>> csv_text(["code", "what"], [["D-00001-H", "=1+1"]]).splitlines()
['code,what', "D-00001-H,'=1+1"]
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

# A cell that begins so would be run as a formula: the six of OWASP ASVS 5.0, 1.2.10, and what some programs read
# as one of them: a sign after blanks, and the wide signs of East Asian keyboards.
_FORMULA = re.compile(r"[\t\r\n\0]|\s*[=+\-@＝＋－＠]")
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


def safe_cell(value: Any) -> str:
    """A value as the text of a cell; text that a spreadsheet would run gets an apostrophe in front."""
    text = "" if value is None else str(value)
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text) else text


def plain_cell(text: str) -> str:
    """What ``safe_cell`` made safe, as it was: a list that was written here and comes back says what it said.

    >>> plain_cell("'=1+1"), plain_cell("'s Gravesande")
    ('=1+1', "'s Gravesande")
    """
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text


def csv_lines(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """The file line by line, so that a long list is not held in memory."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    yield out.getvalue()
    for row in rows:
        out.seek(0)
        out.truncate()
        writer.writerow([safe_cell(cell) for cell in row])
        yield out.getvalue()


def csv_text(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    return "".join(csv_lines(head, rows))
