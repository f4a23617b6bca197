"""NVMe Identify: the 4096 bytes in which a controller (CNS 01h) or a namespace (CNS 00h) says what it is.

Field names are the specification's mnemonics; offsets as in the public header ``nvme/types.h`` of libnvme. Strings are
padded with blanks and, unlike those of ATA, not byte-swapped.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from .errors import NotAPage, refuse_blank

PAGE_BYTES = 4096
_NO_TEXT = re.compile(rb"[^\x20-\x7e\x00]")
_MOST_ODD_CHARACTERS = 6  # of 68: a damaged page may have some
_SMALLEST_SHIFT, _LARGEST_SHIFT = 9, 24  # block sizes of 512 bytes to 16 MiB; beyond that the page is damaged


class NotAnNvmePage(NotAPage):
    """The bytes hold no such NVMe Identify structure."""


@dataclass(frozen=True, slots=True)
class Controller:
    """What a controller says of itself.

    Capacities in bytes; temperatures in kelvin, 0 = not said; ``version`` is ``1.4.0``, or None before 1.2 made it
    mandatory. ``mdts`` is a power of two of the smallest page, 0 = no limit. ``ieee_oui`` is six hexadecimal digits.
    """

    vid: int
    ssvid: int
    sn: str
    mn: str
    fr: str
    ieee_oui: str
    mdts: int
    cntlid: int
    version: str | None
    tnvmcap_bytes: int
    unvmcap_bytes: int
    nn: int
    sanitize_crypto: bool
    sanitize_block: bool
    sanitize_overwrite: bool
    format_nvm: bool
    security_send_receive: bool
    namespace_management: bool
    volatile_write_cache: bool
    wctemp_kelvin: int
    cctemp_kelvin: int
    subnqn: str
    service_area_signs: tuple[str, ...] = ()

    @property
    def serial(self) -> str:
        """The serial number (SN)."""
        return self.sn

    @property
    def model(self) -> str:
        """The model name (MN)."""
        return self.mn

    @property
    def firmware(self) -> str:
        """The firmware revision (FR)."""
        return self.fr

    @property
    def capacity_bytes(self) -> int:
        """The whole capacity (TNVMCAP), 0 = not said."""
        return self.tnvmcap_bytes

    @property
    def service_area_read(self) -> bool:
        """False when the controller answers without what it keeps on its flash."""
        return not self.service_area_signs


@dataclass(frozen=True, slots=True)
class Namespace:
    """What a namespace says of itself. ``nsze``, ``ncap``, ``nuse`` count logical blocks of ``block_size`` bytes.

    ``nguid`` and ``eui64`` are hexadecimal digits, None when not given.
    """

    nsze: int
    ncap: int
    nuse: int
    lba_format_index: int
    block_size: int
    metadata_bytes: int
    thin: bool
    nvmcap_bytes: int
    nguid: str | None
    eui64: str | None

    @property
    def capacity_bytes(self) -> int:
        """The size in bytes."""
        return self.nsze * self.block_size

    @property
    def sectors(self) -> int:
        """The size in logical blocks (NSZE)."""
        return self.nsze


def read_controller(page: bytes) -> Controller:
    """Read an Identify Controller page. Raises NotAnNvmePage with one sentence."""
    _refuse(page, "controller")
    strings = page[4:72]
    if len(_NO_TEXT.findall(strings)) > _MOST_ODD_CHARACTERS:
        raise NotAnNvmePage(
            "This is no Identify Controller page: where model and serial number should stand there is no text."
        )
    version, oacs, sanicap = _number(page, 80, 4), _number(page, 256, 2), _number(page, 328, 4)
    sn, mn = _text(page[4:24]), _text(page[24:64])
    return Controller(
        vid=_number(page, 0, 2),
        ssvid=_number(page, 2, 2),
        sn=sn,
        mn=mn,
        fr=_text(page[64:72]),
        ieee_oui=page[75:72:-1].hex(),  # least significant byte first
        mdts=page[77],
        cntlid=_number(page, 78, 2),
        version=f"{version >> 16}.{version >> 8 & 255}.{version & 255}" if version else None,
        tnvmcap_bytes=_number(page, 280, 16),
        unvmcap_bytes=_number(page, 296, 16),
        nn=_number(page, 516, 4),
        sanitize_crypto=bool(sanicap & 1),
        sanitize_block=bool(sanicap & 2),
        sanitize_overwrite=bool(sanicap & 4),
        format_nvm=bool(oacs & 2),
        security_send_receive=bool(oacs & 1),
        namespace_management=bool(oacs & 8),
        volatile_write_cache=bool(page[525] & 1),
        wctemp_kelvin=_number(page, 266, 2),
        cctemp_kelvin=_number(page, 268, 2),
        subnqn=page[768:1024].split(b"\0")[0].decode("utf-8", errors="replace").strip(),
        service_area_signs=_signs(sn, mn),
    )


def read_namespace(page: bytes) -> Namespace:
    """Read an Identify Namespace page. Raises NotAnNvmePage with one sentence."""
    _refuse(page, "namespace")
    flbas, formats = page[26], page[25] + 1
    index = flbas & 15 | (flbas >> 5 & 3) << 4 if formats > 16 else flbas & 15
    if formats > 64 or index >= formats:
        raise NotAnNvmePage(
            f"The page uses block format {index} and lists {formats}; it is damaged or no namespace page."
        )
    at = 128 + 4 * index
    shift = page[at + 2]
    if not _SMALLEST_SHIFT <= shift <= _LARGEST_SHIFT:
        raise NotAnNvmePage(f"The page claims blocks of 2^{shift} bytes; it is damaged or no namespace page.")
    return Namespace(
        nsze=_number(page, 0, 8),
        ncap=_number(page, 8, 8),
        nuse=_number(page, 16, 8),
        lba_format_index=index,
        block_size=1 << shift,
        metadata_bytes=_number(page, at, 2),
        thin=bool(page[24] & 1),
        nvmcap_bytes=_number(page, 48, 16),
        nguid=page[104:120].hex() if any(page[104:120]) else None,
        eui64=page[120:128].hex() if any(page[120:128]) else None,
    )


def _refuse(page: bytes, kind: Literal["controller", "namespace"]) -> None:
    if len(page) != PAGE_BYTES:
        raise NotAnNvmePage(f"An Identify {kind.title()} page has {PAGE_BYTES} bytes and this has {len(page)}.")
    inactive = " An inactive namespace answers so too." if kind == "namespace" and not page[0] else ""
    refuse_blank(page, "The page", NotAnNvmePage, inactive)


def _number(page: bytes, at: int, size: int) -> int:
    return int.from_bytes(page[at : at + size], "little")


def _text(raw: bytes) -> str:
    return _NO_TEXT.sub(b"?", raw).replace(b"\0", b" ").decode("ascii").strip()


def _signs(sn: str, mn: str) -> tuple[str, ...]:
    """Signs that the controller answers from its boot code alone; common practice, no source."""
    wanted = ((sn.strip("0?X-"), "It gives no serial number."), (mn.strip("0?X-"), "It gives no model name."))
    return tuple(sentence for value, sentence in wanted if not value)
