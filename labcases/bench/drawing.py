"""The coverage picture as shapes that a template draws: textures and colour, so that no state is colour alone.

Unreached is bare paper, read is solid ink, doubtful is ink stripes, skipped is hatched, unreadable is cross-hatched,
left out is dotted. A block too narrow for its texture is drawn in the state's plain colour (stripes run across, so
that doubtful keeps them at any width). All blocks of a state in a lane are one path, so a picture stays small.

On the screen the colours come from the page's style sheet by class (dark scheme included); on paper they stand in the
drawing, in greys that a black and white printer keeps apart.

>>> from labcases.bench.picture import Lane, draw
>>> from labcases.bench.coverage import Coverage
>>> disk = Coverage.from_rows(1_000, [(0, 500, "read"), (900, 1, "unreadable")])
>>> sheet = lay_out(draw(disk, columns=100, height=24, lanes=[Lane("head 0", [(0, 1_000)])]), key="a")
>>> [(shape.css, shape.d) for shape in sheet.shapes if shape.css == "fill-read"]
[('fill-read', 'M60 34h50v24h-50z')]
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labcases.bench.picture import Block, Bracket, DrawnLane, Picture

LEFT, RIGHT, GAP, LEVEL, TICK = 60, 20, 12, 22, 5
NARROW = 4  # pixels: below that a texture is not seen
LETTER = 6.7  # width of a letter of the code face at 11 pixels
STATE_WORDS = {
    "read": "read",
    "doubtful": "doubtful",
    "unreadable": "unreadable",
    "skipped": "skipped",
    "left_out": "left out for now",
    "unreached": "unreached",
}


@dataclass(frozen=True, slots=True)
class Pen:
    """How something is drawn: a class of the style sheet, or a fill and a stroke."""

    css: str = ""
    fill: str = ""
    stroke: str = ""


@dataclass(frozen=True, slots=True)
class Ink:
    """What a drawing is drawn with."""

    sheet: Pen
    read: Pen
    skipped: Pen
    left_out: Pen
    danger: Pen  # a line
    edge: Pen
    bracket: Pen
    pointer: Pen
    line: Pen
    font: str = ""  # of words, where no style sheet says it


SCREEN = Ink(
    sheet=Pen("fill-sheet"), read=Pen("fill-read"), skipped=Pen("fill-wait"), left_out=Pen("fill-soft"),
    danger=Pen("stroke-danger"), edge=Pen("lane", "none"), bracket=Pen("bracket"), pointer=Pen("pointer"),
    line=Pen("stroke-ink"),
)  # fmt: skip
PAPER = Ink(
    sheet=Pen(fill="#fff"), read=Pen(fill="#333"), skipped=Pen(fill="#777"), left_out=Pen(fill="#999"),
    danger=Pen(fill="none", stroke="#000"), edge=Pen(fill="none", stroke="#111"),
    bracket=Pen(fill="none", stroke="#4a4a4a"), pointer=Pen(fill="#000"), line=Pen(fill="none", stroke="#111"),
    font="Atkinson Hyperlegible Mono",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shape:
    """A path: how it is drawn, its outline, and for lines their width."""

    css: str
    fill: str
    stroke: str
    d: str
    width: str = ""
    title: str = ""
    dashes: str = ""
    opacity: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place; ``anchor`` is start, middle or end."""

    x: str
    y: str
    words: str
    anchor: str = "start"


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole drawing; ``key`` makes the ids of its textures its own on a page of several."""

    width: str
    height: str
    key: str
    ink: Ink
    shapes: Sequence[Shape]
    labels: Sequence[Label]
    textures: bool = True


def shape(pen: Pen, d: str, width: str = "", **about: str) -> Shape:
    return Shape(pen.css, pen.fill, pen.stroke, d, width, **about)


def lay_out(picture: Picture, *, key: str, ink: Ink = SCREEN) -> Sheet:
    """The drawing of a picture."""
    levels = max((bracket.level for bracket in picture.brackets), default=-1) + 1
    top = levels * LEVEL + GAP if levels else 34
    step = picture.height + GAP + TICK
    bottom = top + step * len(picture.lanes)
    shapes: list[Shape] = []
    labels: list[Label] = []
    for bracket in picture.brackets:
        shapes.append(_bracket(bracket, levels, ink))
        labels += _bracket_name(bracket, levels)
    for at, lane in enumerate(picture.lanes):
        y = top + at * step
        labels.append(Label("0", str(y + picture.height // 2 + 4), lane.name))
        shapes += _lane(lane, picture, y, key, ink)
    if picture.pointer is not None:
        x = LEFT + picture.pointer
        shapes.append(shape(ink.pointer, f"M{x} {bottom - TICK - 8}l5 9h-10z", title="the reading stands here"))
    last = picture.first + max(picture.sectors - 1, 0)
    labels.append(Label(str(LEFT), str(bottom + 8), f"{picture.first:,}"))
    labels.append(Label(str(LEFT + picture.columns), str(bottom + 8), f"{last:,}", "end"))
    return Sheet(str(LEFT + picture.columns + RIGHT), str(bottom + 18), key, ink, shapes, labels)


def swatch(state: str, *, key: str, ink: Ink = SCREEN, alone: bool = False) -> Sheet:
    """A small sample of a state's texture, for the legend; the drawing of the same key must stand on the page.

    ``alone`` when it must not lean on that drawing: it then brings the textures with it.
    """
    block = "M0.5 0.5h17v11h-17z"
    shapes = [shape(_pen(state, True, key, ink), block), shape(ink.edge, block, ".6")]
    return Sheet("18", "12", key, ink, shapes, (), textures=alone)


def _pen(state: str, wide: bool, key: str, ink: Ink) -> Pen:
    """How a block of a state is filled; what is narrow and unreadable is drawn as a line instead (``_lane``)."""
    plain = {"read": ink.read, "unreached": ink.sheet}
    narrow = {"skipped": ink.skipped, "left_out": ink.left_out}
    if state in plain:
        return plain[state]
    return narrow[state] if not wide and state in narrow else Pen(fill=f"url(#{state}-{key})")


def _lane(lane: DrawnLane, picture: Picture, y: int, key: str, ink: Ink) -> Iterator[Shape]:
    for state in STATE_WORDS:
        for wide in (True, False):
            blocks = [b for b in lane.blocks if b.state == state and (b.width >= NARROW) == wide]
            if blocks and state == "unreadable" and not wide:
                yield from _lines(blocks, y, ink)
            elif blocks:
                outline = "".join(f"M{LEFT + b.x} {y + b.y}h{b.width}v{b.height}h-{b.width}z" for b in blocks)
                yield shape(_pen(state, wide, key, ink), outline)
    if lane.ticks:
        marks = "".join(f"M{LEFT + t.x} {y - TICK}h{t.width}v{TICK - 2}h-{t.width}z" for t in lane.ticks)
        yield shape(ink.danger, marks, "1")
    yield shape(ink.edge, f"M{LEFT} {y}h{picture.columns}v{picture.height}h-{picture.columns}z", ".6")


def _lines(blocks: list[Block], y: int, ink: Ink) -> Iterator[Shape]:
    for width in sorted({block.width for block in blocks}):
        upright = "".join(f"M{LEFT + b.x + b.width / 2:g} {y + b.y}v{b.height}" for b in blocks if b.width == width)
        yield shape(ink.danger, upright, str(width))


def _bracket(bracket: Bracket, levels: int, ink: Ink) -> Shape:
    y = (levels - bracket.level) * LEVEL
    x, end = LEFT + bracket.x, LEFT + bracket.x + bracket.width
    return shape(ink.bracket, f"M{x} {y + 6}V{y}H{end}V{y + 6}", title=_name(bracket))


def _bracket_name(bracket: Bracket, levels: int) -> Iterator[Label]:
    room, name = int((bracket.width + RIGHT) / LETTER), _name(bracket)
    shown = name if len(name) <= room else f"{name[: room - 1]}…" if room > 2 else ""
    if shown:
        yield Label(str(LEFT + bracket.x), str((levels - bracket.level) * LEVEL - 6), shown)


def _name(bracket: Bracket) -> str:
    return f"{bracket.name}{'  wanted' if bracket.wanted else ''}"
