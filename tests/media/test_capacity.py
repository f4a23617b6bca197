"""What to think of a sector count."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media import capacity
from labcases.media.capacity import NotACapacity, judge, nearest_standard, sectors_for, standard_gigabytes, words

SECTOR_SIZES = st.sampled_from([512, 4096])


def codes(sectors: int, sector_bytes: int = 512, printed: int | None = None) -> list[str]:
    return [reason.code for reason in judge(sectors, sector_bytes, printed).reasons]


@given(st.integers(1, 8000), SECTOR_SIZES)
def test_every_low_capacity_comes_back_from_its_count(gigabytes: int, sector_bytes: int) -> None:
    assert standard_gigabytes(sectors_for(gigabytes, sector_bytes), sector_bytes) == gigabytes


@given(st.integers(9, 400), SECTOR_SIZES)
def test_every_whole_terabyte_comes_back_from_its_count(terabytes: int, sector_bytes: int) -> None:
    assert standard_gigabytes(sectors_for(terabytes * 1000, sector_bytes), sector_bytes) == terabytes * 1000


@given(st.integers(8001, 400_000))
def test_a_high_capacity_comes_back_as_one_with_the_same_count(gigabytes: int) -> None:
    found = standard_gigabytes(sectors_for(gigabytes))
    assert found is not None
    assert sectors_for(found) == sectors_for(gigabytes)


@given(st.integers(1, 400_000))
def test_a_disk_has_at_least_what_is_printed(gigabytes: int) -> None:
    assert sectors_for(gigabytes) * 512 >= gigabytes * 10**9
    assert sectors_for(gigabytes, 4096) * 8 == sectors_for(gigabytes)


@given(st.integers(0, 2**64), SECTOR_SIZES)
def test_any_count_is_judged(sectors: int, sector_bytes: int) -> None:
    verdict = judge(sectors, sector_bytes)
    assert verdict.is_standard != bool(verdict.reasons)
    assert verdict.nearest.sectors + verdict.nearest.difference == sectors


@given(st.integers(1, 7999), st.integers(0, 900_000))
def test_the_nearest_standard_count_is_found_from_both_sides(gigabytes: int, off: int) -> None:
    for sectors in (sectors_for(gigabytes) - off, sectors_for(gigabytes) + off):
        assert nearest_standard(sectors).gigabytes == gigabytes


@pytest.mark.parametrize(("gigabytes", "sector_bytes"), [(0, 512), (-5, 512), (500, 520), (9000, 0)])
def test_what_the_standard_does_not_cover_is_refused(gigabytes: int, sector_bytes: int) -> None:
    with pytest.raises(NotACapacity):
        sectors_for(gigabytes, sector_bytes)


@pytest.mark.parametrize(
    ("sectors", "sector_bytes", "code"),
    [
        (sectors_for(500) - 2113, 512, "clipped"),
        (66_055_248, 512, "clipped"),
        (2**28 - 1, 512, "lba28"),
        (2**32 - 1, 512, "lba32"),
        (sectors_for(3000) - 2**32, 512, "wrapped"),
        (sectors_for(4000, 4096), 512, "sector-size"),
        (sectors_for(4000), 4096, "sector-size"),
        (62_332_928, 512, "flash"),
        (78_140_160, 512, "old"),
        (23_440_115_664, 512, "no-rule"),
        (0, 512, "none"),
    ],
)
def test_a_count_that_is_no_standard_count_gets_its_likely_reason(sectors: int, sector_bytes: int, code: str) -> None:
    assert code in codes(sectors, sector_bytes)


def test_a_standard_count_needs_no_reason() -> None:
    assert codes(sectors_for(2000)) == []
    assert codes(sectors_for(2000), printed=2000) == []


def test_a_label_that_promises_twice_as_much_may_be_forged() -> None:
    assert {"clipped", "forged"} <= set(codes(sectors_for(500), printed=2000))


def test_a_disk_larger_than_its_label_is_said_too() -> None:
    assert "forged" in codes(sectors_for(2000), printed=500)


def test_a_disk_clipped_by_a_protected_area_says_how_much_is_hidden() -> None:
    (reason, *_) = judge(sectors_for(500) - 2113).reasons
    assert "1.0 MB (1.0 MiB) short of 500 GB" in reason.sentence


@pytest.mark.parametrize(
    ("size", "text"),
    [
        (0, "0 B"),
        (999, "999 B"),
        (1000, "1.0 kB (1000 B)"),
        (500_107_862_016, "500.1 GB (465.7 GiB)"),
        (999_999_999_999, "999.9 GB (931.3 GiB)"),
        (12_000_138_625_024, "12.0 TB (10.9 TiB)"),
    ],
)
def test_sizes_read_in_both_units_and_are_never_rounded_up(size: int, text: str) -> None:
    assert words(size) == text
    assert capacity.units(size).bytes == size
