"""How long the arithmetic of the bench takes, as ratios to a plain numpy step on the same data in the same run.

    python tests/load/bench_coverage.py            everything, growth up to 10 million spans: about a minute and 2 GB
    python tests/load/bench_coverage.py --smoke    a hundredth of the size, to see that it runs; no limit is held

Ends with 1 if a limit is passed. Times are the best of several, so that other work on the machine disturbs less.
"""

from __future__ import annotations

import argparse
import lzma
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from labcases.bench.coverage import STATES, Coverage
from labcases.bench.picture import draw
from labcases.bench.plan import Area, Head, make_plan
from labcases.bench.stored import pack

SECTORS = 39_063_650_304  # 20 TB in sectors of 512 bytes (SFF-8447)
Columns = tuple[Any, Any, Any]


def best(step: Callable[[], object], times: int = 5) -> float:
    """Seconds of work of the quickest of several runs; waiting while others work does not count."""

    def once() -> float:
        begun = time.process_time()
        step()
        return time.process_time() - begun

    return min(once() for _ in range(times))


def batch(chance: np.random.Generator, count: int) -> Columns:
    """Spans as a failing disk gives them: all over, most of them short, every state, in no order."""
    firsts = chance.integers(0, SECTORS, count)
    sectors = np.minimum(chance.geometric(count / SECTORS, count), SECTORS - firsts)
    return firsts, sectors, chance.integers(1, len(STATES), count).astype(np.uint8)


