"""Fitting against the sector counts of IDEMA LBA1-02/03 and SFF-8447 (sources stand in vectors/lba_count.json).

Two media of one printed size hold the same bytes if both follow the standard, whatever their sector size; the one
size at which the two rules could be mixed up, and counts of real media that follow no rule, show why printed
gigabytes are never compared.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labcases.stock.fitting import Need, Room, State, fits

CASES = json.loads((Path(__file__).parent / "vectors" / "lba_count.json").read_text("utf-8"))["cases"]
COUNTS = {(c["advertised_gb"], c["logical_sector"]): c["lba_count"] for c in CASES if "lba_count" in c}
BOTH = sorted(gb for gb, size in COUNTS if size == 4096 and (gb, 512) in COUNTS)


def answer(need_sectors: int, need_size: int, sectors: int, size: int):
    return fits(Need(need_sectors, need_size, "26-00041"), Room("S-1", sectors, size, State.NEW))


@pytest.mark.parametrize("gigabytes", BOTH)
def test_the_same_printed_size_fits_exactly_across_sector_sizes(gigabytes):
    small, large = COUNTS[gigabytes, 512], COUNTS[gigabytes, 4096]
    there, back = answer(small, 512, large, 4096), answer(large, 4096, small, 512)
    assert (there.fits, there.spare_bytes, there.translation) == (True, 0, (512, 4096))
    assert (back.fits, back.spare_bytes, back.translation) == (True, 0, (4096, 512))
    assert not answer(small + 1, 512, large, 4096).fits


def test_enough_sizes_were_compared():
    assert len(BOTH) >= 3


def test_8000_gigabytes_by_the_wrong_rule_would_be_too_small():
    boundary = next(case for case in CASES if "boundary" in case)
    refused = answer(boundary["low_rule"], 512, boundary["high_rule_would_give"], 512)
    assert not refused.fits
    assert refused.spare_bytes == 512 * (boundary["high_rule_would_give"] - boundary["low_rule"])


def test_a_real_count_that_follows_no_rule_does_not_fit_its_own_printed_size():
    # 23 440 115 664 sectors on a medium sold as 12 TB: a public question, serveraide.com item 15082.
    assert not answer(23_440_115_664, 512, COUNTS[12_000, 512], 512).fits
