"""The picture as shapes: nothing rare is lost, and no state is colour alone at any width."""

from __future__ import annotations

import pytest

from labcases.bench.charts import progress
from labcases.bench.coverage import Coverage
from labcases.bench.drawing import PAPER, lay_out, swatch
from labcases.bench.forecast import theil_sen
from labcases.bench.picture import Area, Lane, draw


def sheet(*rows: tuple[int, int, str], total: int = 1_000_000_000, **about: object):
    return lay_out(draw(Coverage.from_rows(total, rows), **about), key="k")  # type: ignore[arg-type]


def test_one_unreadable_sector_of_a_billion_is_a_line_and_a_mark_above_the_lane() -> None:
    drawn = sheet((0, 500_000_000, "read"), (900_000_000, 1, "unreadable"))
    danger = [shape for shape in drawn.shapes if shape.css == "stroke-danger"]
    assert [shape.width for shape in danger] == ["1", "1"]
    assert danger[0].d.startswith("M798.5 ")  # column 738 of 820, its middle, behind 60 pixels of names


@pytest.mark.parametrize(
    ("state", "wide", "narrow"),
    [
        ("doubtful", "url(#doubtful-k)", "url(#doubtful-k)"),
        ("skipped", "url(#skipped-k)", ""),
        ("left_out", "url(#left_out-k)", ""),
        ("unreadable", "url(#unreadable-k)", ""),
    ],
)
def test_what_is_wide_has_its_texture_and_doubtful_keeps_it_when_narrow(state: str, wide: str, narrow: str) -> None:
    fills = {shape.fill for shape in sheet((0, 300_000_000, state)).shapes}
    assert wide in fills
    thin = list(sheet((0, 1_000_000, state), (1_000_000, 999_000_000, "read")).shapes)
    assert narrow in {shape.fill for shape in thin}
    assert (wide in {shape.fill for shape in thin}) == (wide == narrow)


def test_a_long_name_is_cut_to_its_bracket_and_kept_whole_for_the_reader() -> None:
    name = "Recordings of the whole of last winter"
    drawn = sheet(areas=[Area(name, 0, 100_000_000, wanted=True)])
    assert any(label.words.startswith("Record") and label.words.endswith("…") for label in drawn.labels)
    assert f"{name}  wanted" in {shape.title for shape in drawn.shapes}


def test_each_head_has_its_lane_with_its_name() -> None:
    drawn = sheet((0, 10, "read"), lanes=[Lane("head 0", [(0, 9)]), Lane("head 1", [(9, 9)])])
    assert [label.words for label in drawn.labels][:2] == ["head 0", "head 1"]


def test_on_paper_no_class_of_the_screen_is_needed() -> None:
    for state in ("read", "doubtful", "skipped", "unreadable", "left_out", "unreached"):
        assert not any(shape.css for shape in swatch(state, key="k", ink=PAPER).shapes)


def test_a_chart_has_a_line_a_band_and_its_count() -> None:
    points = [(n / 6, 1_000 * n + 40 * (n % 3)) for n in range(12)]
    rate = theil_sen([hour for hour, _ in points], [count for _, count in points])
    drawn = progress(points, rate, left=50_000)
    assert drawn is not None
    assert "12 readings" in {label.words for label in drawn.labels}
    assert {shape.dashes for shape in drawn.shapes} == {"", "5 4"}
    assert {shape.opacity for shape in drawn.shapes} == {"", ".25"}


@pytest.mark.parametrize("points", [[], [(0.0, 5)], [(1.0, 5), (1.0, 9)]])
def test_a_chart_of_too_little_is_not_drawn(points: list[tuple[float, int]]) -> None:
    assert progress(points, None, left=9) is None
