"""How long reading a page takes, as multiples of a calibration loop of the same run.

    python tests/load/bench_media.py            prints the ratios; fails where a limit is broken
    python tests/load/bench_media.py --smoke    a few rounds only, to see that it runs

The limits: an IDENTIFY page at most 8 times unpacking 256 words and joining the strings; a GPT of 128 entries, all in
use, at most 20 times its two CRC-32 passes. Short rounds of both are taken in turn and the best of each is compared, so
that a busy machine does not decide.
"""

from __future__ import annotations

import argparse
import json
import struct
import sys
import time
import zlib
from collections.abc import Callable
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from labcases.media.identify import read_identify  # noqa: E402
from labcases.media.partitions import read_partitions  # noqa: E402

VECTORS = ROOT / "tests" / "outside" / "vectors"
IDENTIFY_LIMIT, GPT_LIMIT = 8.0, 20.0
TOTAL = 1_000_000


def ratio(subject: Callable[[], object], loop: Callable[[], object], rounds: int, times: int) -> float:
    """How many times as long the subject takes as the loop; both at their best of short rounds taken in turn."""
    figures: list[list[float]] = [[], []]
    for _ in range(rounds):
        for call, found in zip((subject, loop), figures, strict=True):
            started = time.perf_counter()
            for _ in range(times):
                call()
            found.append(time.perf_counter() - started)
    return min(figures[0]) / min(figures[1])


def unpack_and_join(page: bytes) -> tuple[str, ...]:
    """The calibration loop: the words of a page, and its three strings joined from them."""
    words = struct.unpack("<256H", page)
    parts = (words[10:20], words[23:27], words[27:47])
    return tuple("".join(chr(word >> 8) + chr(word & 255) for word in part).strip() for part in parts)


def two_passes(entries: bytes) -> tuple[int, int]:
    """The calibration of the GPT: one CRC-32 of the entries for each header."""
    return zlib.crc32(entries), zlib.crc32(entries)


def full_gpt() -> tuple[bytes, bytes, bytes]:
    """Head, tail and entries of a disk whose 128 entries are all in use."""
    entries = b"".join(
        struct.pack("<16s16sQQQ72s", bytes([number % 7 + 1]) * 16, number.to_bytes(16, "big"), 2048 + number * 64,
                    2048 + number * 64 + 63, 0, f"part {number}".encode("utf-16-le"))
        for number in range(128)
    )  # fmt: skip
    protective = bytes(446) + struct.pack("<B3xB3xII", 0, 0xEE, 1, TOTAL - 1).ljust(64, b"\0") + b"\x55\xaa"

    def header(here: int, other: int, at: int) -> bytes:
        raw = struct.pack(
            "<8s4sIIIQQQQ16sQIII", b"EFI PART", b"\0\0\1\0", 92, 0, 0, here, other, 34, TOTAL - 34, b"D" * 16,
            at, 128, 128, zlib.crc32(entries),
        )  # fmt: skip
        return (raw[:16] + struct.pack("<I", zlib.crc32(raw)) + raw[20:]).ljust(512, b"\0")

    return protective + header(1, TOTAL - 1, 2) + entries, entries + header(TOTAL - 1, 1, TOTAL - 33), entries


def ratios(rounds: int, times: int) -> dict[str, tuple[float, float]]:
    """Each measured ratio with its limit."""
    cases = json.loads((VECTORS / "ata_identify.json").read_text(encoding="utf-8"))["cases"]
    page = bytes.fromhex(cases[0]["page_hex"])
    turned = struct.pack(">256H", *struct.unpack("<256H", page))
    head, tail, entries = full_gpt()
    layout = read_partitions(head, tail, 512, TOTAL)
    if (len(layout.parts), layout.status) != (128, "ok"):
        raise SystemExit("the disk of the benchmark is not whole")
    loop, passes = partial(unpack_and_join, page), partial(two_passes, entries)
    subjects: list[tuple[str, Callable[[], object], Callable[[], object], float]] = [
        ("IDENTIFY page", partial(read_identify, page), loop, IDENTIFY_LIMIT),
        ("IDENTIFY page, bytes exchanged", partial(read_identify, turned), loop, IDENTIFY_LIMIT),
        ("GPT of 128 entries", partial(read_partitions, head, tail, 512, TOTAL), passes, GPT_LIMIT),
    ]
    return {name: (ratio(subject, by, rounds, times), limit) for name, subject, by, limit in subjects}


def main() -> int:
    parser = argparse.ArgumentParser(description="Ratios of reading pages to calibration loops of the same run.")
    parser.add_argument("--smoke", action="store_true", help="a few rounds only; limits are not judged")
    smoke = parser.parse_args().smoke
    found = ratios(*((1, 3) if smoke else (200, 20)))
    for name, (ratio, limit) in found.items():
        sys.stdout.write(f"{name:32} {ratio:6.2f} x   (limit {limit:.0f} x)\n")
    return 0 if smoke or all(ratio <= limit for ratio, limit in found.values()) else 1


if __name__ == "__main__":
    raise SystemExit(main())
