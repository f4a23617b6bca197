"""Labels: where they lie on a sheet or a roll, and how large their symbols may be drawn. All lengths in millimetres.

Sheet sizes are what blank label sheets are commonly cut to (common practice, no source). Modules of a symbol are
whole dots of a 300 dpi printer, so that no bar is a dot wider than its twin.

>>> SHEETS["a4-3x8"].place(4)
(70.0, 40.5)
>>> dots_that_fit(29, 15.0)
6
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labcases.lab.symbols import CODE128_QUIET, QR_QUIET, code128_modules, code128_svg, qr_matrix, qr_svg, svg_data_uri

DOT = 25.4 / 300
EDGE = 1.5  # kept free on each side of a label: printers and cutters are not that exact
PAGE_EDGE = 4.5  # office printers leave about this much of a page bare (common practice, no source)
FEWEST_DOTS = 2  # 0.17 mm a module: below that hand scanners give up (common practice, no source)
BARS_HEIGHT = 8.0
BETWEEN = 1.0  # between the QR symbol and the bars


class LabelTooSmall(ValueError):
    """The symbol of this code cannot be printed readably on this label."""


@dataclass(frozen=True)
class LabelSize:
    """One label and how labels lie on a page. On a roll every label is a page of its own."""

    key: str
    words: str
    width: float
    height: float
    page: tuple[float, float]
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    gap: float = 0.0  # between columns
    edge: float = EDGE  # left and right in each label

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def place(self, number: int) -> tuple[float, float]:
        """Left and top of label ``number`` (0 is the first), counted along the rows."""
        row, column = divmod(number, self.columns)
        return round(self.left + column * (self.width + self.gap), 3), round(self.top + row * self.height, 3)


A4, LETTER = (210.0, 297.0), (215.9, 279.4)
SHEETS = {
    size.key: size
    for size in (
        LabelSize("a4-3x8", "A4 sheet, 3 × 8 labels of 70 × 36 mm", 70, 36, A4, 3, 8, 0, 4.5, edge=PAGE_EDGE),
        LabelSize("a4-2x7", "A4 sheet, 2 × 7 labels of 99.1 × 38.1 mm", 99.1, 38.1, A4, 2, 7, 4.65, 15.15, 2.5),
        LabelSize(
            "letter-2x7", "Letter sheet, 2 × 7 labels of 4 × 1⅓ in", 101.6, 33.867, LETTER, 2, 7, 3.97, 21.16, 4.76
        ),
        LabelSize(
            "letter-3x10", "Letter sheet, 3 × 10 labels of 2⅝ × 1 in", 66.675, 25.4, LETTER, 3, 10, 4.76, 12.7, 3.175
        ),
    )
}
ROLLS = {
    size.key: size
    for size in (
        LabelSize("roll-57x32", "Roll, 57 × 32 mm", 57, 32, (57, 32)),
        LabelSize("roll-89x36", "Roll, 89 × 36 mm", 89, 36, (89, 36)),
    )
}
SIZES = SHEETS | ROLLS


@dataclass(frozen=True)
class Label:
    """What one label says: the printed code, what its symbols hold, and two lines for a person."""

    code: str
    symbol: str
    first_line: str = ""
    second_line: str = ""


@dataclass(frozen=True)
class Drawn:
    """A label in its place on a page (1 is the first), with its symbols as picture addresses and their sizes."""

    label: Label
    place: int
    qr: str
    qr_side: float
    bars: str
    bars_width: float

    @property
    def qr_dots(self) -> int:
        """Names the drawn size in the stylesheet."""
        return round(self.qr_side / DOT)

    @property
    def bars_dots(self) -> int:
        return round(self.bars_width / DOT)


def dots_that_fit(modules: int, room: float) -> int:
    """The most printer dots a module may have, for ``modules`` of them in ``room`` millimetres."""
    return int(room / (modules * DOT) + 1e-9)


def draw(label: Label, size: LabelSize, place: int) -> Drawn:
    """Both symbols, as large as whole dots allow. Raises LabelTooSmall or lab.symbols.NoSymbol."""
    qr_modules = len(qr_matrix(label.symbol)) + 2 * QR_QUIET
    bar_modules = len(code128_modules(label.symbol)) + 2 * CODE128_QUIET
    qr_dots = dots_that_fit(qr_modules, min(size.height - 2 * EDGE - BETWEEN - BARS_HEIGHT, 0.3 * size.width))
    bar_dots = dots_that_fit(bar_modules, size.width - 2 * size.edge)
    if min(qr_dots, bar_dots) < FEWEST_DOTS:
        raise LabelTooSmall(
            f"The symbol of {label.code} cannot be printed readably on {size.words}. Choose a wider label."
        )
    return Drawn(
        label,
        place,
        svg_data_uri(qr_svg(label.symbol)),
        qr_modules * qr_dots * DOT,
        svg_data_uri(code128_svg(label.symbol)),
        bar_modules * bar_dots * DOT,
    )


def pages(labels: Sequence[Label], size: LabelSize, first: int = 1) -> list[list[Drawn]]:
    """Labels page by page; on a sheet that was begun, ``first`` is the first free place (1 is top left)."""
    if not 1 <= first <= size.per_page:
        raise ValueError(f"The first free place is 1 to {size.per_page} on {size.words}.")
    sheets: list[list[Drawn]] = []
    for number, label in enumerate(labels, start=first - 1):
        sheet, place = divmod(number, size.per_page)
        if sheet == len(sheets):
            sheets.append([])
        sheets[sheet].append(draw(label, size, place + 1))
    return sheets


def page_css(size: LabelSize, sheets: Sequence[Sequence[Drawn]]) -> str:
    """The stylesheet of one run of labels: page, places, and the sizes of the symbols on them."""
    drawn = [one for sheet in sheets for one in sheet]
    rules = [
        f"@page labels {{ size: {size.page[0]}mm {size.page[1]}mm; margin: 0 }}",
        f".sheet {{ width: {size.page[0]}mm; height: {size.page[1]}mm }}",
        f".label {{ width: {size.width}mm; height: {size.height}mm }}",
        f".label-top {{ margin: {EDGE}mm {size.edge}mm 0 }}",
        f".label-bars {{ left: {size.edge}mm; bottom: {EDGE}mm; height: {BARS_HEIGHT}mm }}",
    ]
    for number in range(size.per_page):
        left, top = size.place(number)
        rules.append(f".place-{number + 1} {{ left: {left}mm; top: {top}mm }}")
    rules += sorted({f".qr-{one.qr_dots} {{ width: {one.qr_side:.4f}mm }}" for one in drawn})
    rules += sorted({f".bars-{one.bars_dots} {{ width: {one.bars_width:.4f}mm }}" for one in drawn})
    return "\n".join(rules)
