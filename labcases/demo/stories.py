"""The stories of the invented lab: what came in, how far it got.

Pure data; ``load`` plays them through real actions.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

# How far a story goes; each step is one verb. A story names the last one it reaches.
WAY = ("received", "examined", "quoted", "authorised", "in work", "checked", "ready", "handed over")


@dataclass(frozen=True)
class Story:
    """One case. ``until`` is the last stage it reaches, or an exit; ``ago`` is how many days ago it came in."""

    owner: int
    ago: int
    until: str
    items: Sequence[tuple[str, str, str]]  # kind, family or model words, behaviours joined by "+"
    happened: str
    words: str
    wanted: Sequence[str]
    tried: str = "nothing"
    marks: str = "nothing"
    faults: Sequence[str] = ()
    found: str = ""
    prospects: str = "fair"
    needs_part: str = ""
    price: int = 32_000
    outcome: str = "whole"
    with_it: Sequence[str] = ()
    way: str = "counter"
    urgency: str = "normal"
    unfinished: bool = False
    reseller: bool = False
    locks: Sequence[tuple[str, str]] = ()
    may_open: bool = True
    said: str = ""
    stop: str = ""
    key: str = ""  # what the rest of the invented lab calls this case
    promise: int = 18  # days after it came in
    slots: bool = False  # members of one box, numbered from 0
    pool: bool = False  # its images lie on a storage pool
    scanned: bool = False  # the signed form was put on the counter's scanner
    sheet: bool = False  # written on a sheet of the paper pad, and typed in later
    erase: str = ""  # how far the wipe of its destination has come: running, ended; else it is verified


TOLD = (
    Story(
        0, 26, "in work", [("disk25", "Pelorus Minnow", "slow+reads errors"), ("card", "Stub 64", "not known")], "dropped",
        "Fell from a music stand while running. Slow afterwards, then not seen at all. A nephew ran a repair program over night.",
        ["Recordings 2019 to 2026 (WAV)", "Scores (PDF, MusicXML)", "Members' list (spreadsheet)"],
        tried="software", faults=("heads", "reading"), needs_part="head stack", price=54_000, with_it=("USB cable", "pouch"),
        found="Head 1 weak over the outer quarter, head 0 sound. Board looked over and cleaned, no short on 5 V (1.2 kΩ).",
        key="choir", promise=34, scanned=True,
    ),
    Story(
        1, 4, "examined", [("disk25", "Pelorus Minnow", "clicks")], "dropped",
        "Clicks since Sunday; a friend opened it to look.", ["Accounts of the workshop", "Photographs of the children"],
        tried="opened", marks="screws", faults=("heads", "surface"), prospects="poor", needs_part="head stack", price=89_000,
        found="Opened in clean air: one slider bent, a fine ring on the upper surface near the outer edge.",
        key="workshop",
    ),
    Story(
        2, 21, "ready", [("disk35", "Corvane Tern", "spins"), ("disk35", "Corvane Tern", "normal")], "power cut",
        "Two disks of an office box; after the power cut the box asked to start over. Nobody did.",
        ["Survey drawings since 2021", "Mail of the firm"], faults=("service area",), prospects="good", price=61_000,
        found="First disk answers with a factory name: service area not read. Second disk sound.", urgency="urgent",
        key="survey", scanned=True,
    ),
    Story(
        3, 1, "received", [("ssd", "Tidewell Wisp 480", "dead")], "surge", "Dead after a thunderstorm.",
        ["Thesis, chapters 3 to 5"], urgency="emergency", with_it=("enclosure",), may_open=False,
    ),
    Story(
        4, 30, "handed over", [("stick", "Stub 32", "wrong capacity")], "not known",
        "Asked to be formatted one morning. It was not.", ["Choir photographs", "Letters"],
        faults=("flash controller",), found="The controller answers, its translation is damaged. Chip read twice, same both times.",
        price=24_000, outcome="partial",
    ),
    Story(
        5, 0, "received", [("phone", "Tidewell Reed 6", "normal")], "liquid", "Fell into the harbour, taken out at once, still damp.",
        ["Videos of the wedding"], locks=(("phone code", "yes"),), unfinished=True, marks="liquid", may_open=False,
    ),
    Story(
        6, 17, "unrecoverable", [("disk35", "Corvane Skua", "grinds")], "wear", "Ground for a week before it stopped.",
        ["Drawings of hulls 12 to 30"], faults=("surface",), prospects="none",
        found="Both outer surfaces scraped to the glass, dust through the whole chamber. Nothing can be read from it.",
        key="hulls",
    ),
    Story(
        7, 12, "quoted", [("external", "Tidewell Carry 1T", "beeps")], "dropped", "Fell off the desk and beeps since.",
        ["Edited films 2025", "Raw footage, autumn"], faults=("stuck",), prospects="good", price=36_000,
        found="Heads rest on the platter. Motor free once they are lifted; surfaces look clean under the light.", urgency="urgent",
        key="studio",
    ),
    Story(
        8, 26, "declined", [("disk25", "Orlane Sallow", "slow")], "wear", "Takes minutes to open a folder.",
        ["Recipes", "Photographs"], faults=("reading",), prospects="good", price=28_000, said="too dear for what is on it",
        found="Many re-reads, all heads alike. Reads in full with patience.",
        key="recipes",
    ),
    Story(
        9, 6, "authorised", [("disk35", "Corvane Skua", "spins")], "firmware update",
        "The recorder of the harbour cameras restarted during an update.", ["Footage of 14 November, 22:00 to 24:00"],
        faults=("service area",), price=78_000, found="Spins up, not ready. ROM read twice, same both times.",
        with_it=("caddy", "power supply"),
        key="harbour",
    ),
    Story(
        10, 2, "expected", [("disk25", "Pelorus Grayling", "not known")], "not known", "Found in an estate.",
        ["Anything with names and dates"], way="post",
    ),
    Story(
        11, 33, "handed over", [("nvme", "Tidewell Swift 1T", "dead"), ("card", "Stub 256", "normal")], "not known",
        "Stopped in the middle of a shoot.", ["Day 4, camera A", "Day 4, sound"], faults=("board",), prospects="good",
        found="A capacitor on the supply shorted. Replaced; the medium answers and reads in full.", price=46_000, reseller=True,
    ),
    Story(
        12, 40, "withdrawn", [("disk25", "Orlane Sallow", "clicks")], "dropped", "Fell down the stairs.", ["Family tree"],
        said="a cousin has a copy",
    ),
    Story(
        13, 14, "checked", [("tape", "", "not known")], "wear", "The last reader in the house gave up.",
        ["Oral history interviews 1 to 40"], faults=("none",), prospects="good", price=22_000,
        found="Tape sound, some shedding. Read on our own deck in one go.",
    ),
    Story(
        0, 61, "handed over", [("floppy", "", "not known")], "wear", "Forty years in a drawer.", ["The first score"],
        faults=("none",), prospects="good", price=6_000, found="Reads in full at the third pass.",
    ),
    Story(
        2, 48, "abandoned", [("disk35", "Corvane Tern", "dead")], "surge", "Found behind a cupboard.", ["not said"],
        faults=("board",), found="Suppressor diode shorted.", prospects="good", price=18_000, said="three notices, no answer",
    ),
    Story(
        1, 3, "received", [("helium", "Vantmoor Fell", "clicks")], "dropped", "Fell from a shelf while running.",
        ["Film scans"], with_it=("power supply",), stop="Two partners of a dissolved firm both say that it is theirs.",
        key="partners",
    ),
    Story(
        13, 23, "in work", [("member", "Corvane Tern", "normal"), ("member", "Corvane Tern", "slow"),
                            ("member", "Corvane Tern", "normal"), ("member", "Corvane Tern", "normal")], "wear",
        "The box of the archive went red on one slot in spring and on a second last month. Nobody pressed rebuild.",
        ["Scanned parish registers", "Oral history, masters", "Catalogue (database)"], faults=("reading", "array"),
        found="Four members of one array. Slot 1 reads slowly with retries, slot 3 fell out in spring and is behind.",
        prospects="good", price=112_000, with_it=("network cable",), slots=True, pool=True, key="archive", promise=30,
    ),
    Story(
        10, 19, "in work", [("stick", "Tidewell Stub 16", "dead")], "wear", "Warm to the touch, then nothing.",
        ["Dissertation, last three weeks", "Interview notes"], faults=("flash controller", "flash wear"), prospects="fair",
        found="The controller takes 5 V to ground. The chip is whole: to be taken off and read.", price=38_000,
        key="dissertation", promise=30,
    ),
    Story(
        8, 13, "quoted", [("disk25", "Orlane Sallow", "spins")], "power cut",
        "Taken in by candle while the street was dark; written on the pad.", ["Letters", "Photographs of the mill"],
        faults=("service area",), found="Answers with a factory name; the service area is not read.", price=33_000,
        sheet=True, key="mill",
    ),
    Story(
        4, 44, "handed over", [("disk25", "Pelorus Minnow", "slow")], "wear", "Slower by the week, then not seen.",
        ["Church accounts", "Photographs"], faults=("reading",), found="Unstable over a third of its area, worse when warm.",
        needs_part="head stack", price=42_000, outcome="partial", erase="ended",
    ),
    Story(
        5, 41, "handed over", [("disk35", "Corvane Tern", "spins")], "repartitioned", "Set up anew by mistake.",
        ["Wedding films"], faults=("logical",), found="Old structures stand behind the new ones.", price=21_000,
        erase="running",
    ),
)  # fmt: skip

_STORIES = (
    ("dropped", "Fell and was not seen again.", ("heads",), "Head 0 does not read; the others do.", "head stack"),
    ("wear", "Grew slower by the week.", ("reading",), "Unstable reading, worse when warm.", ""),
    (
        "deleted",
        "The wrong folder was emptied.",
        ("deleted",),
        "File system sound; much of what was deleted stands.",
        "",
    ),
    ("power cut", "Not seen after the lights went out.", ("service area",), "Answers with a factory name.", ""),
    ("surge", "A smell, then nothing.", ("board",), "Board shorted at the 12 V input.", "controller board"),
    ("repartitioned", "Set up anew by mistake.", ("logical",), "Old structures stand behind the new ones.", ""),
)
_WANTED = ("Photographs", "Accounts", "Drawings", "Letters", "Films", "Music", "Mail", "Database of members")


def more(count: int, dice: random.Random) -> Iterator[Story]:
    """Further cases, so that three months are filled: spread over every stage, older ones mostly gone home."""
    for n in range(count):
        happened, words, faults, found, part = _STORIES[n % len(_STORIES)]
        kind, family = (("disk25", "Pelorus Minnow"), ("disk35", "Corvane Tern"), ("disk25", "Orlane Sallow"))[n % 3]
        ago = 4 + n * 84 // max(count - 1, 1)
        until = "handed over" if ago > 24 else WAY[(n * 5) % len(WAY)]
        yield Story(
            owner=n % 14,
            ago=ago,
            until=until,
            items=[(kind, family, dice.choice(("slow", "spins", "dead", "reads errors")))],
            happened=happened,
            words=words,
            wanted=dice.sample(_WANTED, 2),
            faults=faults,
            found=found,
            prospects=dice.choice(("good", "good", "fair")),
            needs_part=part,
            price=dice.randrange(18, 70) * 1000,
            outcome=dice.choice(("whole", "whole", "partial")),
        )
