"""What a page says, for people: labels with their values, and the sentences somebody must read.

The bench's page, the counter's and ``read-id`` say the same words, since all of them come from here.

>>> from labcases.media.cards import read_cid
>>> found = findings(read_cid(bytes.fromhex("7f5158504c523136" "1000c0ffee01a5f9")))
>>> found.what, dict(found.pairs)["Model"]
('memory card, identification register', 'PLR16')
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from . import capacity, cards, identify, nvme
from .capacity import NotACapacity
from .errors import hexadecimal
from .reading import Record

NOT_READ = "Service area not read: the board answers, and not the medium behind it."
LOCKED = "It is locked by a disk password: nothing can be read before it is unlocked."
FROZEN = "Its security is frozen, which is normal on a PC; it only means that no password can be set now."
EXPIRED = "Too many wrong passwords were tried since it was powered: it must be off and on before the next try."


@dataclass(frozen=True, slots=True)
class Findings:
    """``what`` was read; ``pairs`` of label and value; ``loud`` sentences first to be read, then ``notes``."""

    what: str
    pairs: tuple[tuple[str, str], ...]
    loud: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def findings(record: Record) -> Findings:
    """Everything a record says that matters at the bench."""
    if isinstance(record, identify.Identity):
        return _ata(record)
    if isinstance(record, nvme.Controller):
        return _controller(record)
    if isinstance(record, nvme.Namespace):
        return _namespace(record)
    return _cid(record) if isinstance(record, cards.Cid) else _csd(record)


def as_json(record: Record) -> dict[str, Any]:
    """The record's own fields, what it is, and the sentences, fit for ``json.dumps``."""
    found = findings(record)
    return {"what": found.what, **asdict(record), "loud": list(found.loud), "notes": list(found.notes)}


def capacity_said(sectors: int | None, sector_bytes: int | None, printed_gigabytes: int | None = None) -> list[str]:
    """Whether a count of sectors is one the standard knows, and if not, what is likely; a sentence each."""
    if sectors is None:
        return []
    try:
        judged = capacity.judge(sectors, sector_bytes or 512, printed_gigabytes)
    except NotACapacity as outside:  # 520 or 528 bytes, for example
        return [f"No rule says how many sectors it should have. {outside}"]
    if judged.is_standard and not judged.reasons:
        return [f"It has the standard number of sectors for {judged.standard} GB."]
    head = f"{sectors:,} sectors are no standard count; the nearest, {judged.nearest.gigabytes} GB, is {_off(judged)}."
    return [head] * (not judged.is_standard) + [reason.sentence for reason in judged.reasons]


def _off(judged: capacity.Judgement) -> str:
    """How far the standard count is from the reported one."""
    away = judged.nearest.difference
    return f"{abs(away):,} sectors {'less' if away > 0 else 'more'}"


def _pairs(*pairs: tuple[str, Any]) -> tuple[tuple[str, str], ...]:
    """What is known, as text; what is not is left out."""
    return tuple((label, str(value)) for label, value in pairs if value not in (None, "", 0))


def _yes(holds: bool, word: str = "yes") -> str:
    return word if holds else "no"


def _size(count: int | None, size: int | None) -> str:
    return f"{count:,} of {size} bytes, {capacity.words(count * size)}" if count and size else ""


def _ata(page: identify.Identity) -> Findings:
    judged = capacity_said(page.sectors, page.logical_bytes)
    loud = ([NOT_READ, *page.service_area_signs] if page.service_area_signs else []) + list(_security(page))
    if page.checksum_ok is False:
        loud.append("Its integrity word does not agree with the page: the page was changed or damaged on the way.")
    notes = [*page.notes, *(judged if page.sectors else ()), *([FROZEN] if page.frozen else [])]
    return Findings("disk, IDENTIFY DEVICE page", _ata_pairs(page), tuple(loud), tuple(notes))


def _security(page: identify.Identity) -> Iterator[str]:
    if page.locked:
        yield LOCKED
    elif page.security_enabled:
        yield "A disk password is set, and it is unlocked now: it locks again with the next loss of power."
    if page.security_expired:
        yield EXPIRED


