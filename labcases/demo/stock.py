"""The invented stockroom: makers, families and media that never were."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from typing import Any

# family, maker, beginning of the model number, kind, heads, platters, sectors, boards, firmware versions
FAMILIES = (
    ("Pelorus Minnow", "Pelorus", "PL500", "disk25", 2, 1, 976_773_168, "PB-2210", ("M1.04", "M1.07", "M2.00")),
    ("Pelorus Grayling", "Pelorus", "PL2T", "disk25", 4, 2, 3_907_029_168, "PB-2340", ("G3.1", "G3.2")),
    ("Corvane Tern", "Corvane", "CT1000", "disk35", 2, 1, 1_953_525_168, "CV-771", ("T10", "T12", "T13")),
    ("Corvane Skua", "Corvane", "CS4000", "disk35", 8, 4, 7_814_037_168, "CV-790", ("S40", "S41")),
    ("Orlane Sallow", "Orlane", "OS750", "disk25", 3, 2, 1_465_149_168, "OL-5501", ("0A1", "0B2")),
    ("Vantmoor Fell", "Vantmoor", "VF8", "helium", 10, 5, 15_628_053_168, "VM-9000", ("F1", "F2")),
)
INSIDE = {  # what is read from boards and castings with a magnifier
    "Pelorus Minnow": {"preamplifier": "PA-31", "main_chip": "MC-220", "motor": "N1", "base_casting": "P5A"},
    "Pelorus Grayling": {"preamplifier": "PA-34", "main_chip": "MC-234", "motor": "N2", "base_casting": "P7B"},
    "Corvane Tern": {"preamplifier": "TX-7", "main_chip": "CX-71", "motor": "R4", "base_casting": "C11"},
    "Corvane Skua": {"preamplifier": "TX-9", "main_chip": "CX-79", "motor": "R9", "base_casting": "C40"},
    "Orlane Sallow": {"preamplifier": "0-55", "main_chip": "OM-5", "motor": "Q2", "base_casting": "S3"},
    "Vantmoor Fell": {"preamplifier": "VP-90", "main_chip": "VC-9", "motor": "H5", "base_casting": "V8"},
}
QUIRKS = {
    "Pelorus Minnow": "Beeps when the heads stick; the board takes its ROM with it.",
    "Corvane Skua": "Low sector numbers are not always at the outer edge. Serial numbers end in the week of making.",
    "Vantmoor Fell": "Sealed: every opening is an authority and a price of its own.",
}
NATURE = {"Corvane Skua": {"low_not_outer": True}, "Vantmoor Fell": {"helium": True}}
ALSO_SOLD_AS = {"Pelorus Minnow": (("Tidewell", "TW500"),), "Corvane Tern": (("Halcot", "HT1"),)}
PARTS = ("head stack", "controller board", "motor")
SUPPLIERS = ("Second Tide Spares", "estate of a repair shop", "Ebbing Surplus", "left by a customer")


def donors(count: int, dice: random.Random) -> Iterator[dict[str, Any]]:
    """Fields of ``count`` donors, spread over the families."""
    for n in range(count):
        family, maker, model, kind, heads, platters, sectors, board, firmware = FAMILIES[n % len(FAMILIES)]
        known = dice.random() > 0.15  # some labels cannot be read
        yield {
            "kind": kind,
            "maker": maker,
            "model": f"{model}-{dice.randint(1, 4)}M",
            "serial": f"{maker[0]}{dice.randint(0, 9)}{dice.randrange(10**7):07d}",
            "firmware": dice.choice(firmware) if known else "",
            "sectors": sectors,
            "sector_bytes": 512,
            "heads": heads,
            "platters": platters,
            "board_number": board if known else "",
            "plant": dice.choice(("K", "R", "")),
            "made": date(2024, 1, 15) + timedelta(days=dice.randrange(700)) if known else None,
            "source": "left" if n % 9 == 8 else "bought",
            "supplier": SUPPLIERS[n % len(SUPPLIERS)],
            "cost": None if n % 9 == 8 else dice.randrange(20, 140) * 100,
            **(INSIDE[family] if dice.random() > 0.4 else {}),
        }


COLUMNS = (
    "Kind", "Maker", "Model", "Serial", "Firmware", "Sectors", "Bytes a sector", "Heads fitted", "Platters",
    "Board number", "Plant code", "Made", "Source", "From whom", "Cost", "Preamplifier", "Main chip", "Motor",
    "Base casting", "Parts it gives", "Shelf",
)  # fmt: skip
_KEYS = (
    "kind", "maker", "model", "serial", "firmware", "sectors", "sector_bytes", "heads", "platters",
    "board_number", "plant", "made", "source", "supplier", "cost", "preamplifier", "main_chip", "motor",
    "base_casting", "parts", "shelf",
)  # fmt: skip


def table(rows: Iterable[dict[str, Any]], shelves: Sequence[str], dice: random.Random) -> str:
    """Donors as the spreadsheet had them in which the lab kept its shelves before."""
    lines = [";".join(COLUMNS)]
    for about in rows:
        parts = ", ".join(PARTS if dice.random() > 0.3 else PARTS[:2])
        cost = f"{about['cost'] / 100:.2f}" if about["cost"] else ""
        cells = about | {"parts": parts, "shelf": dice.choice(shelves), "cost": cost}
        lines.append(";".join(str(cells.get(key) or "") for key in _KEYS))
    return "\n".join(lines) + "\n"


# kind, maker, model, sectors, sector size, use
MEDIA = (
    ("disk35", "Corvane", "CT1000-NAS", 1_953_525_168, 512, "clone"),
    ("disk35", "Corvane", "CS4000-NAS", 7_814_037_168, 512, "clone"),
    ("disk25", "Pelorus", "PL500-1M", 976_773_168, 512, "clone"),
    ("disk25", "Pelorus", "PL2T-2M", 3_907_029_168, 512, "clone"),
    ("disk35", "Vantmoor", "VF8-4K", 1_953_506_646, 4096, "clone"),
    ("external", "Tidewell", "Carry 2T", 3_907_029_168, 512, "delivery"),
    ("stick", "Tidewell", "Stub 128", 250_069_680, 512, "delivery"),
)


def media(count: int, dice: random.Random) -> Iterator[dict[str, Any]]:
    """Fields of ``count`` destinations and delivery media."""
    for n in range(count):
        kind, maker, model, sectors, size, use = MEDIA[n % len(MEDIA)]
        yield {
            "kind": kind,
            "maker": maker,
            "model": model,
            "serial": f"{maker[0]}D{dice.randrange(10**7):07d}",
            "sectors": sectors,
            "sector_bytes": size,
            "use": use,
            "state": "new and sealed" if use == "delivery" or n % 3 else "wiped and verified",
            "cost": dice.randrange(30, 220) * 100,
        }


def sectors_of(kind: str, model: str) -> int:
    """Sectors of a medium outside the families: the number in its name is gigabytes (``1T`` a thousand)."""
    if kind == "floppy":
        return 2_880
    number = "".join(c for c in model if c.isdigit()) or "40"
    gigabytes = int(number) * (1000 if model.endswith("T") else 1)
    return gigabytes * 1_953_125 - 4_096  # sticks and cards fall short of their print by some erase blocks
