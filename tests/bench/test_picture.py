from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.bench.coverage import CODES, STATES, BadSpan, Coverage
from labcases.bench.picture import Area, Block, Lane, Picture, Tick, count_columns, draw

TOTAL = 120
GIGA = 1_000_000_000

row = st.integers(0, TOTAL).flatmap(
    lambda first: st.tuples(st.just(first), st.integers(0, TOTAL - first), st.sampled_from(STATES))
)
coverages = st.lists(row, max_size=15).map(lambda rows: Coverage.from_rows(TOTAL, rows))


def states_in_column(picture: Picture, column: int, lane: int = 0) -> dict[str, int]:
    """State to height, of what is drawn in one pixel column."""
    return {b.state: b.height for b in picture.lanes[lane].blocks if b.x <= column < b.x + b.width}


def plainly_counted(coverage: Coverage, first: int, sectors: int, bins: int, own: set[int]) -> list[list[int]]:
    """Sector by sector: which column is it in, and which state has it."""
    counts = [[0] * len(STATES) for _ in range(bins)]
    for sector in range(first, first + sectors):
        column = max(b for b in range(bins) if first + b * sectors // bins <= sector)
        if sector in own:
            counts[column][CODES[coverage.state_at(sector)]] += 1
    return counts


@pytest.mark.parametrize("bad", [0, 1, 123_456_789, GIGA - 1])
def test_one_unreadable_sector_in_a_billion_is_seen(bad: int) -> None:
    disk = Coverage.from_rows(GIGA, [(0, bad, "read"), (bad + 1, GIGA - bad - 1, "read"), (bad, 1, "unreadable")])
    picture = draw(disk, columns=820, height=28)
    column = bad * 820 // GIGA
    assert states_in_column(picture, column)["unreadable"] >= 28 // 3
    assert picture.lanes[0].ticks == (Tick(column, 1),)
    told = next(row for row in picture.table if row.state == "unreadable")
    assert (told.sectors, told.percent, told.first, told.last) == (1, "under 0.01", bad, bad)


def test_an_untouched_medium_is_one_block() -> None:
    assert draw(Coverage.from_rows(GIGA), height=28).lanes[0].blocks == (Block("unreached", 0, 0, 820, 28),)


def test_six_states_in_one_column_all_find_room() -> None:
    rows = [(at, 1, state) for at, state in enumerate(STATES)]
    picture = draw(Coverage.from_rows(10**6, rows), columns=1, height=16)
    assert set(states_in_column(picture, 0)) == set(STATES)


def test_zoomed_in_a_sector_is_several_pixels_wide() -> None:
    picture = draw(Coverage.from_rows(100, [(51, 1, "read")]), first=50, sectors=4, columns=820)
    assert [(b.state, b.x, b.width) for b in picture.lanes[0].blocks] == [
        ("read", 205, 205), ("unreached", 0, 205), ("unreached", 410, 410),
    ]  # fmt: skip


def test_a_head_shows_only_its_own_sectors() -> None:
    disk = Coverage.from_rows(1000, [(0, 100, "read"), (100, 100, "unreadable")])
    heads = [Lane("head 0", [(0, 100), (200, 800)]), Lane("head 1", [(100, 100)])]
    picture = draw(disk, columns=10, lanes=heads)
    assert [b.state for b in picture.lanes[1].blocks] == ["unreadable"]
    assert picture.lanes[0].ticks == ()
    told = {(row.lane, row.state): (row.sectors, row.first, row.last) for row in picture.table if row.sectors}
    assert told[("head 0", "read")] == (100, 0, 99)
    assert told[("head 0", "unreached")] == (800, 200, 999)
    assert told[("head 1", "unreadable")] == (100, 100, 199)


def test_brackets_that_would_overlap_take_another_level() -> None:
    areas = [Area("2 · NTFS", 500, 400), Area("1 · NTFS", 0, 500), Area("recordings", 450, 100, wanted=True)]
    brackets = draw(Coverage.from_rows(1000), columns=100, areas=areas).brackets
    assert [(b.name, b.x, b.width, b.level) for b in brackets] == [
        ("1 · NTFS", 0, 50, 0), ("recordings", 45, 10, 1), ("2 · NTFS", 50, 40, 0),
    ]  # fmt: skip


def test_neighbours_that_share_one_pixel_column_stay_on_one_level() -> None:
    areas = [Area("1 · NTFS", 0, 505), Area("2 · NTFS", 505, 495)]
    assert [b.level for b in draw(Coverage.from_rows(1000), columns=100, areas=areas).brackets] == [0, 0]


def test_an_area_outside_a_zoom_has_no_bracket() -> None:
    assert draw(Coverage.from_rows(1000), first=500, areas=[Area("1 · NTFS", 0, 500)]).brackets == ()


def test_the_pointer_stands_where_is_read_and_nowhere_else() -> None:
    disk = Coverage.from_rows(1000)
    assert draw(disk, columns=100, position=999).pointer == 99
    assert draw(disk, columns=100, first=0, sectors=10, position=999).pointer is None
    assert draw(disk, columns=100).pointer is None


@pytest.mark.parametrize("asked", [{"first": 990, "sectors": 11}, {"first": -1}, {"lanes": [Lane("h", [(999, 2)])]}])
def test_what_is_not_on_the_medium_is_refused(asked: dict[str, object]) -> None:
    with pytest.raises(BadSpan):
        draw(Coverage.from_rows(1000), **asked)  # type: ignore[arg-type]


@pytest.mark.parametrize("size", [{"columns": 0}, {"height": 15}])
def test_an_impossible_size_is_refused(size: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="at least"):
        draw(Coverage.from_rows(1000), **size)  # type: ignore[arg-type]


def test_nothing_to_draw_is_drawn_as_nothing() -> None:
    picture = draw(Coverage.from_rows(0), areas=[Area("none", 0, 0)])
    assert (picture.lanes[0].blocks, picture.brackets) == ((), ())
    assert {row.sectors for row in picture.table} == {0}


def test_the_largest_medium_is_counted_exactly() -> None:
    largest = 2**63 - 1
    disk = Coverage.from_rows(largest, [(0, largest - 1, "read")])
    assert sum(row.sectors for row in draw(disk).table) == largest
    assert states_in_column(draw(disk), 819)["unreached"] > 0


@given(coverages, st.integers(0, TOTAL - 1), st.integers(1, TOTAL), st.integers(1, 40))
def test_every_column_counts_what_lies_in_it(coverage: Coverage, first: int, sectors: int, columns: int) -> None:
    sectors = min(sectors, TOTAL - first)
    bins = min(columns, sectors)
    edges = np.array([first + b * sectors // bins for b in range(bins + 1)])
    plain = plainly_counted(coverage, first, sectors, bins, set(range(TOTAL)))
    assert count_columns(coverage, edges).tolist() == plain
    by_binary_search = np.stack([coverage.count_each(s, edges[:-1], np.diff(edges)) for s in STATES], axis=1)
    assert by_binary_search.tolist() == plain


@given(coverages, st.lists(st.integers(0, TOTAL - 1), max_size=9), st.integers(1, 40))
def test_a_lane_draws_a_state_exactly_where_its_sectors_have_it(
    coverage: Coverage, starts: list[int], columns: int
) -> None:
    own = {sector for start in starts for sector in range(start, min(start + 7, TOTAL))}
    lane = Lane("head 3", [(start, min(7, TOTAL - start)) for start in starts])
    picture = draw(coverage, columns=columns, lanes=[lane])
    plain = plainly_counted(coverage, 0, TOTAL, columns, own)
    drawn = [states_in_column(picture, column) for column in range(columns)]
    assert [set(states) for states in drawn] == [{s for s in STATES if counts[CODES[s]]} for counts in plain]
    assert {row.state: row.sectors for row in picture.table} == {
        state: sum(counts[CODES[state]] for counts in plain) for state in STATES
    }


@given(coverages, st.integers(1, 300), st.integers(16, 40))
def test_blocks_fill_the_lane_without_overlap(coverage: Coverage, columns: int, height: int) -> None:
    painted = np.zeros((height, columns), np.int64)
    for block in draw(coverage, columns=columns, height=height).lanes[0].blocks:
        painted[block.y : block.y + block.height, block.x : block.x + block.width] += 1
    assert painted.min() == painted.max() == 1


@given(coverages)
def test_the_table_tells_where_a_state_is_first_and_last_met(coverage: Coverage) -> None:
    for row in draw(coverage, columns=7).table:
        spans = coverage.spans(row.state)
        told = (row.first, row.last)
        assert told == ((spans[0][0], spans[-1][0] + spans[-1][1] - 1) if spans else (None, None))
