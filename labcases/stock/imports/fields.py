"""The columns that tables of donors and of media may have, and what their cells may say."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from labcases.core.importing import Field, day, label_text, line, one_of, prose, several_of, whole
from labcases.media import capacity
from labcases.stock.rules import PartKind

MOST_SECTORS = 2**50  # of 4160 bytes each they still count in 63 bits
SECTOR_SIZES = (512, 520, 528, 4096, 4160)
PARTS = {kind.value: kind.value for kind in PartKind} | {
    "heads": "head stack",
    "board": "controller board",
    "pcb": "controller board",
    "twin": "whole twin",
}
SOURCES = {"bought": "bought", "borrowed": "borrowed", "given": "given", "left by a customer": "left", "left": "left"}
USES = {"destination": "clone", "clone": "clone", "delivery medium": "delivery", "delivery": "delivery"}
STATES = {
    "new and sealed": "new and sealed",
    "sealed": "new and sealed",
    "new": "new and sealed",
    "wiped and verified": "wiped and verified",
    "wiped": "wiped and verified",
}
SHARED = ("kind", "maker", "model", "serial", "firmware", "interface", "sectors", "sector_bytes", "note", "cost")
INSIDE = (
    "made", "plant", "family", "heads", "platters", "preamplifier", "head_map", "board_number", "board_revision",
    "main_chip", "motor", "base_casting", "flash_controller", "flash_ids", "channels", "bridge_number",
)  # fmt: skip
OF_DONOR = (*SHARED, *INSIDE, "source", "supplier")
KEPT = "Only for what is new: of what is in stock already it is left as it is."


def sector_size(cell: str) -> int:
    """The bytes of a sector, one of those there are."""
    size = whole(least=1)(cell)
    if size not in SECTOR_SIZES:
        raise ValueError(f"“{size}” is no size of a sector. There are {', '.join(map(str, SECTOR_SIZES))}.")
    return size


def _medium(kinds: Mapping[str, str]) -> list[Field]:
    return [
        Field(
            "code", "Code", ("our code", "lab code", "donor", "medium"), read=line(40), help="Of what is here already."
        ),
        Field("kind", "Kind", ("type", "form factor"), read=one_of(kinds)),
        Field("maker", "Maker", ("manufacturer", "vendor", "brand", "make"), read=line(100)),
        Field("model", "Model", ("model number", "model no", "part number", "p/n"), read=label_text()),
        Field("serial", "Serial", ("serial number", "serial no", "s/n", "sn"), read=label_text()),
        Field("firmware", "Firmware", ("fw", "firmware revision", "revision"), read=label_text(60)),
        Field("interface", "Interface", read=line(40)),
        Field("sectors", "Sectors", ("lba", "lbas", "sector count"), read=whole(least=1, most=MOST_SECTORS)),
        Field("gigabytes", "Printed GB", ("gb", "capacity gb", "size gb"), read=whole(least=1, most=10**7)),
        Field("sector_bytes", "Bytes a sector", ("sector size", "sector bytes", "block size"), read=sector_size),
    ]


def _further() -> list[Field]:
    return [
        Field("cost", "Cost", ("price", "paid"), read=line(30), help="In the lab's currency."),
        Field("note", "Note", ("notes", "remark", "remarks", "comment"), read=prose(2_000)),
        Field("shelf", "Shelf", ("where", "place", "location"), read=line(100), help=KEPT),
    ]


def donor_fields(kinds: Mapping[str, str]) -> list[Field]:
    """Columns of donors; ``kinds`` maps each word for a kind of medium to its value."""
    return [
        *_medium(kinds),
        Field("parts", "Parts it gives", ("parts",), read=several_of(PARTS), help=KEPT),
        Field("made", "Made", ("date of manufacture", "dom", "mfg date", "date"), read=day),
        Field("plant", "Plant code", ("plant", "site", "country of origin"), read=line(60)),
        Field("family", "Family", read=line(100), help="By its name here; left out, it is found by the model number."),
        Field("heads", "Heads fitted", ("heads",), read=whole(most=99)),
        Field("platters", "Platters", ("disks",), read=whole(most=99)),
        Field("preamplifier", "Preamplifier", ("preamp",), read=label_text(60)),
        Field("head_map", "Head positions", ("head map",), read=line(200)),
        Field("board_number", "Board number", ("board", "pcb number"), read=label_text(60)),
        Field("board_revision", "Board revision", ("board rev",), read=label_text(60)),
        Field("main_chip", "Main chip", ("processor",), read=label_text(60)),
        Field("motor", "Motor", read=label_text(60)),
        Field("base_casting", "Base casting", read=label_text(60)),
        Field("flash_controller", "Flash controller", ("controller",), read=label_text(60)),
        Field("flash_ids", "Flash ids", ("flash id",), read=line(600)),
        Field("channels", "Channels", read=whole(least=1, most=999)),
        Field("bridge_number", "Bridge number", ("bridge",), read=label_text(60)),
        Field("source", "Source", read=one_of(SOURCES)),
        Field("supplier", "From whom", ("supplier", "seller"), read=line(200)),
        *_further(),
    ]


def media_fields(kinds: Mapping[str, str]) -> list[Field]:
    """Columns of destinations and delivery media."""
    return [
        Field("use", "Use", read=one_of(USES)),
        *_medium(kinds),
        Field("state", "State", ("condition",), read=one_of(STATES), help=KEPT),
        *_further(),
    ]


def count_sectors(values: dict[str, Any]) -> str:
    """Turn printed gigabytes into sectors (SFF-8447), in place; a sentence when that cannot be done."""
    gigabytes = values.pop("gigabytes", None)
    if gigabytes is None or values.get("sectors"):
        return ""
    try:
        values["sectors"] = capacity.sectors_for(gigabytes, values.get("sector_bytes", 512))
    except capacity.NotACapacity as wrong:
        return f"Printed GB: {wrong}"
    return ""


def plain(value: Any) -> Any:
    """A value as JSON keeps it."""
    return value.isoformat() if isinstance(value, date) else value
