"""Manifests: which files were handed over, each with its checksum, in the lines of RFC 8493 (BagIt) s.2.1.3.

A line is a checksum in hex, blanks, and the path of a file below ``data/``. In a path LF, CR and % are written
%0A, %0D and %25, and nothing else is; each file stands there once, folders do not.

>>> text = write({"data/letters/100%.txt": "c0ffee", "data/a.txt": "abcd"})
>>> print(text, end="")
abcd  data/a.txt
c0ffee  data/letters/100%25.txt
>>> comparison = compare(parse(text), {"data/a.txt": "ABCD", "data/b.txt": "00"})
>>> comparison.same, comparison.missing, comparison.extra, comparison.holds
(['data/a.txt'], ['data/letters/100%.txt'], ['data/b.txt'], False)
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

PAYLOAD = "data/"

_LINE_END = re.compile(r"\r\n|\r|\n")  # str.splitlines would also break a path at U+2028 and its like
_LINE = re.compile(r"(?P<checksum>[0-9A-Fa-f]+)[ \t]+(?P<path>.+)", re.DOTALL)
_ESCAPED = re.compile(r"%(0A|0D|25)", re.IGNORECASE)
_UNESCAPED = re.compile(r"[\n\r%]")
_DRIVE = re.compile(r"[A-Za-z]:[/\\]")


class BadManifest(ValueError):
    """A manifest breaks RFC 8493; ``str(error)`` says which line and why."""


@dataclass(frozen=True)
class Comparison:
    """Paths of two sets of files, in alphabetical order: ``changed`` have another checksum, ``missing`` were
    expected and not found, ``extra`` found and not expected."""

    same: list[str]
    changed: list[str]
    missing: list[str]
    extra: list[str]

    @property
    def holds(self) -> bool:
        """Whether exactly what was expected is there."""
        return not (self.changed or self.missing or self.extra)


def parse(text: str, *, payload: bool = True) -> dict[str, str]:
    """Checksums in lower case by path. A tag manifest (``payload=False``) lists files outside ``data/`` instead.

    Raises BadManifest for a line that is none, a file listed twice, a folder, a path that leaves its place.
    """
    checksums: dict[str, str] = {}
    for number, line in enumerate(_LINE_END.split(text), start=1):
        if not line.strip(" \t"):
            continue
        match = _LINE.fullmatch(line)
        if not match:
            raise BadManifest(f"Line {number} is not a checksum in hex, blanks and a path.")
        path = _decoded(match["path"].removeprefix("./"))
        if fault := _fault_of(path, payload=payload):
            raise BadManifest(f"Line {number}: {path!r} {fault}.")
        if path in checksums:
            raise BadManifest(f"Line {number}: {path!r} is listed twice.")
        checksums[path] = match["checksum"].lower()
    return checksums


def write(checksums: Mapping[str, str], *, payload: bool = True) -> str:
    """The text of a manifest, in alphabetical order of paths. Raises BadManifest for what parse would refuse."""
    lines = []
    for path, checksum in sorted(checksums.items()):
        if fault := _fault_of(path, payload=payload):
            raise BadManifest(f"{path!r} {fault}.")
        if not re.fullmatch(r"[0-9A-Fa-f]+", checksum):
            raise BadManifest(f"The checksum of {path!r} is not hex: {checksum!r}.")
        lines.append(f"{checksum.lower()}  {_encoded(path)}\n")
    return "".join(lines)


def compare(expected: Mapping[str, str], found: Mapping[str, str]) -> Comparison:
    """What became of the expected files, path to checksum in hex of either case.

    A path that is there under another Unicode form (some file systems store accents taken apart) is taken for
    the same path, and named as it was expected.
    """
    renamed = _other_forms(set(expected) - set(found), set(found) - set(expected))
    there = {renamed.get(path, path): checksum for path, checksum in found.items()}
    both = sorted(expected.keys() & there.keys())
    same = [path for path in both if expected[path].lower() == there[path].lower()]
    return Comparison(
        same=same,
        changed=sorted(set(both) - set(same)),
        missing=sorted(expected.keys() - there.keys()),
        extra=sorted(there.keys() - expected.keys()),
    )


def _other_forms(missing: Iterable[str], extra: Iterable[str]) -> dict[str, str]:
    """Found paths that differ from a missing one by Unicode form alone, each with that one."""
    wanted = {unicodedata.normalize("NFC", path): path for path in sorted(missing)}
    pairs = {}
    for path in sorted(extra):
        if expected := wanted.pop(unicodedata.normalize("NFC", path), None):
            pairs[path] = expected
    return pairs


def _fault_of(path: str, *, payload: bool) -> str:
    """Why a path cannot stand in a manifest, or nothing. Backslashes count: what reads it may be another system."""
    steps = re.split(r"[/\\]", path)
    if ".." in steps or path.startswith(("/", "\\", "~")) or _DRIVE.match(path):
        return "leads out of the folder that was handed over"
    if path.endswith("/"):
        return "is a folder; only files are listed"
    if payload and not path.startswith(PAYLOAD):
        return f"is not below {PAYLOAD}"
    if not payload and path.startswith(PAYLOAD):
        return f"is below {PAYLOAD}, where only payload manifests look"
    return ""


def _decoded(path: str) -> str:
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), path)


def _encoded(path: str) -> str:
    return _UNESCAPED.sub(lambda match: f"%{ord(match[0]):02X}", path)
