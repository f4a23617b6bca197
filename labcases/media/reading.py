"""One door for whatever is pasted or uploaded: find out which page it is, read it, and give what it says as traits.

A file may be the page itself or a hex listing of it. Sizes tell the kinds apart: 512 bytes are an ATA page, 4096 an
NVMe one (a controller unless it can only be a namespace), 16 a card's register.
"""

from __future__ import annotations

from dataclasses import replace

from . import cards, hexlist, identify, nvme
from .errors import NotAPage
from .traits import Traits

Record = identify.Identity | nvme.Controller | nvme.Namespace | cards.Cid | cards.Csd
SIZES = (identify.PAGE_BYTES, nvme.PAGE_BYTES, cards.REGISTER_BYTES)
_INTERFACES = {"serial ATA": "SATA", "parallel ATA": "PATA"}


def read_any(given: bytes | str) -> Record:
    """The record in a file or a pasted text. Raises NotAPage (a ValueError) with one sentence when there is none."""
    if isinstance(given, bytes) and len(given) in SIZES and not _is_text(given):
        return _read_page(given)
    listing = hexlist.parse(given, SIZES)
    if len(listing.data) == identify.PAGE_BYTES:
        return identify.read_identify_text(given)
    return _read_page(listing.data)


def traits_of(record: Record) -> Traits:
    """What the record says, as traits of a patient; what it does not say stays unknown."""
    if isinstance(record, cards.Csd):
        return Traits(sectors=record.sectors, sector_bytes=512 if record.sectors else None)
    if isinstance(record, nvme.Namespace):
        return Traits(interface="NVMe", sectors=record.sectors or None, sector_bytes=record.block_size)
    named = Traits(model=record.model or None, serial=record.serial or None, firmware=record.firmware or None)
    if isinstance(record, nvme.Controller):
        return replace(named, interface="NVMe")
    if isinstance(record, cards.Cid):
        return named
    interface = _INTERFACES.get(record.transport or "")
    if not record.sectors:
        return replace(named, interface=interface)
    return replace(named, interface=interface, sectors=record.sectors, sector_bytes=record.logical_bytes)


def _is_text(raw: bytes) -> bool:
    """Whether the bytes are a listing rather than a page: only characters that a listing is made of."""
    return not raw.translate(None, b"0123456789abcdefABCDEFxXhH \t\r\n,:;|*-{}[]()<>")


def _read_page(page: bytes) -> Record:
    if len(page) == identify.PAGE_BYTES:
        return identify.read_identify(page)
    if len(page) == nvme.PAGE_BYTES:
        return _read_nvme(page)
    return _read_register(page)


def _read_nvme(page: bytes) -> nvme.Controller | nvme.Namespace:
    try:
        return nvme.read_controller(page)
    except NotAPage as fault:
        if not any(page):
            raise
        try:
            return nvme.read_namespace(page)
        except NotAPage:
            raise fault from None


def _read_register(register: bytes) -> cards.Cid | cards.Csd:
    """A card's register of unknown kind: a name in printable characters makes a CID, otherwise it is read as a CSD."""
    named = all(0x20 <= byte < 0x7F for byte in register[1:8])
    return cards.read_cid(register) if named else cards.read_csd(register)
