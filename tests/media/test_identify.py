"""What a disk says of itself: orders, states, and what is no page at all."""

from __future__ import annotations

import struct
from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media.errors import NotAPage
from labcases.media.identify import (
    Identity,
    NotAnIdentifyPage,
    erase_time_words,
    read_identify,
    read_identify_text,
)

NAMES = st.text("ABCDEFGHKLMNPRSTUVWXYZ0123456789-", min_size=1)


def text_words(text: str, length: int) -> bytes:
    """A string as the page holds it: padded with blanks, the characters of each pair exchanged."""
    raw = text.ljust(length).encode()
    return b"".join(raw[at : at + 2][::-1] for at in range(0, length, 2))


def made(
    words: dict[int, int] | None = None,
    *,
    model: str = "BRAMFORD BQ-500",
    serial: str = "BQ5-0000419",
    firmware: str = "1.23",
    sectors: int = 976_773_168,
    integrity: bool = True,
) -> bytes:
    """A page of an invented disk."""
    values = [0] * 256
    values[0], values[1], values[3], values[6], values[47], values[49], values[53] = (
        0x40,
        16383,
        16,
        63,
        0x8010,
        0x0F00,
        7,
    )
    values[60], values[61] = 0xFFFF, 0x0FFF
    values[82:85], values[85:88] = (0x4069, 0x7400, 0x4000), (0x69, 0x3400, 0x4000)
    values[100:104] = struct.unpack("<4H", sectors.to_bytes(8, "little"))
    for number, value in (words or {}).items():
        values[number] = value
    page = bytearray(struct.pack("<256H", *values))
    page[20:40], page[46:54], page[54:94] = text_words(serial, 20), text_words(firmware, 8), text_words(model, 40)
    if integrity:
        page[510] = 0xA5
        page[511] = -sum(page) & 0xFF
    return bytes(page)


def turned(page: bytes) -> bytes:
    return struct.pack(">256H", *struct.unpack("<256H", page))


def without_notes(identity: Identity) -> Identity:
    return replace(identity, notes=())


@given(NAMES.map(lambda text: text[:40]), NAMES.map(lambda text: text[:20]), st.integers(1, 2**47), st.booleans())
def test_a_page_whose_bytes_came_exchanged_reads_the_same(
    model: str, serial: str, sectors: int, integrity: bool
) -> None:
    straight = made(model=model, serial=serial, sectors=sectors, integrity=integrity)
    identity = read_identify(turned(straight))
    assert without_notes(identity) == without_notes(read_identify(straight))
    assert "exchanged" in identity.notes[0]


def test_strings_that_came_in_plain_order_are_told_by_their_padding() -> None:
    page = bytearray(made(integrity=False, model="LUMARIS S480 PRO MK2", serial="LS48-0071", firmware="FW1.0.9"))
    for part in (slice(20, 40), slice(46, 54), slice(54, 94)):
        raw = bytes(page[part])
        page[part] = b"".join(raw[at : at + 2][::-1] for at in range(0, len(raw), 2))
    identity = read_identify(bytes(page))
    assert (identity.serial, identity.firmware, identity.model) == ("LS48-0071", "FW1.0.9", "LUMARIS S480 PRO MK2")
    assert "characters" in identity.notes[0]


@pytest.mark.parametrize("serial", ["0000", "BQ5-0000419", "A1B2C3D4", "NW-1-2-3"])
def test_a_name_that_ends_in_one_letter_is_not_taken_for_exchanged(serial: str) -> None:
    assert read_identify(made(model="DRIVES X", serial=serial)).model == "DRIVES X"


def test_a_large_disk_is_counted_in_48_bits_and_a_small_one_in_28() -> None:
    assert read_identify(made()).sectors == 976_773_168
    small = read_identify(made({83: 0x4000, 60: 0x2600, 61: 0x04A8, 100: 0, 101: 0, 102: 0, 103: 0}))
    assert (small.sectors, small.lba48) == (0x04A82600, False)


def test_a_disk_older_than_block_addresses_is_counted_by_its_geometry() -> None:
    oldest = read_identify(made({1: 1024, 49: 0, 60: 0, 61: 0, 82: 0, 83: 0, 84: 0, 87: 0}, integrity=False))
    assert oldest.sectors == 1024 * 16 * 63


def test_sector_sizes_come_from_words_106_and_117() -> None:
    assert (read_identify(made()).logical_bytes, read_identify(made()).physical_bytes) == (512, 512)
    native = read_identify(made({106: 0x5000, 117: 2048}))
    assert (native.logical_bytes, native.physical_bytes) == (4096, 4096)
    emulated = read_identify(made({106: 0x6003, 209: 0x4001}))
    assert (emulated.logical_bytes, emulated.physical_bytes, emulated.alignment_bytes) == (512, 4096, 512)


def test_an_impossible_sector_size_is_not_believed() -> None:
    odd = read_identify(made({106: 0x5000, 117: 1, 118: 0x8000}))
    assert (odd.logical_bytes, len(odd.notes)) == (512, 1)


@pytest.mark.parametrize(
    ("value", "rpm", "rotating"),
    [(0, None, None), (1, None, False), (5400, 5400, True), (0x0400, None, None), (0xFFFF, None, None)],
)
def test_rotation_is_told(value: int, rpm: int | None, rotating: bool | None) -> None:
    identity = read_identify(made({217: value}))
    assert (identity.rotation_rpm, identity.is_rotating) == (rpm, rotating)


