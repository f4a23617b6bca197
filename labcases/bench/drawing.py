"""The coverage picture as SVG, on the screen and on paper: textures and colour, so that no state is colour alone.

Unreached is bare paper, read is solid ink, doubtful is ink stripes, skipped is hatched, unreadable is cross-hatched,
left out is dotted. A block too narrow for its texture is drawn in the state's plain colour (stripes run across, so
that doubtful keeps them at any width). All blocks of a state in a lane are one path, so a picture stays small.

On the screen the colours come from the page's style sheet by class (dark scheme included); on paper they stand in the
drawing, in greys that a black and white printer keeps apart.

>>> from labcases.bench.picture import Lane, draw
>>> from labcases.bench.coverage import Coverage
>>> disk = Coverage.from_rows(1_000, [(0, 500, "read"), (900, 1, "unreadable")])
>>> drawn = svg(draw(disk, columns=100, height=24, lanes=[Lane("head 0", [(0, 1_000)])]), key="a", says="Coverage")
>>> '<path class="fill-read" d="M60 34h50v24h-50z"/>' in drawn, "url(#unreadable-a)" in drawn
(True, False)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

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
class Ink:
    """What a drawing is drawn with: attributes of SVG elements."""

    sheet: str
    read: str
    skipped: str
    left_out: str
    danger_line: str
    read_line: str
    edge: str
    bracket: str
    pointer: str
    text: str


SCREEN = Ink(
    sheet='class="fill-sheet"', read='class="fill-read"', skipped='class="fill-wait"', left_out='class="fill-soft"',
    danger_line='class="stroke-danger"', read_line='class="stroke-read"',
    edge='class="lane" fill="none"', bracket='class="bracket"', pointer='class="pointer"', text="",
)  # fmt: skip
PAPER = Ink(
    sheet='fill="#fff"', read='fill="#333"', skipped='fill="#777"', left_out='fill="#999"',
    danger_line='stroke="#000" fill="none"', read_line='stroke="#333" fill="none"',
    edge='stroke="#111" stroke-width=".6" fill="none"',
    bracket='stroke="#4a4a4a" fill="none"', pointer='fill="#000"',
    text='font-family="Atkinson Hyperlegible Mono" font-size="11" fill="#111"',
)  # fmt: skip


def svg(picture: Picture, *, key: str, says: str, ink: Ink = SCREEN) -> str:
    """The drawing; ``key`` makes its ids its own on a page of several, ``says`` is read to who does not see it."""
    levels = max((bracket.level for bracket in picture.brackets), default=-1) + 1
    top = levels * LEVEL + GAP if levels else 34
    step = picture.height + GAP + TICK
    height = top + step * len(picture.lanes) + 18
    width = LEFT + picture.columns + RIGHT
    body = [
        f'<svg class="lanes" viewBox="0 0 {width} {height}" role="img" aria-label="{escape(says)}"'
        ' xmlns="http://www.w3.org/2000/svg">',
        _patterns(key, ink),
        *(_bracket(bracket, levels, ink) for bracket in picture.brackets),
    ]
    for at, lane in enumerate(picture.lanes):
        body += _lane(lane, picture, top + at * step, key, ink)
    body += _scale(picture, top + step * len(picture.lanes), ink)
    return "".join([*body, "</svg>"])


def swatch(state: str, *, key: str, ink: Ink = SCREEN, alone: bool = False) -> str:
    """A small sample of a state's texture, for the legend; the drawing of the same key must stand on the page.

    ``alone`` when it must not lean on that drawing: it then brings the textures with it.
    """
    block = "M0.5 0.5h17v11h-17z"
    edge = f'<path {ink.edge} d="{block}"/>'
    size = 'width="18" height="12" viewBox="0 0 18 12" aria-hidden="true"'
    own = (' xmlns="http://www.w3.org/2000/svg"', _patterns(key, ink)) if alone else ("", "")
    return f'<svg {size}{own[0]}>{own[1]}<path {_filled(state, True, key, ink)} d="{block}"/>{edge}</svg>'


def _patterns(key: str, ink: Ink) -> str:
    def pattern(state: str, drawn: str, turned: str = "") -> str:
        about = f'id="{state}-{key}" width="6" height="6" patternUnits="userSpaceOnUse"{turned}'
        return f'<pattern {about}><rect {ink.sheet} width="6" height="6"/>{drawn}</pattern>'

    return "".join(
        (
            "<defs>",
            pattern("doubtful", f'<rect {ink.read} width="6" height="3"/>'),
            pattern("skipped", f'<rect {ink.skipped} width="2.4" height="6"/>', ' patternTransform="rotate(45)"'),
            pattern("unreadable", f'<path {ink.danger_line} d="M0 0L6 6M6 0L0 6" stroke-width="1.5"/>'),
            pattern("left_out", f'<circle {ink.left_out} cx="3" cy="3" r="1.1"/>'),
            "</defs>",
        )
    )


def _filled(state: str, wide: bool, key: str, ink: Ink) -> str:
    """How a block of a state is filled; what is narrow and unreadable is drawn as a line instead (``_lane``)."""
    plain = {"read": ink.read, "unreached": ink.sheet}
    narrow = {"skipped": ink.skipped, "left_out": ink.left_out}
    if state in plain:
        return plain[state]
    return narrow[state] if not wide and state in narrow else f'fill="url(#{state}-{key})"'


def _lane(lane: DrawnLane, picture: Picture, y: int, key: str, ink: Ink) -> Iterator[str]:
    crisp = ' shape-rendering="crispEdges"'
    yield f'<text {ink.text} x="0" y="{y + picture.height // 2 + 4}">{escape(lane.name)}</text><g{crisp}>'
    for state in STATE_WORDS:
        for wide in (True, False):
            blocks = [b for b in lane.blocks if b.state == state and (b.width >= NARROW) == wide]
            if blocks and state == "unreadable" and not wide:
                yield from _lines(blocks, y, ink)
            elif blocks:
                outline = "".join(f"M{LEFT + b.x} {y + b.y}h{b.width}v{b.height}h-{b.width}z" for b in blocks)
                yield f'<path {_filled(state, wide, key, ink)} d="{outline}"/>'
    if lane.ticks:
        marks = "".join(f"M{LEFT + t.x} {y - TICK}h{t.width}v{TICK - 2}h-{t.width}z" for t in lane.ticks)
        yield f'<path {ink.danger_line} stroke-width="1" d="{marks}"/>'
    yield f'</g><path {ink.edge} d="M{LEFT} {y}h{picture.columns}v{picture.height}h-{picture.columns}z"/>'


def _lines(blocks: list[Block], y: int, ink: Ink) -> Iterator[str]:
    for width in sorted({block.width for block in blocks}):
        upright = "".join(f"M{LEFT + b.x + b.width / 2:g} {y + b.y}v{b.height}" for b in blocks if b.width == width)
        yield f'<path {ink.danger_line} stroke-width="{width}" d="{upright}"/>'


def _bracket(bracket: Bracket, levels: int, ink: Ink) -> str:
    y = (levels - bracket.level) * LEVEL
    x, end = LEFT + bracket.x, LEFT + bracket.x + bracket.width
    room = int((bracket.width + RIGHT) / LETTER)
    name = f"{bracket.name}{'  wanted' if bracket.wanted else ''}"
    shown = name if len(name) <= room else f"{name[: room - 1]}…" if room > 2 else ""
    title = f"<title>{escape(name)}</title>"
    label = f'<text {ink.text} x="{x}" y="{y - 6}">{escape(shown)}</text>' if shown else ""
    return f'<g>{title}<path {ink.bracket} d="M{x} {y + 6}V{y}H{end}V{y + 6}"/>{label}</g>'


def _scale(picture: Picture, y: int, ink: Ink) -> Iterator[str]:
    last = picture.first + max(picture.sectors - 1, 0)
    right = LEFT + picture.columns
    yield f'<text {ink.text} x="{LEFT}" y="{y + 8}">{picture.first:,}</text>'
    yield f'<text {ink.text} x="{right}" y="{y + 8}" text-anchor="end">{last:,}</text>'
    if picture.pointer is not None:
        x = LEFT + picture.pointer
        yield f'<path {ink.pointer} d="M{x} {y - TICK - 8}l5 9h-10z"><title>being read here</title></path>'
