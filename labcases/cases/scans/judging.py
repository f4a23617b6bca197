"""What is taken in as a scan of a signed paper: a picture, or a PDF, known by its content and never by its name.

A PDF (ISO 32000-2, 7.5) begins with ``%PDF-`` and a version, and ends with ``startxref``, the place of its table, and
``%%EOF``; a file that was cut on the way has lost its end. The bytes are kept as they are and never opened here.

>>> judge(b"%PDF-1.7 ... startxref 9 %%EOF").kind
'PDF'
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field

from labcases.custody.photos.pictures import MOST_BYTES, NotAPicture, take_in
from labcases.custody.photos.pictures import WANTED as PHOTOS_WANTED

PDF = "PDF"
WANTED = "Scans are taken in as PDF, JPEG, PNG or WebP."
_HEAD = re.compile(rb"%PDF-[12]\.\d")
_END = re.compile(rb"startxref\s+\d+\s+%%EOF")
HEAD_WITHIN = TAIL_WITHIN = 1024  # bytes; ISO 32000-2, annex I allows readers to look that far
LOCKED = re.compile(rb"/Encrypt\s+\d+\s+\d+\s+R")


class NotAScan(ValueError):
    """A file that is no scan of a paper; ``str(error)`` is a sentence that says why and what to do instead."""


@dataclass(frozen=True)
class Scan:
    """A scan that can be kept: its bytes as they came, and of a picture two JPEG copies to look at."""

    kind: str
    data: bytes = field(repr=False)
    shown: bytes = field(default=b"", repr=False)
    thumb: bytes = field(default=b"", repr=False)

    @property
    def digest(self) -> str:
        """SHA-256, hex."""
        return hashlib.sha256(self.data).hexdigest()


def judge(data: bytes) -> Scan:
    """A scan of these bytes. Raises NotAScan with a sentence, and nothing else."""
    if b"%PDF-" in data[:HEAD_WITHIN]:
        return _pdf(data)
    try:
        taken = take_in(data)
    except NotAPicture as said:
        raise NotAScan(str(said).replace(PHOTOS_WANTED, WANTED)) from None
    return Scan(kind=taken.kind, data=data, shown=taken.shown, thumb=taken.thumb)


def _pdf(data: bytes) -> Scan:
    if len(data) > MOST_BYTES:
        raise NotAScan(f"It has {len(data) // 1_000_000} MB; up to {MOST_BYTES // 1_000_000} MB can be taken in.")
    if not _HEAD.match(data):
        raise NotAScan("It only looks like a PDF: something else stands before its beginning. Scan the paper again.")
    if not _END.search(data[-TAIL_WITHIN:]):
        raise NotAScan("This PDF is cut off: its end is missing. Send it again.")
    if LOCKED.search(data):
        raise NotAScan("This PDF is locked with a password, so nobody could read it later. Send it without one.")
    return Scan(kind=PDF, data=data)
