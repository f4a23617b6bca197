"""The columns that tables of donors and of media may have, and what their cells may say."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

from labcases.core.importing import Field, day, label_text, line, one_of, prose, several_of, shown, whole
from labcases.media import capacity
from labcases.media.inside import codes_in_words, codes_said, heads_in, heads_said, ids_said, offsets_said
from labcases.stock.fitting import State
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
} | {state.value: state.value for state in State if state is not State.POOL}  # a table that went out names them all
SHARED = ("kind", "maker", "model", "serial", "firmware", "interface", "sectors", "sector_bytes", "note", "cost")
INSIDE = (
    "made", "plant", "family", "heads", "platters", "preamplifier", "head_map", "head_offsets", "board_number",
    "board_revision", "main_chip", "motor", "base_casting", "flash_controller", "flash_ids", "channels",
    "bridge_number", "encryption_generation", "codes",
)  # fmt: skip
OF_DONOR = (*SHARED, *INSIDE, "source", "supplier")
FROM_0 = "By position, from 0: 0 1 2 3, or 0-3."
LOWEST_FIRST = "One for each head, the lowest first: 12 -4.5 8."
KEPT = "Only for what is new: of what is in stock already it is left as it is."


def sector_size(cell: str) -> int:
    """The bytes of a sector, one of those there are."""
    size = whole(least=1)(cell)
    if size not in SECTOR_SIZES:
        raise ValueError(f"“{size}” is no size of a sector. There are {', '.join(map(str, SECTOR_SIZES))}.")
    return size


def made(cell: str) -> date:
    """The day something was made, which has been: a day number of a spreadsheet may be anything."""
    found = day(cell)
    if found > datetime.now(UTC).date() + timedelta(days=1):  # it may be tomorrow already where it was made
        raise ValueError(f"{shown(cell)} is {found.isoformat()}, which lies ahead.")
    return found


def label_codes(cell: str) -> dict[str, str]:
    """Codes on labels: one a line of the cell, or one after the other, apart by semicolons.

    >>> label_codes("head code: 4K7; site: N")
    {'HEAD CODE': '4K7', 'SITE': 'N'}
    """
    return codes_said(re.sub(r";\s*(?=[^;:\n]+:)", "\n", cell))


def heads_alive(values: Mapping[str, Any]) -> str:
    """What stands against the heads that are said to be alive, in a sentence; empty when nothing."""
    alive = values.get("heads_alive")
    if not alive:
        return ""
    if PartKind.HEAD_STACK not in values.get("parts", ()):
        return "Heads alive: only a head stack has heads, and none is among the parts it gives."
    fitted = heads_in(values.get("head_map", ""))
    strange = sorted(set(heads_in(alive)) - set(fitted)) if fitted else []
    if strange:
        return f"Heads alive: head {strange[0]} is not fitted; it has {values['head_map']}."
    count, known = len(heads_in(alive)), None if fitted else values.get("heads")
    return f"Heads alive: {count} are more than the {known} that are fitted." if known and count > known else ""


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
        Field("made", "Made", ("date of manufacture", "dom", "mfg date", "date"), read=made),
        Field("plant", "Plant code", ("plant", "site", "country of origin"), read=line(60)),
        Field("family", "Family", read=line(100), help="By its name here; left out, it is found by the model number."),
        Field("heads", "Heads fitted", ("heads",), read=whole(most=99)),
        Field("platters", "Platters", ("disks",), read=whole(most=99)),
        Field("preamplifier", "Preamplifier", ("preamp",), read=label_text(60)),
        Field("head_map", "Head positions", ("head map", "heads by position"), read=heads_said, help=FROM_0),
        Field("heads_alive", "Heads alive", ("good heads", "live heads"), read=heads_said, help=f"{FROM_0} {KEPT}"),
        Field("head_offsets", "Radial offsets", ("head offsets", "offsets"), read=offsets_said, help=LOWEST_FIRST),
        Field("board_number", "Board number", ("board", "pcb number"), read=label_text(60)),
        Field("board_revision", "Board revision", ("board rev",), read=label_text(60)),
        Field("main_chip", "Main chip", ("processor",), read=label_text(60)),
        Field("motor", "Motor", read=label_text(60)),
        Field("base_casting", "Base casting", read=label_text(60)),
        Field("flash_controller", "Flash controller", ("controller",), read=label_text(60)),
        Field("flash_ids", "Flash ids", ("flash id",), read=ids_said),
        Field("channels", "Channels", read=whole(least=1, most=99)),
        Field("bridge_number", "Bridge number", ("bridge",), read=label_text(60)),
        Field("encryption_generation", "Encryption generation", ("encryption",), read=label_text(60)),
        Field("codes", "Label codes", ("codes",), read=label_codes, help="HEAD CODE: 4K7; SITE: N"),
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


def in_words(value: Any) -> str:
    """A value as a sentence names it."""
    if isinstance(value, dict):
        return codes_in_words(value).replace("\n", "; ") or "not known"
    return "not known" if value is None or value == "" else str(value)


def plain(value: Any) -> Any:
    """A value as JSON keeps it."""
    return value.isoformat() if isinstance(value, date) else value
