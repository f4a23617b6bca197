"""What the stockroom of the invented lab buys, keeps for somebody, counts, checks and takes in from tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

# name, where, bytes, note
POOLS = (
    ("North rack", "file server in the back room, /images/north", 48_000_000_000_000, "Twelve disks, two of parity."),
    ("Old rack", "file server in the back room, /images/old", 12_000_000_000_000, "Filled up, then retired."),
)
RESIZED = "The plan reads the allocated part only."

# case, part, note, then what happened: (days ago, step, what is said of it)
NEEDS: Sequence[tuple[str, str, str, Sequence[tuple[float, str, dict[str, Any]]]]] = (
    ("partners", "head stack", "Once it is settled whose it is.", ()),
    (
        "workshop",
        "motor",
        "In case the spindle is bent as well.",
        ((2.5, "order", {"supplier": "Second Tide Spares", "price": 6_400, "days": 4}),),
    ),
    (
        "harbour",
        "controller board",
        "Must be CV-790 with its own ROM socket.",
        (
            (4.5, "order", {"supplier": "Ebbing Surplus", "price": 4_900, "days": 3, "non_refundable": True}),
            (1.4, "receive", {}),
        ),
    ),
    (
        "studio",
        "head stack",
        "Four heads of this family are seldom offered.",
        (
            (9.0, "order", {"supplier": "estate of a repair shop", "price": 8_900, "days": 2}),
            (7.5, "receive", {}),
            (7.4, "wrong", {"because": "Two heads instead of four."}),
            (7.0, "order", {"supplier": "Ebbing Surplus", "price": 11_900, "days": 3}),
            (5.0, "receive", {}),
            (4.9, "wrong", {"because": "The label says one family, the board and the heads inside are another."}),
        ),
    ),
    (
        "choir",
        "motor",
        "Spare, should the bearing go.",
        (
            (17.0, "order", {"supplier": "estate of a repair shop", "price": 3_000, "days": 5}),
            (12.0, "receive", {}),
            (11.8, "wrong", {"because": "Two platters instead of one."}),
            (11.5, "back", {"because": "Sent back with the same carrier, money returned."}),
        ),
    ),
    ("mill", "head stack", "", ((3.0, "drop", {"because": "Heads are sound after all: service area only."}),)),
)

# case, part, days it is kept, why
RESERVED = (
    ("workshop", "head stack", 12, "Until the customer has said yes or no."),
    ("studio", "controller board", 8, "Goes with the head stack that is on its way back."),
)

# family, part, changed rules by attribute, added ones, why
OWN_RULES: tuple[str, str, dict[str, dict[str, Any]], tuple[dict[str, Any], ...], str] = (
    "Corvane Skua",
    "head stack",
    {"made": {"level": "must", "comparator": "within days", "weight": 6, "limit": 60}},
    ({"attribute": "code:HSA", "level": "better", "comparator": "equal", "weight": 4},),
    "Four of five swaps with donors made more than two months apart never came ready.",
)
# The same for every family: part, changed rules by attribute, why
COMMON_RULES: tuple[str, dict[str, dict[str, Any]], str] = (
    "motor",
    {"model": {"weight": 5}},
    "Motors of another model line turned, but hummed.",
)
LABEL_CODE = ("HSA", "On the long edge of the label, after the date: four letters.")

# medium (place in the list of free destinations), passed, figures, why
HEALTH: Sequence[tuple[int, bool, dict[str, Any], str]] = (
    (0, True, {"self_test": "passed", "reallocated": 0, "pending": 0, "hours": 412, "tool": "our script 2.1"}, ""),
    (1, True, {"self_test": "passed", "reallocated": 3, "pending": 0, "hours": 9_870, "tool": "our script 2.1"}, ""),
    (
        2,
        False,
        {"self_test": "failed", "reallocated": 1_204, "pending": 88, "hours": 31_006, "tool": "our script 2.1"},
        "Grows by a hundred reallocated sectors a week.",
    ),
)

OWN_MEDIUM: dict[str, Any] = {
    "kind": "external",
    "maker": "Tidewell",
    "model": "Carry 2T",
    "serial": "TC20447119",
    "sectors": 3_907_029_168,
    "sector_bytes": 512,
    "use": "delivery",
    "note": "The harbour office's own, with its cable.",
}
CONSENT = {
    "content": "Footage of spring and summer in one folder; about 640 GB are free.",
    "consent": "The footage of 14 November may be put beside what is there. Nothing of it is erased or moved.",
    "consent_by": "Jago Penhallick",
    "consent_paper": "signed form at the counter, binder 3",
}

COUNTED_AT = ("Shelf A1", "Shelf B2")
STRANGER = "no label, 40 GB disk"

SHELF_TABLE = """\
Type;Manufacturer;Model no;S/N;FW;Board;Parts;Supplier;Paid;Location
2.5\u2033 disk;Pelorus;PL500-2M;PX40112208;M1.04;PB-2210;heads, board;Second Tide Spares;48.00;Shelf B3
2.5\u2033 disk;Pelorus;PL500-2M;PX40112231;M1.07;PB-2210;heads, board;Second Tide Spares;48.00;Shelf B3
3.5\u2033 disk;Corvane;CT1000-1M;CX20993117;T12;CV-771;board;Second Tide Spares;22.00;Shelf B3
2.5\u2033 disk;Orlane;OS750-3M;OX11870042;0B2;OL-5501;heads, board, motor;Second Tide Spares;61.50;Shelf B3
"""
