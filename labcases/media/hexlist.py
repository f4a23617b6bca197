"""A page out of a hex listing, whatever tool printed it.

Understood: with offsets or without (hexadecimal, octal or decimal; with a colon or only set apart by its width),
groups of 1, 2, 4 or 8 bytes, ``0x`` before or ``h`` behind, commas, a column of characters at the right, headings,
comments, and ``*`` for repeated lines. The groups are returned as printed: which byte of a group came first is for the
page's reader to tell, because only its content shows it. A text of more than ``LARGEST_TEXT`` characters or
``MOST_LINES`` lines is refused unread.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice, pairwise

from .errors import NotAPage

LARGEST_TEXT = 256 * 1024  # a 4096-byte page as loosely as anyone prints it is a tenth of this
MOST_LINES = 8192  # one byte a line, and as much again of headings
_OFFSET = re.compile(r"^\s*[\[<(]?(?:0x)?([0-9a-f]+)h?[\])>]?\s*[:>]\s*", re.IGNORECASE)
_COMMENT = re.compile(r"^\s*(?:#|//|;|--)")
_TOKEN = re.compile(r"^(?:0x)?([0-9a-f]+)h?$", re.IGNORECASE)
_CLUTTER = str.maketrans(dict.fromkeys(",;-{}()[]\"'_", " "))
_WIDTHS = (2, 4, 8, 16)  # digits in a group
_LINE_DIGITS = (32, 16, 64)  # digits in a line, where a column of characters follows


@dataclass(frozen=True, slots=True)
class Listing:
    """The bytes in printed order, and how many bytes a printed group holds (1 for a run of bytes)."""

    data: bytes
    group: int


@dataclass(slots=True)
class _Line:
    offset: str | None
    tokens: list[str]
    repeats: bool = False


def decode(raw: bytes) -> str:
    """Text of an uploaded file: UTF-16 or UTF-8 by its mark, else UTF-8, else one byte a character. Never fails."""
    for mark, encoding in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"), (b"\xef\xbb\xbf", "utf-8")):
        if raw.startswith(mark):
            return raw[len(mark) :].decode(encoding, errors="replace")
    if raw[1:64:2].count(0) > 24:
        return raw.decode("utf-16-le", errors="replace")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def parse(text: str | bytes, sizes: Iterable[int]) -> Listing:
    """The listing's bytes when they make one of the sizes. Raises NotAPage with what was found instead."""
    if len(text) > LARGEST_TEXT:
        raise NotAPage(f"The text is too long to be a listing of one page: more than {LARGEST_TEXT // 1024} KiB.")
    plain = decode(text) if isinstance(text, bytes) else text
    rows = unicodedata.normalize("NFKC", plain).splitlines()
    if len(rows) > MOST_LINES:
        raise NotAPage(f"The text is too long to be a listing of one page: more than {MOST_LINES} lines.")
    lines = [line for row in rows if (line := _line(row))]
    wanted = tuple(sizes)
    found = 0
    for reading in _readings(lines):
        listing = _assemble(reading)
        if listing and len(listing.data) in wanted:
            return listing
        found = max(found, len(listing.data) if listing else 0)
    names = " or ".join(str(size) for size in wanted)
    if not found:
        raise NotAPage(f"There is no hex listing in this text; expected {names} bytes as hexadecimal digits.")
    raise NotAPage(f"The listing holds {found} bytes; expected {names}.")


def _line(row: str) -> _Line | None:
    """One line taken apart: its offset where a colon marks one, and its groups up to the first other word."""
    if row.strip() == "*":
        return _Line(None, [], repeats=True)
    if _COMMENT.match(row):
        return None
    marked = _OFFSET.match(row)
    body = row[marked.end() :] if marked else row
    tokens = []
    for word in body.split("|")[0].translate(_CLUTTER).split():
        token = _TOKEN.match(word)
        if not token:
            break
        tokens.append(token[1])
    if not tokens and not marked:
        return None
    return _Line(marked[1] if marked else None, tokens)


def _readings(lines: list[_Line]) -> Iterator[list[_Line]]:
    """The ways the same lines can be meant: first groups as data or as offsets, whole or cut to a usual line length."""
    shifted = [
        _Line(line.tokens[0], line.tokens[1:]) if line.offset is None and line.tokens else line for line in lines
    ]
    unmarked = [line for line in lines if line.offset is None and line.tokens]
    readings = (shifted, lines) if _odd_first(unmarked) else (lines, shifted)
    yield from readings  # whole lines of both first: cut lines can come to the right length by chance
    for reading in readings:
        widths = Counter(len(token) for line in reading for token in line.tokens)
        if widths:
            width = widths.most_common(1)[0][0]
            yield from (_cut(reading, width, digits // width) for digits in _LINE_DIGITS)


def _odd_first(lines: list[_Line]) -> bool:
    """Whether the first group of most lines has another width than the second: an offset without a colon."""
    odd = sum(1 for line in lines if len(line.tokens) < 2 or len(line.tokens[0]) != len(line.tokens[1]))
    return odd * 2 > len(lines)


def _cut(lines: list[_Line], width: int, length: int) -> list[_Line]:
    """Groups of the usual width only, and no more of them a line: what stands beyond is the column of characters."""
    return [_Line(line.offset, [t for t in line.tokens if len(t) == width][:length], line.repeats) for line in lines]


def _assemble(lines: list[_Line]) -> Listing | None:
    """All groups of all lines as bytes, repeated lines filled in; None when the groups are no even bytes."""
    tokens = [token for line in islice(_filled(lines), MOST_LINES) for token in line.tokens]
    lengths = {len(token) for token in tokens}
    if not tokens:
        return None
    if len(lengths) > 1 and max(lengths) <= 4:  # words printed without leading zeros
        width = 4 if max(lengths) > 2 else 2
        tokens = [token.zfill(width) for token in tokens]
        lengths = {width}
    if len(lengths) == 1 and lengths <= set(_WIDTHS):
        return Listing(bytes.fromhex("".join(tokens)), lengths.pop() // 2)
    joined = "".join(tokens)
    return Listing(bytes.fromhex(joined), 1) if len(joined) % 2 == 0 and min(lengths) > 16 else None


def _filled(lines: list[_Line]) -> Iterator[_Line]:
    """The lines with every ``*`` replaced by the copies it stands for, told by the offsets around it."""
    step_base = _base(lines)
    last: _Line | None = None
    waiting = False
    for line in lines:
        if line.repeats:
            waiting = True
            continue
        if waiting and last and step_base:
            step, base = step_base
            yield from [last] * min(max((_number(line, base) - _number(last, base)) // step - 1, 0), 512)
        waiting = False
        if line.tokens:
            last = line
            yield line


def _base(lines: list[_Line]) -> tuple[int, int] | None:
    """The usual step between offsets and the number base in which it is even; None without usable offsets."""
    best: tuple[int, int, int] | None = None
    for base in (16, 8, 10):
        steps = Counter(
            _number(after, base) - _number(before, base)
            for before, after in pairwise(lines)
            if before.tokens and not after.repeats
        )
        (step, times), *_ = steps.most_common(1) or [(0, 0)]
        length = next((sum(map(len, line.tokens)) // 2 for line in lines if line.tokens), 0)
        if step > 0 and (rank := times + (1000 if step == length else 0)) > (best[0] if best else 0):
            best = (rank, step, base)
    return best[1:] if best else None


def _number(line: _Line, base: int) -> int:
    try:
        return int((line.offset or "")[:8], base)
    except ValueError:
        return -1
