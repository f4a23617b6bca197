"""A small list of files, and spans that were read of its medium."""

from __future__ import annotations

from typing import Any

from labcases.bench.reading.actions import prepare
from labcases.bench.spantable import How, read_table

COLUMNS = {"path": 0, "size": 1, "extents": 2, "check": 3}
CSV = (
    b"path,size,extents,check\n"
    b"Photos/a.jpg,51200,0+100,\n"
    b"Photos/old/b.jpg,10240,100+20,\n"
    b"Letters/will.odt,1024,300+2,\n"
    b"Letters/note.odt,512,400+1,\n"
    b"read me.txt,20,,damaged\n"
)


def read_spans(rows: list[tuple[int, int, str]], total: int = 976_773_168) -> Any:
    columns: dict[str, Any] = {"first": [str(row[0]) for row in rows], "sectors": [str(row[1]) for row in rows]}
    columns["state"] = [row[2] for row in rows]
    said = read_table(columns, How(states={row[2]: row[2] for row in rows}), total=total)
    return prepare(said, data=repr(rows).encode(), name="spans.csv", source="table")
