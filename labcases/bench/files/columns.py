"""The columns of a list of files: what each may be called, and which of a list's headers is which.

>>> columns_of(["Full path", "bytes", "nr"], {})
{'path': 0, 'size': 1}
>>> columns_of(["a", "b"], {"path": "b"})
{'path': 1}
>>> columns_of(["a", "b"], {})
Traceback (most recent call last):
    ...
labcases.bench.files.source.ListError: No column is known to hold the path. The columns are a, b.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from labcases.bench.files.cells import CHECKS
from labcases.bench.files.paths import shown
from labcases.bench.files.source import ListError
from labcases.core.importing import Field, guess

COLUMNS = (
    Field("path", "Path", ("name", "file", "filename", "file name", "full path", "location"), True),
    Field("size", "Size in bytes", ("size", "bytes", "length", "file size")),
    Field("modified", "Modified", ("mtime", "changed", "last modified", "date", "modified at", "written")),
    Field("created", "Created", ("ctime", "birth", "born", "created at")),
    Field("extents", "Extents", ("runs", "spans", "sectors", "clusters", "places", "fragments")),
    Field("check", "Check result", ("status", "state", "result", "condition", "integrity", "checked")),
)
CHECK_WORDS = dict(zip(CHECKS, ("whole", "damaged", "lost", "not known"), strict=True))


def columns_of(headers: Sequence[str], said: Mapping[str, str]) -> dict[str, int]:
    """Which column is which field: as ``said`` (field to header); where nothing is said, by the headers.

    Raises ListError for a header that is not there, for one that serves twice, and without a path.
    """
    found = {}
    for field, header in said.items():
        if header not in headers:
            raise ListError(f"There is no column “{_short(header)}”. {_there(headers)}")
        found[field] = headers.index(header)
    found = found or guess(headers, COLUMNS)
    if len(set(found.values())) < len(found):
        raise ListError("One column was chosen for two things.")
    if "path" not in found:
        raise ListError(f"No column is known to hold the path. {_there(headers)}")
    return found


def _there(headers: Sequence[str]) -> str:
    return f"The columns are {', '.join(map(_short, headers[:20]))}."


def _short(header: str) -> str:
    return shown(header.encode("utf-8", "surrogatepass"), 40)