def _ata_pairs(page: identify.Identity) -> tuple[tuple[str, str], ...]:
    physical = f"{page.physical_bytes} bytes" if page.physical_bytes != page.logical_bytes else ""
    aligned = f"first sector {page.alignment_bytes} bytes into a physical one" if page.alignment_bytes else ""
    return _pairs(
        ("Model", page.model),
        ("Serial", page.serial),
        ("Firmware", page.firmware),
        ("Sectors", _size(page.sectors, page.logical_bytes)),
        ("Physical sector", physical),
        ("Alignment", aligned),
        ("Rotation", _rotation(page)),
        ("Form factor", page.form_factor),
        ("WWN", page.wwn),
        ("Transport", page.transport),
        ("SMART", _yes(page.smart_supported, "yes, on" if page.smart_enabled else "yes, off")),
        ("Security", _security_words(page)),
        ("Erase takes", _minutes(page)),
        ("Protected area", _yes(page.hpa_supported, "possible")),
        ("Configuration", _yes(page.dco_supported, "can hide sectors")),
        ("Trim", _yes(page.trim, "yes, trimmed sectors read as zeros" if page.trim_reads_zero else "yes")),
        ("Sanitize", ", ".join(page.sanitize)),
        ("Recording", f"shingled, its zones {page.zones}" if page.shingled else ""),
        ("Integrity", {True: "agrees", False: "does NOT agree", None: "none"}[page.checksum_ok]),
    )


def _rotation(page: identify.Identity) -> str:
    return f"{page.rotation_rpm} rpm" if page.rotation_rpm else "none" if page.is_rotating is False else ""


def _security_words(page: identify.Identity) -> str:
    if not page.security_supported:
        return "not supported"
    said = [("on" if page.security_enabled else "off"), *(["locked"] * page.locked), *(["frozen"] * page.frozen)]
    return ", ".join([*said, *(["expired"] * page.security_expired), *_level(page)])


def _level(page: identify.Identity) -> list[str]:
    return [f"level {page.security_level}"] if page.security_level else []


def _minutes(page: identify.Identity) -> str:
    said = [f"{page.erase_minutes} min"] * bool(page.erase_minutes)
    return ", ".join(said + [f"enhanced {page.enhanced_erase_minutes} min"] * bool(page.enhanced_erase_minutes))


def _controller(page: nvme.Controller) -> Findings:
    pairs = _pairs(
        ("Model", page.model),
        ("Serial", page.serial),
        ("Firmware", page.firmware),
        ("Capacity", capacity.words(page.tnvmcap_bytes) if page.tnvmcap_bytes else ""),
        ("Namespaces", page.nn),
        ("Version", page.version),
        ("PCI id", hexadecimal(page.vid, 4)),
        ("OUI", page.ieee_oui),
    )
    loud = (NOT_READ, *page.service_area_signs) if page.service_area_signs else ()
    return Findings("NVMe controller, Identify page", pairs, loud)


def _namespace(page: nvme.Namespace) -> Findings:
    pairs = _pairs(
        ("Blocks", _size(page.nsze, page.block_size)),
        ("Blocks in use", f"{page.nuse:,}"),
        ("Metadata", f"{page.metadata_bytes} bytes a block" if page.metadata_bytes else ""),
        ("NGUID", page.nguid),
        ("EUI-64", page.eui64),
    )
    loud = () if page.nsze else ("It reports no capacity.",)
    return Findings("NVMe namespace, Identify page", pairs, loud)


_CRC = {True: "agrees", False: "does NOT agree", None: "dropped by the reader"}
_CRC_WRONG = "The register's check does not agree: it was changed or damaged on the way, or the card is forged."


def _cid(register: cards.Cid) -> Findings:
    made = "/".join(str(year) for year in register.years)
    pairs = _pairs(
        ("Model", register.model),
        ("Serial", register.serial),
        ("Revision", register.firmware),
        ("Made", f"{made}-{register.month:02d}" if made and register.month else made),
        ("Maker's id", hexadecimal(register.mid)),
        ("OEM id", register.oid),
        ("Check", _CRC[register.crc_ok]),
    )
    return Findings("memory card, identification register", pairs, (_CRC_WRONG,) if register.crc_ok is False else ())


def _csd(register: cards.Csd) -> Findings:
    pairs = _pairs(
        ("Class", register.card_class),
        ("Sectors", _size(register.sectors, 512)),
        ("Protection", _protection(register)),
        ("Check", _CRC[register.crc_ok]),
    )
    loud = [_CRC_WRONG] if register.crc_ok is False else []
    return Findings("memory card, data register", pairs, tuple(loud))


def _protection(register: cards.Csd) -> str:
    if register.perm_write_protect:
        return "for good"
    return "for now" if register.tmp_write_protect else "none"
