"""Every common way to print a page as hexadecimal leads back to the same bytes."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media.errors import NotAPage
from labcases.media.hexlist import LARGEST_TEXT, MOST_LINES, parse
from labcases.media.identify import read_identify, read_identify_text

VECTORS = Path(__file__).parents[1] / "outside" / "vectors" / "ata_identify.json"
PAGES = [
    bytes.fromhex(case["page_hex"])
    for case in json.loads(VECTORS.read_text(encoding="utf-8"))["cases"]
    if "reject" not in case["expect"]
]


def groups(data: bytes, size: int, *, value: bool = False) -> list[str]:
    """Groups of bytes, printed in order or as the little-endian value they make."""
    parts = [data[at : at + size] for at in range(0, len(data), size)]
    return [(part[::-1] if value else part).hex() for part in parts]


def lines(
    data: bytes, size: int, per_line: int, offset: Callable[[int], str] = lambda at: "", *, value: bool = False
) -> str:
    rows = [
        offset(at) + " ".join(groups(data[at : at + per_line], size, value=value))
        for at in range(0, len(data), per_line)
    ]
    return "\n".join(rows) + "\n"


def characters(chunk: bytes) -> str:
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in chunk)


def with_column(data: bytes, size: int, mark: str) -> str:
    rows = []
    for at in range(0, len(data), 16):
        chunk = data[at : at + 16]
        rows.append(f"{at:08x}: {' '.join(groups(chunk, size))}  {mark}{characters(chunk)}{mark}")
    return "\n".join(rows)


def squeezed(data: bytes) -> str:
    """Sixteen bytes a line, repeated lines as one star, the end as an offset alone, middle gap and characters."""
    rows: list[str] = []
    previous = b""
    for at in range(0, len(data), 16):
        chunk = data[at : at + 16]
        if chunk == previous:
            if rows[-1] != "*":
                rows.append("*")
            continue
        previous = chunk
        left, right = " ".join(groups(chunk[:8], 1)), " ".join(groups(chunk[8:], 1))
        rows.append(f"{at:08x}  {left}  {right}  |{characters(chunk)}|")
    return "\n".join([*rows, f"{len(data):08x}"])


def octal_words(data: bytes) -> str:
    """Octal offsets and words by value, repeated lines as one star."""
    rows: list[str] = []
    previous = b""
    for at in range(0, len(data), 16):
        chunk = data[at : at + 16]
        if chunk == previous:
            if rows[-1] != "*":
                rows.append("*")
            continue
        previous = chunk
        rows.append(f"{at:07o} {' '.join(groups(chunk, 2, value=True))}")
    return "\n".join([*rows, f"{len(data):07o}"])


LAYOUTS: dict[str, Callable[[bytes], str]] = {
    "one run": lambda page: page.hex(),
    "one run in capitals": lambda page: page.hex().upper(),
    "runs of 32 bytes": lambda page: lines(page, 32, 32),
    "bytes": lambda page: lines(page, 1, 16),
    "all bytes in one line": lambda page: " ".join(groups(page, 1)),
    "bytes with 0x and commas": lambda page: "{" + ", ".join(f"0x{byte:02x}" for byte in page) + "};",
    "bytes with h": lambda page: " ".join(f"{byte:02X}h" for byte in page),
    "bytes, offset and colon": lambda page: lines(page, 1, 16, lambda at: f"{at:04x}: "),
    "bytes, offset of four digits": lambda page: lines(page, 1, 16, lambda at: f"{at:04x}  "),
    "bytes, offset of two digits": lambda page: lines(page, 1, 16, lambda at: f"{at // 16:02x}  "),
    "bytes, offset in brackets": lambda page: lines(page, 1, 16, lambda at: f"[0x{at:03x}] "),
    "bytes with characters": lambda page: with_column(page, 1, ""),
    "bytes with characters between bars": lambda page: with_column(page, 1, "|"),
    "bytes of eight a line": lambda page: lines(page, 1, 8, lambda at: f"{at:06X}: "),
    "pairs in order": lambda page: lines(page, 2, 16),
    "pairs in order with characters": lambda page: with_column(page, 2, ""),
    "words by value": lambda page: lines(page, 2, 16, value=True),
    "words by value with offset": lambda page: lines(page, 2, 16, lambda at: f"{at:08x}: ", value=True),
    "words by value, word numbers": lambda page: lines(page, 2, 16, lambda at: f"{at // 2:3d}: ", value=True),
    "words by value, offset of four digits": lambda page: lines(page, 2, 16, lambda at: f"{at:04x} ", value=True),
    "words by value, 0x": lambda page: " ".join("0x" + word for word in groups(page, 2, value=True)),
    "words by value, no leading zeros": lambda page: " ".join(f"{int(w, 16):x}" for w in groups(page, 2, value=True)),
    "words by value under a heading": lambda page: "\n/dev/sdx:\n" + lines(page, 2, 16, value=True),
    "double words in order": lambda page: lines(page, 4, 16),
    "double words by value": lambda page: lines(page, 4, 16, value=True),
    "quadruple words by value": lambda page: lines(page, 8, 16, value=True),
    "squeezed": squeezed,
    "octal words": octal_words,
    "windows line ends": lambda page: lines(page, 1, 16).replace("\n", "\r\n"),
}


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("number", range(len(PAGES)))
def test_a_listing_reads_like_the_page(name: str, number: int) -> None:
    assert read_identify_text(LAYOUTS[name](PAGES[number])) == read_identify(PAGES[number])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_an_uploaded_listing_may_be_in_any_encoding(encoding: str) -> None:
    text = lines(PAGES[0], 2, 16, value=True)
    given_bytes = b"\xfe\xff" + text.encode(encoding) if encoding == "utf-16-be" else text.encode(encoding)
    assert read_identify_text(given_bytes) == read_identify(PAGES[0])


@given(st.integers(0, 2**32), st.sampled_from([1, 2, 4, 8]), st.sampled_from([8, 16, 32]), st.booleans())
def test_any_bytes_come_back_in_printed_order(seed: int, size: int, per_line: int, offsets: bool) -> None:
    data = random.Random(seed).randbytes(512)
    text = lines(data, size, per_line, (lambda at: f"{at:06x}: ") if offsets else (lambda at: ""))
    listing = parse(text, [512])
    assert (listing.data, listing.group) == (data, size)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "no hex listing"),
        ("the drive does not answer", "no hex listing"),
        ("00 11 22 33", "holds 4 bytes"),
        ("40 00 " * 300, "holds 600 bytes"),
        ("zz" * 512, "no hex listing"),
    ],
)
def test_what_is_no_listing_is_refused_with_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(NotAPage, match=sentence):
        parse(text, [512])


def test_a_text_beyond_reason_is_refused_unread() -> None:
    for text in ("0" * (LARGEST_TEXT + 1), "0 \n" * (MOST_LINES + 1)):
        with pytest.raises(NotAPage, match="too long"):
            parse(text, [512])


@given(st.text(max_size=2000) | st.text("0123456789abcdefx:*| \n-,h", max_size=4000) | st.binary(max_size=3000))
def test_no_text_raises_anything_but_the_rooms_own_error(text: str | bytes) -> None:
    with suppress(NotAPage):
        assert len(parse(text, [16, 512]).data) in (16, 512)


def test_a_star_that_claims_millions_of_lines_is_bounded() -> None:
    text = "00000000 " + "00 " * 16 + "\n*\n7ffffff0 " + "11 " * 16 + "\n"
    with pytest.raises(NotAPage, match="bytes"):
        parse(text, [512])
