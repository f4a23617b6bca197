"""Card registers: MMC beside SD, what is refused, and that nothing else is ever raised."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media.cards import NotARegister, crc7, read_cid, read_csd
from labcases.media.errors import NotAPage

SD_CID = bytes.fromhex("9f544956414c42300500a1b2c30193d9")
SDHC_CSD = bytes.fromhex("400e00325b5900003b377f800a400067")


def sealed(body: bytes) -> bytes:
    return body + bytes([crc7(body) << 1 | 1])


def test_a_card_names_itself_as_intake_wants_it() -> None:
    cid = read_cid(SD_CID)
    assert (cid.model, cid.serial, cid.firmware, cid.year) == ("VALB0", "00a1b2c3", "0.5", 2025)


def test_an_mmc_has_a_longer_name_and_two_possible_years() -> None:
    """Bit positions from memory of the public Linux driver drivers/mmc/core/mmc.c."""
    cid = read_cid(
        sealed(bytes([0x9F, 1, 0x4F]) + b"LUMA64" + bytes([0x12]) + bytes.fromhex("00a1b2c3") + b"\x37"), mmc=True
    )
    assert (cid.model, cid.psn, cid.firmware, cid.month) == ("LUMA64", 0xA1B2C3, "1.2", 3)
    assert (cid.years, cid.year, cid.crc_ok) == ((2004, 2020), None, True)


def test_a_large_mmc_leaves_its_size_to_another_register() -> None:
    value = 3 << 126 | 9 << 80 | 0xFFF << 62 | 7 << 47
    csd = read_csd(sealed(value.to_bytes(16, "big")[:15]), mmc=True)
    assert (csd.capacity_bytes, csd.sectors, csd.card_class) == (None, None, "MMC")


def test_each_write_protection_is_told() -> None:
    for bit, names in ((12, (False, True)), (13, (True, False))):
        value = int.from_bytes(SDHC_CSD, "big") | 1 << bit
        csd = read_csd(value.to_bytes(16, "big"))
        assert (csd.perm_write_protect, csd.tmp_write_protect) == names
        assert csd.write_protected
    assert not read_csd(SDHC_CSD).write_protected


@pytest.mark.parametrize("register", [b"", SD_CID[:15], SD_CID + b"\0", bytes(16), b"\xff" * 16])
def test_what_is_no_register_is_refused_with_a_sentence(register: bytes) -> None:
    for reader in (read_cid, read_csd):
        with pytest.raises(NotARegister, match=r"\.$"):
            reader(register)


def test_a_block_length_no_card_has_is_refused() -> None:
    value = int.from_bytes(bytes.fromhex("002600325b5983a9edb7ff800a400073"), "big") & ~(15 << 80) | 15 << 80
    with pytest.raises(NotARegister, match=r"2\^15"):
        read_csd(value.to_bytes(16, "big"))


@given(st.binary(min_size=15, max_size=15), st.integers(0, 119))
def test_any_flipped_bit_breaks_the_check(body: bytes, bit: int) -> None:
    flipped = (int.from_bytes(body, "big") ^ 1 << bit).to_bytes(15, "big")
    assert crc7(flipped) != crc7(body)


@given(st.binary(max_size=40) | st.binary(min_size=16, max_size=16), st.booleans())
def test_no_bytes_raise_anything_but_the_rooms_own_error(register: bytes, mmc: bool) -> None:
    with suppress(NotAPage):
        assert read_cid(register, mmc=mmc).pnm.isprintable()
    with suppress(NotAPage):
        assert (read_csd(register, mmc=mmc).capacity_bytes or 0) >= 0
