"""NVMe pages: what is refused, and that nothing else is ever raised."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media.errors import NotAPage
from labcases.media.nvme import NotAnNvmePage, read_controller, read_namespace


def controller(serial: bytes = b"LN1T-0007-A42", model: bytes = b"LUMARIS N1 1000") -> bytes:
    page = bytearray(4096)
    page[4:24], page[24:64], page[64:72] = serial.ljust(20), model.ljust(40), b"1.0.3   "
    page[80:84] = (0x00010400).to_bytes(4, "little")
    return bytes(page)


def namespace(blocks: int = 1000, shift: int = 9, flbas: int = 0, formats: int = 1) -> bytes:
    page = bytearray(4096)
    page[0:8] = blocks.to_bytes(8, "little")
    page[25], page[26], page[130] = formats - 1, flbas, shift
    return bytes(page)


def test_a_controller_names_itself_as_intake_wants_it() -> None:
    found = read_controller(controller())
    assert (found.model, found.serial, found.firmware) == ("LUMARIS N1 1000", "LN1T-0007-A42", "1.0.3")
    assert (found.version, found.capacity_bytes, found.service_area_read) == ("1.4.0", 0, True)


def test_a_controller_without_a_serial_number_answers_from_its_boot_code() -> None:
    assert read_controller(controller(serial=b"")).service_area_signs == ("It gives no serial number.",)


def test_a_namespace_counts_in_the_format_it_uses() -> None:
    found = read_namespace(namespace(1000, 12))
    assert (found.sectors, found.block_size, found.capacity_bytes) == (1000, 4096, 4_096_000)


@pytest.mark.parametrize("raw", [controller()[:4095], controller() + b"\0", b""])
def test_a_page_of_the_wrong_length_is_refused(raw: bytes) -> None:
    for reader in (read_controller, read_namespace):
        with pytest.raises(NotAnNvmePage, match=r"has 4096 bytes and this has \d+\."):
            reader(raw)


@pytest.mark.parametrize("byte", [b"\0", b"\xff"])
def test_a_blank_page_is_refused(byte: bytes) -> None:
    for reader in (read_controller, read_namespace):
        with pytest.raises(NotAnNvmePage, match="blank"):
            reader(byte * 4096)


def test_an_inactive_namespace_is_mentioned_where_a_page_of_noughts_is_refused() -> None:
    with pytest.raises(NotAnNvmePage, match="inactive namespace"):
        read_namespace(bytes(4096))


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (namespace(shift=3), "2\\^3 bytes"),
        (namespace(flbas=2), "format 2 and lists 1"),
        (namespace(formats=200), "lists 200"),
    ],
)
def test_a_namespace_with_an_impossible_format_is_refused(raw: bytes, sentence: str) -> None:
    with pytest.raises(NotAnNvmePage, match=sentence):
        read_namespace(raw)


def test_bytes_where_the_names_should_stand_are_refused() -> None:
    with pytest.raises(NotAnNvmePage, match="no text"):
        read_controller(controller(serial=b"\x01\x02" * 10, model=b"\x80" * 30))


@given(st.binary(max_size=64), st.integers(0, 5000), st.integers(0, 300))
def test_no_bytes_raise_anything_but_the_rooms_own_error(seed: bytes, length: int, shift: int) -> None:
    page = ((seed or b"\x01") * 6000)[shift : shift + (4096 if length > 1000 else length)]
    for reader in (read_controller, read_namespace):
        with suppress(NotAPage):
            assert reader(page).capacity_bytes >= 0
