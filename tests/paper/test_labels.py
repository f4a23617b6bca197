from __future__ import annotations

from io import BytesIO

import pikepdf
import pytest

from labcases.core.codes import printed, symbol, with_check
from labcases.paper import labels, papers
from labcases.paper.labels import ROLLS, SHEETS, SIZES, Label
from tests.paper.sample import ISSUED, LAB

SHEET, ROLL = SHEETS["a4-3x8"], ROLLS["roll-57x32"]


def some(count: int) -> list[Label]:
    bodies = [with_check(f"2600417P{n}") for n in range(1, count + 1)]
    return [Label(printed(body), symbol(body), "Marsh Lane Choir", "2.5″ disk") for body in bodies]


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
def test_no_label_lies_outside_its_page_or_on_another(size: labels.LabelSize) -> None:
    taken = []
    for number in range(size.per_page):
        left, top = size.place(number)
        assert left >= 0
        assert top >= 0
        assert left + size.width <= size.page[0] + 0.01
        assert top + size.height <= size.page[1] + 0.01
        for other_left, other_top in taken:
            assert abs(left - other_left) >= size.width or abs(top - other_top) >= size.height - 0.001
        taken.append((left, top))


def test_a_sheet_lies_in_the_middle_of_its_page() -> None:
    for size in SHEETS.values():
        right, bottom = (
            edge + length for edge, length in zip(size.place(size.per_page - 1), (size.width, size.height), strict=True)
        )
        assert size.page[0] - right == pytest.approx(size.left, abs=0.1)
        assert size.page[1] - bottom == pytest.approx(size.top, abs=0.1)


def test_a_begun_sheet_goes_on_at_its_first_free_place() -> None:
    first, second = labels.pages(some(5), SHEET, first=22)
    assert [one.place for one in first] == [22, 23, 24]
    assert [one.place for one in second] == [1, 2]


@pytest.mark.parametrize("first", [0, -1, 25])
def test_a_first_place_that_is_not_on_the_sheet_is_refused(first: int) -> None:
    with pytest.raises(ValueError, match="1 to 24"):
        labels.pages(some(1), SHEET, first=first)


def test_on_a_roll_every_label_is_a_page() -> None:
    assert [len(page) for page in labels.pages(some(3), ROLL)] == [1, 1, 1]


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
@pytest.mark.parametrize("body", ["2600417", "2600417P12C3", "D00017P2", "2600417A1", "26123456P10"])
def test_symbols_are_whole_printer_dots_and_fit_their_label(size: labels.LabelSize, body: str) -> None:
    code = with_check(body)
    drawn = labels.draw(Label(printed(code), symbol(code)), size, 1)
    assert drawn.qr_side / labels.DOT == pytest.approx(drawn.qr_dots)
    assert drawn.qr_side + labels.BARS_HEIGHT + 2 * labels.EDGE <= size.height
    assert drawn.bars_width <= size.width - 2 * size.edge


def test_a_code_too_long_for_a_label_is_refused() -> None:
    narrow = labels.LabelSize("narrow", "a narrow label", 20, 32, (20, 32))
    with pytest.raises(labels.LabelTooSmall, match="Choose a wider label"):
        labels.pages(some(1), narrow)


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
def test_labels_print_on_pages_of_their_size(size: labels.LabelSize, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(papers.Profile, "current", lambda: LAB)
    pdf = papers.label_sheet(some(size.per_page + 1), size, title="Labels", language="en", issued=ISSUED)
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert len(opened.pages) == 2
        for page in opened.pages:
            wide, high = (float(edge) / 72 * 25.4 for edge in list(page.MediaBox)[2:])
            assert (wide, high) == (pytest.approx(size.page[0], abs=0.1), pytest.approx(size.page[1], abs=0.1))
