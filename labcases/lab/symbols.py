"""Scannable symbols as plain SVG: QR (ISO/IEC 18004) and Code 128 (ISO/IEC 15417).

What is encoded is the text given, nothing added; pass what ``core.codes`` says a symbol holds. The drawing is one
path on a light ground, quiet zone included, measured in modules: no size, no style attribute, so it may stand in a
page under a strict content-security policy, and prints at any size.

>>> qr_svg("LC2600417D")[:73]
'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 29 29" role="img" ar'
>>> len(code128_modules("LC2600417D"))
134
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from html import escape
from itertools import groupby

import segno
from barcode.codex import Code128
from barcode.errors import BarcodeError

QR_QUIET = 4  # modules on each side: ISO/IEC 18004
CODE128_QUIET = 10  # modules on each side: ISO/IEC 15417
CODE128_HEIGHT = 40  # modules; the drawing may be stretched upwards freely
STRETCH = ' preserveAspectRatio="none"'

Matrix = Sequence[Sequence[int]]
Point = tuple[int, int]


class NoSymbol(ValueError):
    """This text cannot be held by this kind of symbol."""


def qr_matrix(text: str) -> Matrix:
    """Rows of modules, 1 dark and 0 light, without quiet zone; error level M or better where it costs nothing."""
    if not text:
        raise NoSymbol("A QR symbol cannot be empty.")
    try:
        return tuple(tuple(row) for row in segno.make_qr(text, error="m").matrix)
    except (segno.DataOverflowError, ValueError) as error:
        raise NoSymbol("A QR symbol cannot hold this text: it is too long.") from error


def code128_modules(text: str) -> str:
    """The bars as a string of 1 (dark) and 0 (light), start to stop, without quiet zones."""
    if not text:
        raise NoSymbol("A Code 128 symbol cannot be empty.")
    if not text.isascii():
        raise NoSymbol("A Code 128 symbol holds plain ASCII characters only.")
    try:
        return str(Code128(text).build()[0])
    except BarcodeError as error:
        raise NoSymbol("A Code 128 symbol cannot hold this text.") from error


def qr_svg(text: str) -> str:
    """A QR symbol as SVG, one unit a module. Raises NoSymbol."""
    matrix = qr_matrix(text)
    side = len(matrix) + 2 * QR_QUIET
    return _svg(f"QR symbol {text}", side, side, _outline(_dark(matrix, QR_QUIET)))


def code128_svg(text: str) -> str:
    """A Code 128 symbol as SVG, one unit a module wide; may be stretched to any height. Raises NoSymbol."""
    modules = code128_modules(text)
    path, x = [], CODE128_QUIET
    for bit, run in groupby(modules):
        width = len(list(run))
        if bit == "1":
            path.append(f"M{x} 0h{width}v{CODE128_HEIGHT}h-{width}z")
        x += width
    return _svg(f"Code 128 symbol {text}", x + CODE128_QUIET, CODE128_HEIGHT, "".join(path), stretch=True)


def svg_data_uri(svg: str) -> str:
    """The SVG as an address for ``<img src>``."""
    return "data:image/svg+xml;base64," + b64encode(svg.encode()).decode("ascii")


def _svg(label: str, width: int, height: int, path: str, *, stretch: bool = False) -> str:
    # The ground is drawn too: on a dark page the quiet zone must stay light.
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="{escape(label)}"{STRETCH if stretch else ""}>'
        f'<rect width="{width}" height="{height}" fill="#fff"/><path d="{path}"/></svg>'
    )


def _dark(matrix: Matrix, offset: int) -> set[Point]:
    return {(x + offset, y + offset) for y, row in enumerate(matrix) for x, module in enumerate(row) if module}


def _outline(dark: set[Point]) -> str:
    """The edge of the dark area as closed lines, so that no hairline shows between neighbouring modules.

    Each dark cell gives its four sides clockwise; a side shared by two dark cells cancels out. What is left is
    chained end to start; inner edges run the other way, so holes stay light under the non-zero fill rule.
    """
    sides: dict[Point, list[Point]] = {}
    for start, end in _open_sides(dark):
        sides.setdefault(start, []).append(end)
    path = []
    while sides:
        start = min(sides)
        corners, here = [start], _next(sides, start)
        while here != start:
            corners.append(here)
            here = _next(sides, here)
        path.append(_closed(corners))
    return "".join(path)


def _open_sides(dark: set[Point]) -> Iterable[tuple[Point, Point]]:
    for x, y in sorted(dark):
        if (x, y - 1) not in dark:
            yield (x, y), (x + 1, y)
        if (x + 1, y) not in dark:
            yield (x + 1, y), (x + 1, y + 1)
        if (x, y + 1) not in dark:
            yield (x + 1, y + 1), (x, y + 1)
        if (x - 1, y) not in dark:
            yield (x, y + 1), (x, y)


def _next(sides: dict[Point, list[Point]], here: Point) -> Point:
    ends = sides[here]
    end = ends.pop()
    if not ends:
        del sides[here]
    return end


def _closed(corners: list[Point]) -> str:
    """One closed line with straight stretches joined."""
    steps: list[tuple[str, int]] = []
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        axis, length = ("h", x1 - x0) if y0 == y1 else ("v", y1 - y0)
        if steps and steps[-1][0] == axis and (steps[-1][1] > 0) == (length > 0):
            length += steps.pop()[1]
        steps.append((axis, length))
    return f"M{corners[0][0]} {corners[0][1]}" + "".join(f"{axis}{length}" for axis, length in steps[:-1]) + "z"