def runs(chance: np.random.Generator, count: int) -> Coverage:
    """A coverage of exactly so many runs."""
    starts = np.zeros(count, np.int64)
    starts[1:] = np.sort(chance.choice(SECTORS // 64, count - 1, replace=False, shuffle=False)) * 64 + 1
    return Coverage.from_runs(SECTORS, starts, np.cumsum(chance.integers(1, len(STATES), count)) % len(STATES))


def overlay(chance: np.random.Generator, count: int) -> float:
    """Laying ``count`` spans onto ``count``, to sorting both batches' starts."""
    old, new = runs(chance, count), batch(chance, count)
    both = np.concatenate((old.starts[chance.permutation(count)], new[0]))
    return best(lambda: old.overlay(new)) / best(lambda: np.sort(both))


def files(chance: np.random.Generator, count: int) -> float:
    """What is read of ``count`` files of three extents, of a quarter as many spans, to sorting the extents' starts."""
    disk = runs(chance, count // 4)
    firsts = chance.integers(0, SECTORS - 5_000, 3 * count)
    sectors, sizes = chance.integers(1, 5_000, 3 * count), np.full(count, 3)
    return best(lambda: disk.count_groups("read", firsts, sectors, sizes), 3) / best(lambda: np.sort(firsts), 3)


def picture(chance: np.random.Generator, count: int) -> float:
    """The picture and its table, to one pass that adds up the lengths of the same spans by state."""
    disk = runs(chance, count)
    fresh = lambda: draw(Coverage(SECTORS, disk.starts, disk.codes))  # noqa: E731 - nothing remembered from before
    one_pass = lambda: np.bincount(disk.codes, np.diff(disk.starts, append=SECTORS))  # noqa: E731
    return best(fresh, 15) / best(one_pass, 15)


def plan(chance: np.random.Generator, count: int) -> float:
    """Planning a second pass over ``count`` spans, four heads and ten wanted areas, to sorting the spans' starts."""
    disk = runs(chance, count)
    shuffled = chance.permutation(disk.starts)
    quarter = SECTORS // 4
    heads = [Head(n, [(n * quarter, quarter)], state) for n, state in enumerate(("good", "slow", "weak", "dead"))]
    wanted = [Area(f"wanted {n}", [(n * 10**9, 10**8)]) for n in range(10)]
    step = lambda: make_plan(disk, pass_number=2, heads=heads, wanted=wanted, damage=["outer"])  # noqa: E731
    return best(step, 3) / best(lambda: np.sort(shuffled), 3)


def failing(chance: np.random.Generator, count: int) -> Coverage:
    """What is known of a failing disk after a first pass: damage in some forty places, thick in their middle and thin
    farther off; there, unreadable sectors in blocks of eight, and stretches skipped in steps of 128. Always the same.
    """
    tried = SECTORS * 7 // 10
    centres = np.sort(chance.integers(0, tried, 40))
    places = np.repeat(centres, count // 40) + (chance.standard_cauchy(count // 40 * 40) * 200_000).astype(np.int64)
    places = np.clip(places, 0, SECTORS - 10_000)
    bad = chance.random(places.size) < 0.6
    firsts = np.where(bad, places & ~7, places & ~127)
    sectors = np.where(bad, 8 * chance.geometric(0.7, places.size), 128 * chance.geometric(0.4, places.size))
    states = np.where(bad, STATES.index("unreadable"), STATES.index("skipped")).astype(np.uint8)
    hurt = Coverage.from_rows(SECTORS, [firsts, sectors, states])
    between, lengths = hurt.columns("unreached")
    read = between < tried
    last = np.minimum(lengths[read], tried - between[read])
    return hurt.overlay([between[read], last, np.full(last.size, STATES.index("read"), np.uint8)])


def stored(_: np.random.Generator, count: int) -> float:
    """Bytes of a stored coverage, to what xz makes of the same runs' lengths and states."""
    disk = failing(np.random.default_rng(7), count)
    lengths = np.diff(disk.starts, append=SECTORS)
    return len(pack(disk)) / len(lzma.compress(lengths.astype("<i8").tobytes() + disk.codes.tobytes()))


MEASURES: tuple[tuple[str, Callable[[np.random.Generator, int], float], int, float | None], ...] = (
    ("overlay of {:,} spans onto as many", overlay, 1_000_000, 8.0),
    ("state of {:,} files of 3 extents against a quarter as many spans", files, 2_000_000, 12.0),
    ("picture of {:,} spans", picture, 1_000_000, 3.0),
    ("plan over {:,} spans", plan, 1_000_000, None),
    ("a failing disk with {:,} damaged spans, stored", stored, 200_000, 1.15),
)


def growth(chance: np.random.Generator, largest: int) -> tuple[list[str], bool]:
    """Overlay against sorting, which grows as n log n, from 10,000 spans on; the ratio must not double."""
    lines, ratios, count = [], [], 10_000
    while count <= largest:
        old, new = runs(chance, count), batch(chance, count)
        both = np.concatenate((old.starts[chance.permutation(count)], new[0]))
        times = 2 if count > 10**6 else 9
        seconds = best(lambda old=old, new=new: old.overlay(new), times)  # type: ignore[misc]
        ratios.append(seconds / best(lambda both=both: np.sort(both), times))  # type: ignore[misc]
        lines.append(f"  {count:>10,} spans  {seconds * 1000:9.1f} ms  {ratios[-1]:5.2f}x sorting")
        count *= 10
    return lines, max(ratios) <= 2 * ratios[0]


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--smoke", action="store_true", help="a hundredth of the size; no limit is held")
    smoke = asked.parse_args().smoke
    chance = np.random.default_rng(20)
    held = True
    for name, measure, count, limit in MEASURES:
        count = count // 100 if smoke else count
        ratio = measure(chance, count)
        held &= limit is None or ratio <= limit
        sys.stdout.write(f"{name.format(count)}: {ratio:.2f}x" + (f" (at most {limit:g}x)\n" if limit else "\n"))
        sys.stdout.flush()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    sys.stdout.write(f"most memory up to here: {memory:.2f} GiB (at most 1.5 GB = 1.40 GiB)\n")
    held &= memory <= 1.5e9 / 1024**3
    lines, steady = growth(chance, 10_000 if smoke else 10_000_000)
    sys.stdout.write("growth of overlay:\n" + "\n".join(lines) + "\n")
    return 0 if smoke or (held and steady) else 1


if __name__ == "__main__":
    raise SystemExit(main())
