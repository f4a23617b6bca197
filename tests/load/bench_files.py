"""How long lists of files take, as ratios to a plain step on the same data in the same run, and how much memory.

    python tests/load/bench_files.py            2 million files of 3 extents, and a list of 5 million: some minutes
    python tests/load/bench_files.py --smoke    a hundredth of the size, to see that it runs; no limit is held

Ends with 1 if a limit is passed. Times are of work, not of waiting.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from labcases.bench.coverage import STATES, Coverage
from labcases.bench.files.cells import How
from labcases.bench.files.derived import Tie, derive
from labcases.bench.files.listed import Listed, Maker
from labcases.bench.files.source import Source
from labcases.bench.files.states import Extents, judge

SECTORS = 39_063_650_304  # 20 TB in sectors of 512 bytes (SFF-8447)
MOST_RATIO, MOST_MEMORY = 12.0, 1.5e9


def seconds(step: Callable[[], object], times: int = 1) -> float:
    def once() -> float:
        begun = time.process_time()
        step()
        return time.process_time() - begun

    return min(once() for _ in range(times))


def disk(chance: np.random.Generator, runs: int) -> Coverage:
    """A coverage of exactly so many runs."""
    starts = np.zeros(runs, np.int64)
    starts[1:] = np.sort(chance.choice(SECTORS // 64, runs - 1, replace=False, shuffle=False)) * 64 + 1
    return Coverage.from_runs(SECTORS, starts, np.cumsum(chance.integers(1, len(STATES), runs)) % len(STATES))


def states(chance: np.random.Generator, files: int) -> float:
    """The state of ``files`` files of three extents against a quarter as many spans, to sorting the extents' starts."""
    coverage = disk(chance, files // 4)
    firsts, lengths = chance.integers(0, SECTORS - 5_000, 3 * files), chance.integers(1, 5_000, 3 * files)
    extents, said = Extents(firsts, lengths, np.full(files, 3)), np.zeros(files, np.uint8)
    return seconds(lambda: judge(coverage, extents, said), 3) / seconds(lambda: np.sort(firsts), 3)


def written(chance: np.random.Generator, files: int, target: Path) -> None:
    """A list as CSV: folders of some forty files, names of every length, extents in text."""
    with target.open("w") as out:
        out.write("path,size,modified,extents,check\n")
        for begin in range(0, files, 10_000):
            firsts = chance.integers(0, SECTORS - 5_000, (10_000, 3))
            out.writelines(
                f"Work/{n % 97}/{n // 4_000}/{n // 40} some name.jpg,{n},2026-03-01T10:00:00,{a}+100;{b}+7;{c}+1,ok\n"
                for n, (a, b, c) in enumerate(firsts[: files - begin].tolist(), begin)
            )


def memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def say(words: str) -> None:
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def whole_way(chance: np.random.Generator, files: int, folder: Path) -> None:
    """A list read, kept and judged, from disk to disk."""
    listed, folders = folder / "files", folder / "folders"
    written(chance, files, folder / "list.csv")
    say(f"a list of {files:,} files: {(folder / 'list.csv').stat().st_size / 1e6:.0f} MB as CSV")
    columns = {name: at for at, name in enumerate(("path", "size", "modified", "extents", "check"))}
    maker = Maker(columns, How(), SECTORS)
    took = seconds(lambda: maker.make(Source(folder / "list.csv", "list.csv"), listed, folders))
    say(f"  read and kept in {took:.1f} s, {listed.stat().st_size / 1e6:.0f} MB, most memory {memory() / 1e6:.0f} MB")
    coverage, ties = disk(chance, files // 4), [Tie(1, pattern="*9 some*.jpg"), Tie(2, folder=3)]
    with Listed(listed, folders) as kept:
        took = seconds(lambda: derive(kept, coverage, ties, folder / "states", folder / "counts"))
    say(f"  judged in {took:.1f} s, most memory {memory() / 1e6:.0f} MB")


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--smoke", action="store_true", help="a hundredth of the size; no limit is held")
    smoke = asked.parse_args().smoke
    chance = np.random.default_rng(20)
    with tempfile.TemporaryDirectory() as folder:
        whole_way(chance, 50_000 if smoke else 5_000_000, Path(folder))
    files = 20_000 if smoke else 2_000_000
    ratio = states(chance, files)
    say(f"state of {files:,} files of 3 extents: {ratio:.2f}x sorting the starts (at most {MOST_RATIO:g}x)")
    say(f"most memory: {memory() / 1e9:.2f} GB (at most {MOST_MEMORY / 1e9:g} GB)")
    return 0 if smoke or (ratio <= MOST_RATIO and memory() <= MOST_MEMORY) else 1


if __name__ == "__main__":
    raise SystemExit(main())
