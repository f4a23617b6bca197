"""Partition tables that are whole, damaged, hybrid, stale, or claim what cannot be."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcases.media.layout import MOST_BYTES, MOST_READS
from labcases.media.partitions import Layout, NotALayout, read_partitions, read_volumes

LINUX = bytes.fromhex("af3dc60f838472478e793d69d8477de4")
TOTAL = 100_000
ROWS = [(2048, 20_000), (22_528, 50_000)]


def boot_record(*rows: tuple[int, int, int], signature: bytes = b"\x55\xaa", status: int = 0) -> bytes:
    """A boot record with rows of (type, first, sectors)."""
    table = b"".join(struct.pack("<B3xB3xII", status, *row) for row in rows)
    return bytes(446) + table.ljust(64, b"\0") + signature


def gpt(
    rows: list[tuple[int, int]] = ROWS,
    total: int = TOTAL,
    *,
    mbr: bytes | None = None,
    size: int = 512,
    disk: bytes = b"D" * 16,
    **claims: int,
) -> bytearray:
    """A whole disk with a sound GPT; ``claims`` overwrite header fields before the checksum is taken."""
    entries = b"".join(
        struct.pack(
            "<16s16sQQQ72s", LINUX, bytes([number]) * 16, first, first + count - 1, 0, "part".encode("utf-16-le")
        )
        for number, (first, count) in enumerate(rows, start=1)
    ).ljust(16384, b"\0")
    image = bytearray(total * size)
    image[:512] = mbr or boot_record((0xEE, 1, total - 1))
    taken = 16384 // size
    for here, other, at in ((1, total - 1, 2), (total - 1, 1, total - 1 - taken)):
        image[at * size : at * size + 16384] = entries
        fields: dict[str, Any] = {"entries_lba": at, "count": 128, "entry": 128, "crc": zlib.crc32(entries)} | claims
        header = struct.pack(
            "<8s4sIIIQQQQ16sQIII", b"EFI PART", b"\0\0\1\0", claims.get("length", 92), 0, 0,
            claims.get("own", here), other, 2 + taken, total - 2 - taken, disk,
            fields["entries_lba"], fields["count"], fields["entry"], fields["crc"],
        )  # fmt: skip
        header = header[:16] + struct.pack("<I", zlib.crc32(header)) + header[20:]
        image[here * size : here * size + 92] = header
    return image


def reader(image: bytes, size: int = 512) -> Callable[[int, int], bytes]:
    return lambda lba, count: bytes(image[lba * size : (lba + count) * size])


def looked_at(image: bytes, size: int = 512, total: int | None = TOTAL) -> Layout:
    return read_partitions(bytes(image[: 34 * size]), bytes(image[-33 * size :]), size, total)


def spans(layout: Layout) -> list[tuple[int, int]]:
    return [(part.first_lba, part.sectors) for part in layout.parts]


def test_a_sound_gpt_is_read_without_a_word_of_warning() -> None:
    layout = looked_at(gpt())
    assert (layout.kind, layout.status, layout.used, layout.warnings) == ("gpt", "ok", "primary", [])
    assert spans(layout) == ROWS
    assert (layout.parts[0].name, layout.parts[0].type_name) == ("part", "Linux")


def test_a_gpt_needs_no_total_when_the_tail_is_there() -> None:
    assert looked_at(gpt(), total=None).total_sectors == TOTAL
    damaged = gpt()
    damaged[512:600] = bytes(88)
    layout = looked_at(damaged, total=None)
    assert (layout.used, spans(layout)) == ("backup", ROWS)


def test_without_the_last_sectors_the_backup_is_said_not_to_be_looked_at() -> None:
    layout = read_partitions(bytes(gpt()[: 34 * 512]), total_sectors=TOTAL)
    assert (layout.status, spans(layout)) == ("ok", ROWS)
    assert "not looked at" in layout.warnings[0]


def test_the_backup_is_fetched_where_a_reader_is_given() -> None:
    image = gpt()
    layout = read_partitions(bytes(image[:512]), total_sectors=TOTAL, read_at=reader(image))
    assert (layout.status, spans(layout), layout.warnings) == ("ok", ROWS, [])


def test_headers_of_two_different_tables_are_noticed() -> None:
    image, other = gpt(), gpt([(4096, 1000)])
    image[-33 * 512 :] = other[-33 * 512 :]
    layout = looked_at(image)
    assert (layout.status, layout.used) == ("headers differ", "primary")
    assert [(part.first_lba, part.sectors) for part in layout.others] == [(4096, 1000)]


@pytest.mark.parametrize(
    ("claims", "sentence"),
    [
        ({"count": 2**32 - 1}, "claims 4294967295 partition entries"),
        ({"entry": 0}, "entries of 0 bytes"),
        ({"entry": 2**31}, "entries of 2147483648 bytes"),
        ({"length": 2**32 - 1}, "claims to be 4294967295 bytes long"),
        ({"entries_lba": 2**63}, "were not supplied"),
        ({"own": 77}, "says that it stands in sector 77"),
    ],
)
def test_a_header_that_claims_what_cannot_be_is_not_followed(claims: dict[str, int], sentence: str) -> None:
    reads: list[tuple[int, int]] = []
    image = gpt(**claims)

    def read_at(lba: int, count: int) -> bytes:
        reads.append((lba, count))
        return reader(image)(lba, count)

    layout = read_partitions(bytes(image[: 34 * 512]), b"", 512, TOTAL, read_at)
    assert (layout.kind, layout.parts) == ("none", [])
    assert sentence in " ".join(layout.warnings)
    assert len(reads) < 10
    assert all(count <= 2048 for _, count in reads)


def test_overlaps_and_partitions_past_the_end_are_told() -> None:
    layout = looked_at(gpt([(2048, 20_000), (10_000, 5_000), (90_000, 50_000), (200_000, 5)]))
    told = " ".join(layout.warnings)
    assert layout.status == "partitions damaged"
    assert "Partitions 1 and 2 overlap by 5000 sectors." in told
    assert "Partition 3 ends at sector 139999, past the medium's end of 100000." in told
    assert "Partition 4 starts at sector 200000" in told


def test_a_partition_that_ends_before_it_starts_is_left_out_and_told() -> None:
    layout = looked_at(gpt([(2048, 1000), (5000, -10)]))
    assert spans(layout) == [(2048, 1000)]
    assert "Partition 2 ends before it starts" in layout.warnings[0]


def test_a_hybrid_mbr_is_told_and_its_own_partitions_set_beside() -> None:
    layout = looked_at(gpt(mbr=boot_record((0xEE, 1, 2047), (0x07, 2048, 20_000))))
    assert (layout.kind, spans(layout)) == ("gpt", ROWS)
    assert "hybrid" in layout.warnings[0]
    assert [(part.type_code, part.first_lba) for part in layout.others] == [("7", 2048)]


def test_an_mbr_without_a_protective_entry_rules_over_a_gpt_left_behind() -> None:
    layout = looked_at(gpt(mbr=boot_record((0x83, 63, 5000))))
    assert (layout.kind, spans(layout)) == ("mbr", [(63, 5000)])
    assert "sound GPT too" in layout.warnings[0]
    assert len(layout.others) == 2


def test_sectors_of_4096_bytes_are_read_with_their_size_and_hinted_at_with_another() -> None:
    image = gpt([(256, 1000)], total=2000, size=4096)
    assert spans(looked_at(image, 4096, 2000)) == [(256, 1000)]
    assert looked_at(image, 512, 16_000).likely_sector_bytes == 4096


def chain(*records: tuple[int, bytes]) -> Callable[[int, int], bytes]:
    """Sectors by number; everything else is blank."""
    held = dict(records)
    return lambda lba, count: b"".join(held.get(lba + index, bytes(512)) for index in range(count))


HEAD = boot_record((0x0C, 63, 900), (0x05, 1000, 9000))


def test_logical_partitions_are_numbered_from_five() -> None:
    read_at = chain((1000, boot_record((0x83, 63, 500), (0x05, 2000, 3000))), (3000, boot_record((0x82, 63, 700))))
    layout = read_partitions(HEAD, read_at=read_at, total_sectors=TOTAL)
    assert [(part.number, part.first_lba, part.sectors) for part in layout.parts] == [
        (1, 63, 900), (5, 1063, 500), (6, 3063, 700),
    ]  # fmt: skip
    assert (layout.ebr_lbas, layout.status, layout.warnings) == ([1000, 3000], "ok", [])


@pytest.mark.parametrize(
    ("record", "status"),
    [
        (boot_record((0x83, 63, 500), (0x05, 0, 3000)), "chain damaged: loop"),
        (boot_record((0x83, 63, 500), (0x05, 50_000, 3000)), "chain damaged: outside"),
        (boot_record((0x83, 63, 500), signature=b"\0\0"), "chain damaged: signature"),
        (boot_record((0x83, 63, 50_000)), "partitions damaged"),
    ],
)
def test_a_damaged_chain_is_left_where_it_breaks(record: bytes, status: str) -> None:
    layout = read_partitions(HEAD, read_at=chain((1000, record)), total_sectors=TOTAL)
    assert layout.status == status
    assert layout.warnings


def test_a_chain_that_was_not_supplied_says_where_it_goes_on() -> None:
    layout = read_partitions(HEAD, total_sectors=TOTAL)
    assert layout.status == "chain not supplied"
    assert "sector 1000" in layout.warnings[0]


def test_an_endless_chain_is_left_after_a_while() -> None:
    def read_at(lba: int, count: int) -> bytes:
        return boot_record((0x83, 1, 1), (0x05, (lba - 990) % 2**32, 5))

    head = boot_record((0x05, 1000, 2**32 - 2000))
    layout = read_partitions(head, read_at=read_at, total_sectors=2**33)
    assert layout.status == "chain damaged: too long"
    assert len(layout.parts) == len(layout.ebr_lbas) == 128


@pytest.mark.parametrize("failure", [OSError("worn"), KeyError(7), ValueError("no")])
def test_a_sector_that_cannot_be_read_is_like_one_not_supplied(failure: Exception) -> None:
    def read_at(lba: int, count: int) -> bytes:
        raise failure

    assert read_partitions(HEAD, read_at=read_at, total_sectors=TOTAL).status == "chain not supplied"


def fat_boot_sector() -> bytearray:
    sector = bytearray(boot_record())
    sector[:3], sector[11:13], sector[13], sector[14:16], sector[16] = b"\xeb\x3c\x90", b"\0\2", 4, b"\4\0", 2
    sector[17:19], sector[19:21], sector[21], sector[22:24] = b"\0\2", b"\0\x80", 0xF8, b"\x20\0"
    return sector


def test_a_file_system_straight_on_the_medium_is_no_partition_table() -> None:
    layout = read_partitions(bytes(fat_boot_sector()))
    assert (layout.kind, layout.status) == ("none", "volume without a table")
    assert layout.volume is not None
    assert layout.volume.kind == "FAT16"


def test_boot_code_in_place_of_entries_is_no_partition_table() -> None:
    sector = bytearray(boot_record())
    sector[446:510] = b"Press any key to restart".ljust(64, b"!")
    assert read_partitions(bytes(sector)).status == "no table"


def test_an_empty_table_is_a_table() -> None:
    layout = read_partitions(boot_record())
    assert (layout.kind, layout.parts, layout.warnings) == ("mbr", [], ["The partition table lists no partitions."])


def test_one_spoilt_mark_does_not_hide_the_table() -> None:
    sector = bytearray(boot_record((0x83, 63, 500), (0x83, 1000, 500)))
    sector[446] = 0x7F
    layout = read_partitions(bytes(sector))
    assert (len(layout.parts), layout.status) == (2, "partitions damaged")


def test_file_systems_are_recognised_where_their_sectors_are_supplied() -> None:
    image = bytearray(boot_record((0x06, 8, 100), (0x06, 200, 32_768)) + bytes(300 * 512))
    image[8 * 512 : 9 * 512] = image[200 * 512 : 201 * 512] = fat_boot_sector()
    layout = read_partitions(bytes(image[: 34 * 512]), total_sectors=TOTAL)
    assert [part.volume and part.volume.kind for part in layout.parts] == ["FAT16", None]
    assert "larger than the partition" in layout.warnings[0]
    read_volumes(layout, reader(bytes(image)))
    assert [part.volume and part.volume.kind for part in layout.parts] == ["FAT16", "FAT16"]


@pytest.mark.parametrize(("head", "size"), [(b"", 512), (bytes(511), 512), (bytes(512), 4096), (bytes(9999), 500)])
def test_what_cannot_be_looked_at_is_refused_with_a_sentence(head: bytes, size: int) -> None:
    with pytest.raises(NotALayout, match=r"\.$"):
        read_partitions(head, sector_bytes=size)


SOUND = bytes(gpt())
SECTORS = st.binary(max_size=2000) | st.sampled_from([HEAD, boot_record((0xEE, 1, 5)), SOUND[: 34 * 512]])


@given(
    head=SECTORS,
    tail=st.binary(max_size=1500),
    size=st.sampled_from([512, 4096, 520]),
    total=st.none() | st.integers(-5, 2**65),
    fetched=st.binary(max_size=1500) | st.just(boot_record((0x83, 5, 5), (5, 7, 7))),
)
def test_no_sectors_raise_anything_but_the_rooms_own_error(
    head: bytes, tail: bytes, size: int, total: int | None, fetched: bytes
) -> None:
    reads: list[int] = []

    def read_at(lba: int, count: int) -> bytes:
        reads.append(count * size)
        return fetched

    try:
        layout = read_partitions(head, tail, size, total, read_at)
    except NotALayout:
        return
    assert layout.kind in ("gpt", "mbr", "none")
    assert len(reads) <= MOST_READS
    assert sum(reads) <= MOST_BYTES


@settings(deadline=None)
@given(st.dictionaries(st.integers(512, 34 * 512 - 1), st.integers(0, 255), max_size=30))
def test_no_damage_to_a_gpt_changes_what_the_backup_says(damage: dict[int, int]) -> None:
    head, tail = bytearray(SOUND[: 34 * 512]), SOUND[-33 * 512 :]
    for at, byte in damage.items():
        head[at] = byte
    assert spans(read_partitions(bytes(head), tail, 512, TOTAL)) == ROWS