def test_each_state_of_security_is_told() -> None:
    locked = read_identify(made({82: 0x406B, 128: 0x0107, 89: 100, 90: 0x8000 | 300, 92: 0xFFFE}))
    assert (locked.security_supported, locked.security_enabled, locked.locked, locked.frozen) == (
        True,
        True,
        True,
        False,
    )
    assert (locked.security_level, locked.erase_minutes, locked.enhanced_erase_minutes) == ("maximum", 200, 600)
    frozen = read_identify(made({82: 0x406B, 128: 0x0019}))
    assert (frozen.locked, frozen.frozen, frozen.security_expired, frozen.security_level) == (False, True, True, None)


def test_a_lock_is_believed_even_where_the_feature_word_denies_it() -> None:
    assert read_identify(made({82: 0x4069, 128: 0x0007})).locked


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (0, "not said"),
        (244, "488 min"),
        (255, "more than 508 min"),
        (0x8000 | 600, "1200 min"),
        (0xFFFF, "more than 65532 min"),
    ],
)
def test_the_time_an_erase_takes_is_put_in_words(raw: int, words: str) -> None:
    assert erase_time_words(read_identify(made({82: 0x406B, 128: 1, 89: raw})).erase_minutes) == words


def test_features_that_matter_are_told() -> None:
    rich = read_identify(made({59: 0xB000, 69: 0x0020, 82: 0x4469, 83: 0x7C00, 169: 1, 76: 0x010E, 77: 6, 222: 0x10FF}))
    assert (rich.hpa_supported, rich.dco_supported, rich.trim, rich.trim_reads_zero) == (True, True, True, True)
    assert rich.sanitize == ("crypto scramble", "block erase")
    assert (rich.transport, rich.sata_generations, rich.sata_gen_current) == ("serial ATA", (1, 2, 3), 3)


@pytest.mark.parametrize(
    ("words", "zones", "shingled"),
    [
        ({}, None, False),
        ({69: 0x0001, 217: 5_400}, "host aware", True),
        ({69: 0x0002}, "managed by the disk", True),
        ({69: 0x0002, 217: 1}, "managed by the disk", False),  # no rotation: flash has zones too
        ({69: 0xFFFF}, None, False),
    ],
)
def test_a_disk_that_says_it_has_zones_overlaps_its_tracks(words: dict[int, int], zones: str, shingled: bool) -> None:
    """Word 69, bits 1-0, from memory of ACS-4."""
    page = read_identify(made(words))
    assert (page.zones, page.shingled) == (zones, shingled)


def test_the_integrity_word_is_checked_where_there_is_one() -> None:
    page = bytearray(made())
    assert read_identify(bytes(page)).checksum_ok is True
    page[20] ^= 1
    assert read_identify(bytes(page)).checksum_ok is False
    assert read_identify(made(integrity=False)).checksum_ok is None


@pytest.mark.parametrize(
    "raw",
    [
        pytest.param(made(serial=""), id="no serial number"),
        pytest.param(made(serial="00000000"), id="serial number of noughts"),
        pytest.param(made(model=""), id="no model"),
        pytest.param(made(model="FACTORY DEFAULT"), id="factory name"),
        pytest.param(made({60: 0, 61: 0, 100: 0, 101: 0, 102: 0, 103: 0}), id="no capacity"),
        pytest.param(made({0: 0x44}), id="says that it is incomplete"),
        pytest.param(made({2: 0x37C8}), id="must spin up first"),
    ],
)
def test_a_board_that_answers_alone_is_told_apart(raw: bytes) -> None:
    identity = read_identify(raw)
    assert not identity.service_area_read
    assert all(sign.startswith("It ") for sign in identity.service_area_signs)


def test_a_whole_answer_has_no_such_sign() -> None:
    assert read_identify(made()).service_area_signs == ()


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (b"", "nothing was handed over"),
        (made()[:511], "cut short"),
        (made() + b"\0", "has 513"),
        (bytes(4096), "NVMe"),
        (bytes(512), "every byte is 00h"),
        (b"\xff" * 512, "every byte is FFh"),
        (bytes(range(256)) * 2, "there is no text"),
        ((b"The drive does not answer. " * 20)[:512], "leaves at zero"),
        (made({0: 0x85C0}), "packet device"),
    ],
)
def test_what_is_no_page_is_refused_with_a_sentence(raw: bytes, sentence: str) -> None:
    with pytest.raises(NotAnIdentifyPage, match=sentence) as refused:
        read_identify(raw)
    assert str(refused.value).endswith(".")


def test_a_compact_flash_card_is_a_disk() -> None:
    assert read_identify(made({0: 0x848A})).sectors == 976_773_168


@given(st.binary(max_size=1100) | st.binary(min_size=512, max_size=512))
def test_no_bytes_raise_anything_but_the_rooms_own_error(raw: bytes) -> None:
    with suppress(NotAPage):
        assert isinstance(read_identify(raw), Identity)


@given(st.lists(st.tuples(st.integers(0, 255), st.integers(0, 0xFFFF)), max_size=40).map(dict))
def test_no_damaged_page_raises_anything_but_the_rooms_own_error(words: dict[int, int]) -> None:
    with suppress(NotAPage):
        identity = read_identify(made(words, integrity=False))
        assert identity.capacity_bytes >= 0
        assert identity.model.isprintable()


@given(st.text(max_size=500) | st.binary(max_size=500))
def test_no_text_raises_anything_but_the_rooms_own_error(text: str | bytes) -> None:
    with pytest.raises(NotAPage):
        read_identify_text(text)
