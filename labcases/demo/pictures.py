"""Photographs of media that never were, drawn by code: a casing, a printed label, a bench beneath."""

from __future__ import annotations

import io
import random
from collections.abc import Sequence

from PIL import Image, ImageDraw, ImageFilter, ImageFont

from labcases.lab.symbols import code128_modules

SIZE = (1600, 1200)
_WOOD, _STEEL, _PAPER, _INK = (104, 88, 70), (172, 176, 180), (246, 244, 236), (28, 32, 36)


def label_photo(lines: Sequence[str], *, serial: str, dice: random.Random) -> bytes:
    """A JPEG of a drive's label, a little askew and softly lit, as a phone would take it."""
    picture = Image.new("RGB", SIZE, _WOOD)
    casing = _casing(lines, serial)
    turned = casing.rotate(dice.uniform(-4, 4), expand=True, fillcolor=_WOOD, resample=Image.Resampling.BICUBIC)
    picture.paste(turned, (dice.randrange(60, 180), dice.randrange(40, 130)))
    light = Image.radial_gradient("L").resize(SIZE).point(lambda v: 235 - v // 3)
    lit = Image.composite(picture, Image.new("RGB", SIZE, (20, 18, 16)), light)
    out = io.BytesIO()
    lit.filter(ImageFilter.GaussianBlur(0.7)).save(out, "JPEG", quality=82)
    return out.getvalue()


def _casing(lines: Sequence[str], serial: str) -> Image.Image:
    casing = Image.new("RGB", (1300, 940), _STEEL)
    draw = ImageDraw.Draw(casing)
    for x, y in ((45, 45), (1255, 45), (45, 895), (1255, 895), (650, 45), (650, 895)):
        draw.ellipse((x - 22, y - 22, x + 22, y + 22), fill=(120, 124, 128), outline=(90, 94, 98), width=3)
    draw.rounded_rectangle((120, 110, 1180, 830), 18, fill=_PAPER)
    top = 150
    for size, line in zip((84, 56, 44, 44, 44), lines, strict=False):
        draw.text((170, top), line, fill=_INK, font=ImageFont.load_default(size))
        top += size + 34
    _bars(draw, serial, (170, 640))
    draw.text((170, 745), f"S/N {serial}", fill=_INK, font=ImageFont.load_default(48))
    return casing


def _bars(draw: ImageDraw.ImageDraw, text: str, at: tuple[int, int]) -> None:
    left, top = at
    for n, module in enumerate(code128_modules(text)):
        if module == "1":
            draw.rectangle((left + 4 * n, top, left + 4 * n + 3, top + 84), fill=_INK)
