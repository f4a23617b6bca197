"""What was read of three patients, night by night: the tables that bench machines of the invented lab wrote."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

Row = tuple[int, int, str, int]  # first sector, sectors, word, milliseconds
WORDS = {"ok": "read", "later": "skipped", "bad": "unreadable", "unsure": "doubtful"}


@dataclass(frozen=True)
class Night:
    """One table. ``share`` says when, between the begin of the work and now; ``begin`` to ``end`` of the medium."""

    share: float
    number: int
    begin: float
    end: float
    withdrawn: str = ""


@dataclass(frozen=True)
class Told:
    """One patient. ``weak`` is a head that fails in the first ``hurt`` of the medium; ``heads`` 0 where none are."""

    case: str
    item: int
    nights: Sequence[Night]
    heads: int = 0
    weak: int | None = None
    hurt: float = 0.0
    layout: str = ""
    areas: Sequence[tuple[int, str, Sequence[tuple[float, float]]]] = ()  # wanted line (0: structures), name, shares
    verdict: str = ""
    doubted: str = ""
    plan_at: float = 0.0


READ = (
    Told(
        "choir",
        1,
        heads=2,
        weak=1,
        hurt=0.26,
        nights=(
            Night(0.04, 1, 0.0, 0.31),
            Night(0.13, 1, 0.31, 0.62),
            Night(0.2, 1, 0.62, 0.8, withdrawn="This is the log of the port beside it: another patient's numbers."),
            Night(0.3, 1, 0.62, 1.0),
            Night(0.52, 2, 0.0, 0.08),
            Night(0.68, 2, 0.08, 0.16),
            Night(0.86, 2, 0.16, 0.21),
        ),
        layout="1 2048 1046528 Start\n2 1048576 975722496 Choir",
        areas=(
            (0, "File table of partition 2", ((0.0065, 0.0072), (0.5, 0.5003))),
            (1, "Recordings", ((0.02, 0.21), (0.33, 0.47))),
            (2, "Scores", ((0.61, 0.64),)),
        ),
        verdict="Many times its neighbour's errors in the same zones, and slower by the night: left for last.",
        doubted="Read alike in one night and otherwise in the next: to be read a third time.",
        plan_at=0.6,
    ),
    Told(
        "archive",
        2,
        heads=2,
        nights=(Night(0.1, 1, 0.0, 0.55), Night(0.35, 1, 0.55, 1.0), Night(0.75, 2, 0.0, 1.0)),
        layout="1 2048 8192 Box system\n2 10240 1953514928 Member of the array",
        areas=((3, "Catalogue", ((0.1, 0.11),)),),
    ),
    Told("dissertation", 1, nights=(Night(0.5, 1, 0.0, 0.7),)),
)

BANDS = 20  # stretches of one head, one after another from the outer edge inwards


def bands(total: int, heads: int) -> list[tuple[int, int, int]]:
    """First sector, sectors and head of each stretch."""
    edges = [total * n // BANDS for n in range(BANDS + 1)]
    return [(edges[n], edges[n + 1] - edges[n], n % heads) for n in range(BANDS)]


def first_pass(told: Told, night: Night, total: int, dice: random.Random) -> Iterator[Row]:
    """Quick, with what resists passed over."""
    begin, end = int(total * night.begin), int(total * night.end)
    for first, sectors, head in bands(total, told.heads or 1):
        start, stop = max(first, begin), min(first + sectors, end)
        if start < stop:
            hurt = head == told.weak and first < told.hurt * total
            yield from (_torn if hurt else _smooth)(start, stop, dice)


def _torn(start: int, stop: int, dice: random.Random) -> Iterator[Row]:
    """A weak head: short good stretches, and holes between them."""
    at = start
    while at < stop:
        good = min(dice.randrange(300_000, 2_400_000), stop - at)
        yield at, good, "ok", dice.randrange(60, 240)
        at += good
        hole = min(dice.randrange(2_000, 90_000), stop - at)
        if hole:
            yield at, hole, "later", dice.randrange(900, 4_000)
        at += hole


def _smooth(start: int, stop: int, dice: random.Random) -> Iterator[Row]:
    """A sound head: nearly everything, with a hole of some hundred sectors now and then."""
    at, hole = start, dice.randrange(64, 900)
    middle = start + (stop - start) * dice.randrange(20, 80) // 100
    if dice.random() < 0.3 and middle + hole < stop:
        yield at, middle - at, "ok", dice.randrange(8, 15)
        yield middle, hole, "later", dice.randrange(300, 900)
        at = middle + hole
    yield at, stop - at, "ok", dice.randrange(8, 15)


def second_pass(holes: Sequence[tuple[int, int]], dice: random.Random) -> Iterator[Row]:
    """Smaller steps from both sides: most of each hole, and a core that does not read."""
    for first, sectors in holes:
        core = sectors * dice.choice((0, 0, 0, 3, 8, 20)) // 100
        left = (sectors - core) // 2
        yield first, left, "ok", dice.randrange(90, 400)
        if core:
            yield first + left, core, dice.choice(("bad", "later")), dice.randrange(2_000, 9_000)
        if sectors - left - core:
            yield first + left + core, sectors - left - core, "ok", dice.randrange(90, 400)
