"""What is said of a card that comes in and goes out while its owner waits: one page, plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from labcases.cases.intake import NewItem, Told


@dataclass(frozen=True)
class Work:
    """What was found and done, and what came of it. ``state`` answers every wanted line, ``words`` says it in words."""

    faults: Sequence[str]
    found: str
    done: str
    method: str = ""
    files: int | None = None
    size: int | None = None
    state: str = "whole"
    words: str = ""
    compared: str = "sampled"
    samples: str = ""
    not_recovered: str = ""


@dataclass(frozen=True)
class Price:
    """Before tax, minor units; ``tax_rate`` in basis points; ``paid`` is how, empty when it costs nothing."""

    words: str
    net: int
    tax_rate: int = 0
    paid: str = ""


@dataclass(frozen=True)
class Quick:
    """The whole visit. ``carrier`` is where the files went, in words; the signature stands for terms and handover."""

    item: NewItem
    told: Told
    work: Work
    price: Price
    carrier: str
    signed_how: str
    signature: bytes = field(default=b"", repr=False)
    proof: str = "known"
    sample_opened: bool = False
