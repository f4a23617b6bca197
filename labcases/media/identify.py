"""IDENTIFY DEVICE: the 512 bytes in which an ATA disk says who it is (ACS-3, ACS-4).

The page is 256 little-endian words; strings hold the first character of each pair in the word's *high* byte, so their
raw bytes come swapped. Word numbers in this file are those of the ACS tables. A page can reach the lab turned round by
a bridge or a listing; the order is told by the integrity signature and by words that can hold little (heads, sectors a
track, validity bits), and, apart from that, the order of the strings by the strings.

Reading does not judge the disk; :attr:`Identity.service_area_signs` says why the answer may be the board's alone.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Callable
from dataclasses import dataclass, field

from . import hexlist
from .errors import NotAPage, refuse_blank

PAGE_BYTES = 512
_WORDS = struct.Struct("<256H")
_TEXT = slice(20, 40), slice(46, 54), slice(54, 94)  # serial, firmware, model: words 10-19, 23-26, 27-46
_PRINTABLE = bytes(range(0x20, 0x7F))
_NO_TEXT = bytes(set(range(256)) - set(_PRINTABLE) - {0})
_BLANKS = str.maketrans({chr(code): " " if code == 0 else "?" for code in _NO_TEXT + b"\0"})
_FORM_FACTORS = {
    1: "5.25 inch", 2: "3.5 inch", 3: "2.5 inch", 4: "1.8 inch", 5: "less than 1.8 inch",
    6: "mSATA", 7: "M.2", 8: "MicroSSD", 9: "CFast",
}  # fmt: skip
_MOST_ODD_CHARACTERS = 6  # of 68: a damaged page may have some
_LEAST_NOUGHTS = 64  # far fewer than any page's reserved words, far more than in other data
_COMPACT_FLASH = 0x848A
# Word 69, bits 1-0, "zoned capabilities" (from memory of ACS-4)
_ZONES = {1: "host aware", 2: "managed by the disk"}
_INCOMPLETE = (0x37C8, 0x8C73)  # word 2: the answer is incomplete until the disk has spun up (from memory of ACS)
# Names that boards give when they could not read the service area; common practice, no source.
_FACTORY_NAME = re.compile(
    r"\b(?:FACTORY|DEFAULT|SAFE ?MODE|ROM ?MODE|BOOT ?(?:ROM|CODE|LOADER)|LOADER|DIAGNOSTIC)\b", re.IGNORECASE
)
_RUNS = re.compile(r"[A-Za-z]+|[0-9]+|[^A-Za-z0-9 ]+")


class NotAnIdentifyPage(NotAPage):
    """The bytes or the text hold no IDENTIFY DEVICE page."""


@dataclass(frozen=True, slots=True)
class Identity:
    """What a disk says of itself. ``None`` is "the page does not say".

    ``sectors`` counts logical sectors of ``logical_bytes``. ``wwn`` is 16 hexadecimal digits. ``checksum_ok`` is None
    when the page carries no integrity word. ``erase_minutes`` is even; 510 and 65534 mean "more than 508" and "more
    than 65532". ``service_area_signs`` holds sentences; empty means that the answer looks whole. ``notes`` says what
    was put right.
    """

    model: str
    serial: str
    firmware: str
    sectors: int
    logical_bytes: int
    physical_bytes: int
    rotation_rpm: int | None
    is_rotating: bool | None
    form_factor: str | None
    wwn: str | None
    security_supported: bool
    security_enabled: bool
    locked: bool
    frozen: bool
    smart_supported: bool
    checksum_ok: bool | None
    smart_enabled: bool = False
    security_expired: bool = False
    security_level: str | None = None
    enhanced_erase: bool = False
    erase_minutes: int | None = None
    enhanced_erase_minutes: int | None = None
    master_password_id: int | None = None
    alignment_bytes: int | None = None
    transport: str | None = None
    sata_generations: tuple[int, ...] = ()
    sata_gen_current: int | None = None
    queue_depth: int = 1
    removable: bool = False
    lba28_sectors: int = 0
    lba48: bool = False
    hpa_supported: bool = False
    dco_supported: bool = False
    trim: bool = False
    trim_reads_zero: bool = False
    sanitize: tuple[str, ...] = ()
    zones: str | None = None
    service_area_signs: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def capacity_bytes(self) -> int:
        """The size in bytes."""
        return self.sectors * self.logical_bytes

    @property
    def shingled(self) -> bool:
        """Whether it says that its tracks overlap: a spinning disk with zones. Many that do overlap do not say so."""
        return self.zones is not None and self.is_rotating is not False

    @property
    def service_area_read(self) -> bool:
        """False when the answer looks like the board's alone, without what the disk keeps in its service area."""
        return not self.service_area_signs

    @property
    def naa(self) -> str | None:
        """The first digit of the world wide name: the kind of name."""
        return self.wwn[0] if self.wwn else None

    @property
    def oui(self) -> str | None:
        """Digits 2 to 7 of the world wide name: who gave it."""
        return self.wwn[1:7] if self.wwn else None

    @property
    def unique_id(self) -> str | None:
        """The last nine digits of the world wide name."""
        return self.wwn[7:] if self.wwn else None


