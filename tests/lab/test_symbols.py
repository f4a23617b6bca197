from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from labcases.lab import symbols

SVG = "{http://www.w3.org/2000/svg}"
CODE = "LC2600417P1K"


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314 our own drawing


def corners(path: str) -> list[list[tuple[int, int]]]:
    """The closed lines of a path as corner points."""
    lines = []
    for line in path.split("z")[:-1]:
        start, *steps = re.findall(r"M(\d+) (\d+)|([hv])(-?\d+)", line)
        x, y = int(start[0]), int(start[1])
        points = [(x, y)]
        for _, _, axis, length in steps:
            x, y = (x + int(length), y) if axis == "h" else (x, y + int(length))
            points.append((x, y))
        lines.append(points)
    return lines


def area(points: list[tuple[int, int]]) -> float:
    """Signed, after the shoelace formula: holes run the other way and count less than nothing."""
    following = [*points[1:], points[0]]
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, following, strict=True)) / 2


@pytest.mark.parametrize("svg", [symbols.qr_svg(CODE), symbols.code128_svg(CODE)], ids=["qr", "code128"])
def test_a_symbol_is_one_path_without_size_or_style(svg: str) -> None:
    root = parsed(svg)
    assert set(root.attrib) <= {"viewBox", "role", "aria-label", "preserveAspectRatio"}
    assert [element.tag for element in root] == [f"{SVG}rect", f"{SVG}path"]
    assert "style" not in svg


def test_the_outline_of_a_qr_symbol_covers_its_dark_modules_and_nothing_else() -> None:
    path = parsed(symbols.qr_svg(CODE)).find(f"{SVG}path")
    assert path is not None
    assert sum(area(line) for line in corners(path.attrib["d"])) == sum(map(sum, symbols.qr_matrix(CODE)))


def test_the_bars_of_a_code_128_symbol_cover_its_dark_modules() -> None:
    path = parsed(symbols.code128_svg(CODE)).find(f"{SVG}path")
    assert path is not None
    covered = sum(area(line) for line in corners(path.attrib["d"]))
    assert covered == symbols.code128_modules(CODE).count("1") * symbols.CODE128_HEIGHT


def test_a_qr_symbol_keeps_four_modules_free_all_around() -> None:
    """ISO/IEC 18004 asks for four (from memory; the text of the standard was not seen)."""
    root = parsed(symbols.qr_svg(CODE))
    side = int(root.attrib["viewBox"].split()[2])
    points = [point for line in corners(root[1].attrib["d"]) for point in line]
    assert {min(x for x, _ in points), min(y for _, y in points)} == {4}
    assert {max(x for x, _ in points), max(y for _, y in points)} == {side - 4}


def test_a_code_128_symbol_keeps_ten_modules_free_on_both_sides() -> None:
    """ISO/IEC 15417 asks for ten (from memory; the text of the standard was not seen)."""
    root = parsed(symbols.code128_svg(CODE))
    width = int(root.attrib["viewBox"].split()[2])
    xs = [x for line in corners(root[1].attrib["d"]) for x, _ in line]
    assert (min(xs), max(xs)) == (10, width - 10)


def test_markup_in_the_text_stays_text() -> None:
    root = parsed(symbols.qr_svg('<b a="1">&'))
    assert root.attrib["aria-label"] == 'QR symbol <b a="1">&'


@pytest.mark.parametrize(
    ("draw", "text"),
    [
        (symbols.qr_svg, ""),
        (symbols.qr_svg, "1" * 8000),
        (symbols.code128_svg, ""),
        (symbols.code128_svg, "Žižková"),
    ],
)
def test_a_text_that_no_symbol_can_hold_is_refused_with_a_sentence(draw: object, text: str) -> None:
    with pytest.raises(symbols.NoSymbol, match=r"symbol .*\.$"):
        draw(text)  # type: ignore[operator]


def test_a_symbol_becomes_a_picture_address() -> None:
    assert symbols.svg_data_uri("<svg/>") == "data:image/svg+xml;base64,PHN2Zy8+"
