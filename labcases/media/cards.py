"""CID and CSD: the two 16-byte registers in which an SD or MMC card says who and how large it is.

Field names are the registers' mnemonics; bit positions as in the public Linux driver ``drivers/mmc/core``. Bits are
counted from 127 (first bit of the first byte) to 0. The last byte is the register's CRC7 with a one behind it.

>>> crc7(bytes.fromhex("4000000000")) == 0x4A     # the worked example of the SD specification, section 4.5
True
"""

from __future__ import annotations

from dataclasses import dataclass

from .errors import NotAPage, refuse_blank

REGISTER_BYTES = 16
_SDXC_FROM = 0xFFFF  # C_SIZE
_POLYNOMIAL = 0x09  # x^7 + x^3 + 1


class NotARegister(NotAPage):
    """The bytes are no such register of a card."""


@dataclass(frozen=True, slots=True)
class Cid:
    """Card identification. ``prv`` is ``major.minor``; ``psn`` a number of 32 bits; ``crc_ok`` None when the reader
    dropped the check byte. ``years`` holds the year of making, and for MMC cards the two that the register may mean.
    """

    mid: int
    oid: str
    pnm: str
    prv: str
    psn: int
    month: int | None
    years: tuple[int, ...]
    crc7: int
    crc_ok: bool | None

    @property
    def year(self) -> int | None:
        """The year of making, where the register leaves no doubt."""
        return self.years[0] if len(self.years) == 1 else None

    @property
    def serial(self) -> str:
        """The serial number as eight hexadecimal digits, as card readers print it."""
        return f"{self.psn:08x}"

    @property
    def model(self) -> str:
        """The product name."""
        return self.pnm

    @property
    def firmware(self) -> str:
        """The product revision."""
        return self.prv


@dataclass(frozen=True, slots=True)
class Csd:
    """Card-specific data. ``capacity_bytes`` is None when the size stands in another register (large MMC)."""

    csd_structure: int
    c_size: int
    c_size_mult: int | None
    read_bl_len: int
    capacity_bytes: int | None
    card_class: str
    perm_write_protect: bool
    tmp_write_protect: bool
    copy: bool
    crc7: int
    crc_ok: bool | None

    @property
    def sectors(self) -> int | None:
        """The size in sectors of 512 bytes."""
        return None if self.capacity_bytes is None else self.capacity_bytes // 512

    @property
    def write_protected(self) -> bool:
        """Whether the card refuses writing, for now or for good."""
        return self.perm_write_protect or self.tmp_write_protect


def crc7(data: bytes) -> int:
    """The 7-bit check of SD and MMC: x^7 + x^3 + 1, starting at 0, first bit first."""
    value = 0
    for byte in data:
        for bit in range(7, -1, -1):
            carry = (value >> 6 & 1) ^ (byte >> bit & 1)
            value = (value << 1 & 0x7F) ^ (_POLYNOMIAL * carry)
    return value


def read_cid(register: bytes, *, mmc: bool = False) -> Cid:
    """Read a card identification register of an SD card (or of an MMC). Raises NotARegister with one sentence."""
    value = _value(register, "CID")
    return _mmc_cid(register, value) if mmc else _sd_cid(register, value)


def read_csd(register: bytes, *, mmc: bool = False) -> Csd:
    """Read a card-specific data register of an SD card (or of an MMC). Raises NotARegister with one sentence."""
    value = _value(register, "CSD")
    structure = value >> 126
    if mmc or structure == 0:
        return _small_csd(register, value, structure, mmc)
    if structure == 1:
        size = _bits(value, 69, 48)
        name = "SDXC" if size >= _SDXC_FROM else "SDHC"
        return _csd(register, value, size, None, 9, (size + 1) * 512 * 1024, name)
    raise NotARegister(f"The CSD has structure {structure}, which is not known; only 0 and 1 are read.")


def _sd_cid(register: bytes, value: int) -> Cid:
    month = _bits(value, 11, 8)
    return Cid(
        mid=value >> 120,
        oid=_text(register[1:3]),
        pnm=_text(register[3:8]),
        prv=f"{_bits(value, 63, 60)}.{_bits(value, 59, 56)}",
        psn=_bits(value, 55, 24),
        month=month if 1 <= month <= 12 else None,
        years=(2000 + _bits(value, 19, 12),),
        crc7=register[15] >> 1,
        crc_ok=_check(register),
    )


def _mmc_cid(register: bytes, value: int) -> Cid:
    """An MMC's register: six characters of name, and a four-bit year that was started anew in 2013 (from memory)."""
    month, year = _bits(value, 15, 12), _bits(value, 11, 8)
    return Cid(
        mid=value >> 120,
        oid=_text(register[2:3]),
        pnm=_text(register[3:9]),
        prv=f"{_bits(value, 55, 52)}.{_bits(value, 51, 48)}",
        psn=_bits(value, 47, 16),
        month=month if 1 <= month <= 12 else None,
        years=(1997 + year, 2013 + year),
        crc7=register[15] >> 1,
        crc_ok=_check(register),
    )


def _small_csd(register: bytes, value: int, structure: int, mmc: bool) -> Csd:
    """The older layout: (C_SIZE + 1) * 2^(C_SIZE_MULT + 2) * 2^READ_BL_LEN bytes; an MMC above 2 GB says FFFh."""
    size, mult, length = _bits(value, 73, 62), _bits(value, 49, 47), _bits(value, 83, 80)
    if not 9 <= length <= (14 if mmc else 11):
        raise NotARegister(f"The CSD claims blocks of 2^{length} bytes; it is damaged or of another kind of card.")
    capacity = None if mmc and size == 0xFFF else (size + 1) << (mult + 2 + length)
    return _csd(register, value, size, mult, length, capacity, "MMC" if mmc else "SDSC", structure)


def _csd(
    register: bytes,
    value: int,
    size: int,
    mult: int | None,
    length: int,
    capacity: int | None,
    name: str,
    structure: int = 1,
) -> Csd:
    return Csd(
        csd_structure=structure,
        c_size=size,
        c_size_mult=mult,
        read_bl_len=length,
        capacity_bytes=capacity,
        card_class=name,
        perm_write_protect=bool(_bits(value, 13, 13)),
        tmp_write_protect=bool(_bits(value, 12, 12)),
        copy=bool(_bits(value, 14, 14)),
        crc7=register[15] >> 1,
        crc_ok=_check(register),
    )


def _value(register: bytes, name: str) -> int:
    if len(register) != REGISTER_BYTES:
        raise NotARegister(f"A {name} register has {REGISTER_BYTES} bytes and this has {len(register)}.")
    refuse_blank(register[:15], f"The {name} register", NotARegister)
    return int.from_bytes(register, "big")


def _bits(value: int, first: int, last: int) -> int:
    return value >> last & ((1 << (first - last + 1)) - 1)


def _check(register: bytes) -> bool | None:
    """Whether the check byte holds; None when it is 00h: many controllers drop it (common practice, no source)."""
    if register[15] == 0:
        return None
    return register[15] == crc7(register[:15]) << 1 | 1


def _text(raw: bytes) -> str:
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else " " if byte == 0 else "?" for byte in raw).strip()