def read_identify(page: bytes) -> Identity:
    """Read one page of 512 bytes, in either byte order. Raises NotAnIdentifyPage with one sentence."""
    if len(page) != PAGE_BYTES:
        raise NotAnIdentifyPage(_wrong_length(len(page)))
    return _read(page, _turned(page))


def read_identify_text(text: str | bytes) -> Identity:
    """Read a page printed as a hex listing in any common layout. Raises NotAnIdentifyPage with one sentence."""
    try:
        listing = hexlist.parse(text, (PAGE_BYTES,))
    except NotAPage as fault:
        raise NotAnIdentifyPage(str(fault)) from None
    size = listing.group
    if size < 2:
        return read_identify(listing.data)
    turned = b"".join(listing.data[at : at + size][::-1] for at in range(0, PAGE_BYTES, size))
    first, second = (
        (turned, listing.data) if order_score(turned) >= order_score(listing.data) else (listing.data, turned)
    )
    best = first if order_score(first) >= max(order_score(second), order_score(_turned(first))) else second
    return _read(best, _turned(best), may_note=False)


def order_score(page: bytes) -> int:
    """How many signs say that the words are in the right byte order."""
    word: tuple[int, ...] = _WORDS.unpack(page)
    return (
        4 * (page[510] == 0xA5)
        + sum(word[n] >> 14 == 1 for n in (83, 84, 87, 106, 209))
        + (word[47] >> 8 == 0x80)
        + (word[49] >> 8 & 3 == 3)
        + (0 < word[1] <= 16383)
        + (0 < word[3] <= 16)
        + (0 < word[6] <= 63)
        + (0 < word[53] <= 7)
    )


def erase_time_words(minutes: int | None) -> str:
    """The time an erase takes, in words: ``488 min``, ``more than 508 min`` or ``not said``."""
    if minutes is None:
        return "not said"
    return f"more than {minutes - 2} min" if minutes in (510, 65534) else f"{minutes} min"


def _wrong_length(size: int) -> str:
    hint = ""
    if size == 4096:
        hint = "; 4096 bytes look like an NVMe page"
    elif size < PAGE_BYTES:
        hint = "; it was cut short" if size else "; nothing was handed over"
    return f"An IDENTIFY page has {PAGE_BYTES} bytes and this has {size}{hint}."


def _turned(page: bytes) -> bytes:
    """The page with the two bytes of every word exchanged."""
    turned = bytearray(len(page))
    turned[::2], turned[1::2] = page[1::2], page[::2]
    return bytes(turned)


def _read(page: bytes, turned: bytes, *, may_note: bool = True) -> Identity:
    """Read the page, or its turned form where the signs for that are stronger."""
    _refuse(page)
    notes: list[str] = []
    if not _surely_in_order(page) and order_score(turned) > order_score(page):
        page, turned = turned, page
        if may_note:
            notes.append("The bytes of each word came exchanged; they were turned back.")
    _refuse_no_disk(page)
    return _decode(page, turned, notes)


def _surely_in_order(page: bytes) -> bool:
    return page[510] == 0xA5 and page[511] != 0xA5 and sum(page) & 0xFF == 0 and page[167] >> 6 == 1


