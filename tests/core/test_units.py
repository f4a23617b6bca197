"""Sizes in words. Prefixes after IEC 80000-13: k, M, G are powers of 1000, Ki, Mi, Gi of 1024."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.core import units


@pytest.mark.parametrize(
    ("size", "said"),
    [
        (0, "0 bytes"),
        (1, "1 byte"),
        (999, "999 bytes"),
        (1000, "1 kB"),
        (34_000, "34 kB"),
        (999_949, "999.9 kB"),
        (999_950, "1 MB"),  # rounding carries into the next prefix
        (500_107_862_016, "500.1 GB"),
        (4_000_787_030_016, "4 TB"),
        (10**21, "1,000 EB"),
    ],
)
def test_decimal_prefixes(size, said):
    assert units.si(size) == said


@pytest.mark.parametrize(
    ("size", "said"), [(1023, "1,023 bytes"), (1024, "1 KiB"), (2**20 - 1, "1 MiB"), (2**39, "512 GiB")]
)
def test_binary_prefixes(size, said):
    assert units.binary(size) == said


@given(st.integers(min_value=1000, max_value=10**20))
def test_what_is_said_is_within_a_twentieth_of_a_prefix_of_the_truth(size):
    number, prefix = units.si(size).split(" ")
    step = 1000 ** (["kB", "MB", "GB", "TB", "PB", "EB"].index(prefix) + 1)
    assert abs(float(number.replace(",", "")) * step - size) <= 0.0501 * step
    assert 1 <= float(number.replace(",", "")) < 1000


def test_a_count_carries_its_unit():
    assert units.counted(976_773_168, "sector") == "976,773,168 sectors"
    assert units.counted(1, "sector") == "1 sector"
