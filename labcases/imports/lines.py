"""Rows of a table, kept one to a line as JSON: read once from CSV or XLSX, then taken up at any row in no time."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from labcases.core.tables import Table


def write(table: Table, to: BinaryIO) -> int:
    """Write every row as ``[number, cells…]``; returns how many there are."""
    count = 0
    for number, cells in table.rows():
        to.write(json.dumps([number, *cells], ensure_ascii=False, separators=(",", ":")).encode() + b"\n")
        count += 1
    return count


def read(path: Path, start: int, most: int) -> tuple[list[tuple[int, list[str]]], int]:
    """Up to ``most`` rows from byte ``start`` on, and the byte where the next one begins."""
    rows: list[tuple[int, list[str]]] = []
    with path.open("rb") as lines:
        lines.seek(start)
        for _ in range(most):
            line = lines.readline()
            if not line:
                break
            number, *cells = json.loads(line)
            rows.append((number, cells))
        return rows, lines.tell()


def every(path: Path) -> Iterator[tuple[int, list[str]]]:
    """All rows, one after the other."""
    with path.open("rb") as lines:
        for line in lines:
            number, *cells = json.loads(line)
            yield number, cells