def _refuse(page: bytes) -> None:
    refuse_blank(page, "The page", NotAnIdentifyPage)
    strings = page[20:40] + page[46:94]
    odd = len(strings) - len(strings.translate(None, _NO_TEXT))
    if odd > _MOST_ODD_CHARACTERS:
        raise NotAnIdentifyPage(
            "This is no IDENTIFY page: where model and serial number should stand there is no text."
        )
    if page.count(0) < _LEAST_NOUGHTS and not (page[510] == 0xA5 and sum(page) & 0xFF == 0):
        raise NotAnIdentifyPage("This is no IDENTIFY page: words that every disk leaves at zero are filled.")


def _refuse_no_disk(page: bytes) -> None:
    general = page[0] | page[1] << 8
    if general >> 14 == 0b10 and general != _COMPACT_FLASH:
        raise NotAnIdentifyPage("The page is a packet device's (an optical or tape drive), not a disk's.")


def _decode(page: bytes, turned: bytes, notes: list[str]) -> Identity:
    word = _WORDS.unpack(page)
    serial, firmware, model = _strings(page, turned, notes)
    supported = word[82:85] if word[83] >> 14 == 1 else (0, 0, 0)
    # Old pages leave words 82-87 unsaid; what word 128 says of security stands on its own.
    enabled = word[85:88] if word[87] >> 14 == 1 else (0, 0, 0)
    logical, physical = _sector_sizes(word, notes)
    lba48 = bool(supported[1] >> 10 & 1)
    sectors = _sectors(word, lba48)
    rpm, rotating = _rotation(word[217])
    # Words 82 and 128 should agree; where they do not, the one that may mean "locked" is believed.
    security = word[128] if word[128] != 0xFFFF else 0
    secured = bool(supported[0] >> 1 & 1 or security & 1)
    security = security if secured else 0
    sata = word[76] if word[76] not in (0, 0xFFFF) else 0
    return Identity(
        model, serial, firmware, sectors, logical, physical, rpm, rotating,
        _FORM_FACTORS.get(word[168] & 15),
        _wwn(word, supported, enabled),
        secured,
        bool(security >> 1 & 1),
        bool(security >> 2 & 1),
        bool(security >> 3 & 1),
        bool(supported[0] & 1),
        sum(page) & 0xFF == 0 if page[510] == 0xA5 else None,
        bool(enabled[0] & 1),
        bool(security >> 4 & 1),
        ("maximum" if security >> 8 & 1 else "high") if security & 2 else None,
        bool(security >> 5 & 1),
        _erase_minutes(word[89]) if secured else None,
        _erase_minutes(word[90]) if secured else None,
        word[92] if secured and word[92] not in (0, 0xFFFF) else None,
        (word[209] & 0x3FFF) * logical if word[209] >> 14 == 1 else None,
        _transport(word, sata),
        tuple(generation for generation in (1, 2, 3) if sata >> generation & 1),
        (word[77] >> 1 & 7 or None) if sata else None,
        (word[75] & 31) + 1,
        bool(word[0] & 0x80),
        word[60] | word[61] << 16,
        lba48,
        bool(supported[0] >> 10 & 1),
        bool(supported[1] >> 11 & 1),  # device configuration overlay: obsolete in ACS-4
        word[169] not in (0, 0xFFFF) and bool(word[169] & 1),
        bool(word[69] >> 5 & 1) and word[69] != 0xFFFF,
        _sanitize(word[59]),
        _ZONES.get(word[69] & 3) if word[69] != 0xFFFF else None,
        _service_area_signs(word, model, serial, sectors),
        tuple(notes),
    )  # fmt: skip


def _strings(page: bytes, turned: bytes, notes: list[str]) -> list[str]:
    """Serial, firmware and model, in the order of the strings' own bytes."""
    texts = [_clean(turned[part]) for part in _TEXT]
    if _looks_exchanged(texts):
        texts = [_clean(page[part]) for part in _TEXT]
        notes.append("The characters of serial number, firmware and model came exchanged; they were turned back.")
    return [text.strip() for text in texts]


def _clean(raw: bytes) -> str:
    return raw.decode("latin-1").translate(_BLANKS)


def _looks_exchanged(texts: list[str]) -> bool:
    """Whether the strings read better with the characters of each pair exchanged.

    Padding tells most: a name of odd length ends, wrongly read, in a blank *before* its last character. Pieces of
    letters and digits tell the rest: a wrong order tears them apart. Both must say so, as real names can do one.
    """
    padding = sum(_padding_vote(text) for text in texts)
    if padding <= 0:
        return False
    exchanged = ["".join(text[at + 1] + text[at] for at in range(0, len(text), 2)) for text in texts]
    torn = sum(len(_RUNS.findall(text.replace(" ", ""))) for text in texts)
    whole = sum(len(_RUNS.findall(text.replace(" ", ""))) for text in exchanged)
    return 2 * padding + torn - whole >= 4


