"""What stands, ran and went wrong on the bench of the invented lab."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

# name, kind, serial, note, ports
EQUIPMENT = (
    ("Bench machine 1", "machine", "", "Two ports with their own supplies.", ("left", "right")),
    ("Bench machine 2", "machine", "", "For boxes of several disks.", ("bay 1", "bay 2", "bay 3", "bay 4")),
    ("Chip reader", "reader", "CR-0047", "", ("socket",)),
    ("Clean bench by the window", "clean bench", "LF-2210", "Class 5 of ISO 14644-1 at the working height.", ()),
    ("Hot air station", "soldering", "", "Extraction on before the heat.", ()),
    ("Bench meter", "meter", "BM-118", "", ()),
)

# equipment, days ago, what, particles a cubic metre, days until it is due again, note
LOG: Sequence[tuple[str, int, str, int | None, int | None, str]] = (
    ("Clean bench by the window", 62, "filter", None, 59, "prefilter"),
    ("Clean bench by the window", 31, "count", 1_410, 30, ""),
    ("Clean bench by the window", 3, "count", 1_240, 30, "At working height, bench running for half an hour."),
    ("Clean bench by the window", 2, "cleaned", None, 7, "Wiped from back to front, lamp checked."),
    ("Bench meter", 40, "calibrated", None, 325, "Certificate in binder 2."),
    ("Bench machine 1", 12, "repaired", None, None, "Fan of the left port renewed."),
    ("Bench machine 1", 1, "checked", None, 30, "Both supplies under load: 5.03 V and 12.1 V."),
    ("Hot air station", 20, "checked", None, -2, "Extraction draws; its filter is due."),
)

# who, by whom it was shown, work, how it was shown, days until it is looked at again
COMPETENCE = (
    ("engineer", "clean", "Twelve openings beside a colleague.", 365),
    ("engineer", "imaging", "Two years of it; forty cases looked through.", 365),
    ("engineer", "chips", "Six chips off scrap boards, read alike before and after.", 180),
    ("counter", "counter", "A month at the counter; receipts looked through.", 365),
)

# days ago, case or "", what, why, what was done ("" while it is open)
MISHAPS = (
    (
        38,
        "",
        "A caddy was put back on the wrong shelf and searched for an hour.",
        "Caddies bore no label of their own.",
        "Caddies are labelled at the counter now.",
    ),
    (
        9,
        "choir",
        "The log of one port was uploaded for the patient on the port beside it.",
        "Both logs bore the date only.",
        "Logs are named by the port now; the upload was withdrawn the same morning.",
    ),
    (2, "archive", "A bay lost its supply for a minute while it was read.", "", ""),
)


COMPLAINTS = (
    (
        5,
        "choir",
        "The customer wrote that nobody told her for nine days how the second pass goes.",
        "Nothing had happened that the lab found worth a message.",
        "A week without an event asks for a message now, also when all goes as it should.",
    ),
)
# case, item, share of the radius of a dull ring, words, which fault it shows
EVIDENCE = (
    ("choir", 1, 0.93, "Fine ring near the outer edge, upper surface", "heads"),
    ("choir", 1, 0.0, "The disk as it was opened", ""),
)


@dataclass(frozen=True)
class Run:
    """A patient on a port, from a share of the time since its story to another; ``until`` None while it runs."""

    case: str
    item: int
    machine: str
    port: str
    doing: str
    begun: float
    until: float | None = None
    ending: str = "finished"
    hands_on: int | None = None


RUNS = (
    Run("choir", 1, "Bench machine 1", "left", "first pass, quick", 0.03, 0.16, hands_on=40),
    Run("choir", 1, "Bench machine 1", "left", "first pass, rest of the disk", 0.22, 0.31, "power cut", 15),
    Run("choir", 1, "Bench machine 1", "left", "second pass, smaller steps, weak head last", 0.94),
    Run("archive", 1, "Bench machine 2", "bay 1", "first pass", 0.02, 0.2, hands_on=20),
    Run("archive", 2, "Bench machine 2", "bay 2", "second pass over what was passed over", 0.93),
    Run("archive", 3, "Bench machine 2", "bay 3", "first pass", 0.95),
    Run("dissertation", 1, "Bench machine 1", "right", "controller tried at low stress", 0.05, 0.06, "failed", 25),
)

# case, item, what it says of itself (None: as noted), answers to what differs
IDENTITIES: Sequence[tuple[str, int, dict[str, Any], dict[str, str]]] = (
    ("choir", 1, {}, {}),
    ("archive", 1, {"firmware": "T13"}, {"firmware": "typo"}),
    ("archive", 2, {}, {}),
)

# case, item, kind, outcome, name, bytes, read twice, note
DUMPS = (
    ("choir", 1, "rom", "whole", "ROM of the board", 524_288, True, "Read in circuit, power off."),
    ("choir", 1, "module", "whole", "Modules 01 to 1C", 196_608, True, ""),
    ("choir", 1, "track", "not worth", "Rest of the service area", 0, False, "Head 1 is needed for the files."),
    ("archive", 2, "rom", "whole", "ROM of the board", 262_144, True, ""),
    ("harbour", 1, "rom", "whole", "ROM of the board", 524_288, True, "Before anything is written."),
    ("harbour", 1, "module", "partly", "Translator", 65_536, False, "Second copy unreadable."),
)

CHIP = "TLC, 16 GB, marked K9-B47D"
CHIP_CHANGE = "Taken off with hot air, 240 °C for 40 s: the controller shorts the supply. Pads cleaned, no lift."
PAGE, PAGES = 2_208, 48


def chip_reads(dice: random.Random, reads: int = 3) -> list[bytes]:
    """Raw reads of a tired chip: the same pages, with a few bits that fall otherwise each time."""
    true = dice.randbytes(PAGE * PAGES)
    tired = [dice.randrange(len(true)) for _ in range(90)]
    made = []
    for _ in range(reads):
        read = bytearray(true)
        for at in tired:
            read[at] ^= (1 << (at % 8)) if dice.random() < 0.4 else 0
        made.append(bytes(read))
    return made


# share of the time, level, members, sectors in a stripe, parity, note, stale places, places whose copy is no use
ARRAYS = (
    (0.15, "5", 4, None, "", "Order as the slots are numbered; stripe still to be found.", (), ()),
    (
        0.4,
        "5",
        4,
        128,
        "left symmetric",
        "Stripe from the steps in a large photograph; slot 3 fell out in spring.",
        (3,),
        (),
    ),
)