def _padding_vote(text: str) -> int:
    """+1 when the last (or, after leading blanks, the first) pair says "exchanged", -1 when it says "in order"."""
    end = len(text.rstrip())
    if not end:
        return 0
    start = len(text) - len(text.lstrip())
    if start:  # set to the right: in order a blank comes first
        pair = text[start - start % 2 : start - start % 2 + 2]
        return (-1 if start % 2 else 1) if " " in pair else 0
    if end % 2:
        return -1
    return 1 if text[end - 2] == " " else 0


def _sectors(word: tuple[int, ...], lba48: bool) -> int:
    large = word[100] | word[101] << 16 | word[102] << 32 | word[103] << 48
    if lba48 and large:
        return large
    small = word[60] | word[61] << 16
    if small or word[49] >> 9 & 1:
        return small
    return word[1] * word[3] * word[6]  # older than LBA: cylinders, heads, sectors a track


def _sector_sizes(word: tuple[int, ...], notes: list[str]) -> tuple[int, int]:
    """Logical and physical sector size in bytes (word 106; words 117-118 count 16-bit words)."""
    if word[106] >> 14 != 1:
        return 512, 512
    logical = 512
    if word[106] >> 12 & 1:
        logical = 2 * (word[117] | word[118] << 16)
        if not 512 <= logical <= 65536:
            notes.append(f"It claims logical sectors of {logical} bytes, which cannot be; 512 was taken.")
            logical = 512
    return logical, logical << (word[106] & 15 if word[106] >> 13 & 1 else 0)


def _rotation(value: int) -> tuple[int | None, bool | None]:
    if value == 1:
        return None, False
    return (value, True) if 0x0401 <= value <= 0xFFFE else (None, None)


def _wwn(word: tuple[int, ...], supported: tuple[int, ...], enabled: tuple[int, ...]) -> str | None:
    if not (supported[2] >> 8 & 1 or enabled[2] >> 8 & 1) or not any(word[108:112]):
        return None
    return f"{word[108]:04x}{word[109]:04x}{word[110]:04x}{word[111]:04x}"


def _erase_minutes(value: int) -> int | None:
    minutes = 2 * (value & 0x7FFF if value >> 15 else value & 0xFF)
    return minutes or None


def _transport(word: tuple[int, ...], sata: int) -> str | None:
    named = {0: "parallel ATA", 1: "serial ATA"}.get(word[222] >> 12) if word[222] not in (0, 0xFFFF) else None
    return named or ("serial ATA" if sata else None)


def _sanitize(value: int) -> tuple[str, ...]:
    """Word 59: the sanitize methods (from memory of ACS-3)."""
    if not value >> 12 & 1 or value == 0xFFFF:
        return ()
    return tuple(
        name for bit, name in ((13, "crypto scramble"), (14, "overwrite"), (15, "block erase")) if value >> bit & 1
    )


_Sign = tuple[Callable[[tuple[int, ...], str, str, int], bool], str]
_SIGNS: tuple[_Sign, ...] = (
    (lambda word, model, serial, sectors: not serial.strip("0?X-"), "It gives no serial number."),
    (lambda word, model, serial, sectors: not model.strip("0?X-"), "It gives no model name."),
    (lambda word, model, serial, sectors: bool(_FACTORY_NAME.search(model)), "It gives a factory name for its model."),
    (lambda word, model, serial, sectors: sectors == 0, "It reports no capacity."),
    (lambda word, model, serial, sectors: bool(word[0] & 4), "It says that its answer is incomplete."),
    (
        lambda word, model, serial, sectors: word[2] in _INCOMPLETE,
        "It says that it must spin up before it answers in full.",
    ),
)


def _service_area_signs(word: tuple[int, ...], model: str, serial: str, sectors: int) -> tuple[str, ...]:
    """Sentences for each sign that the board answers without the service area; empty for a whole answer."""
    return tuple(sentence for holds, sentence in _SIGNS if holds(word, model, serial, sectors))
