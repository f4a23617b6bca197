"""Photographs of media that never were, drawn by code: a casing, a printed label, a bench beneath."""

from __future__ import annotations

import io
import random
from collections.abc import Sequence

from PIL import Image, ImageDraw, ImageFont

from labcases.lab.symbols import code128_modules

SIZE = (800, 600)
_WOOD, _STEEL, _PAPER, _INK = (104, 88, 70), (172, 176, 180), (246, 244, 236), (28, 32, 36)


def label_photo(lines: Sequence[str], *, serial: str, dice: random.Random) -> bytes:
    """A JPEG of a drive's label, a little askew and softly lit, as a phone would take it."""
    picture = Image.new("RGB", SIZE, _WOOD)
    casing = _casing(lines, serial).reduce(2)
    turned = casing.rotate(dice.uniform(-4, 4), expand=True, fillcolor=_WOOD, resample=Image.Resampling.BICUBIC)
    picture.paste(turned, (dice.randrange(30, 90), dice.randrange(20, 65)))
    light = Image.radial_gradient("L").point(lambda v: 235 - v // 3).resize(SIZE)
    return _jpeg(Image.composite(picture, Image.new("RGB", SIZE, (20, 18, 16)), light))


def _jpeg(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=82)
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


def open_disk_photo(*, ring: float, dice: random.Random) -> bytes:
    """A JPEG of an opened disk: a platter, the arm over it, a dull ring at this share of its radius (0: none)."""
    picture = Image.new("RGB", (1600, 1200), (70, 72, 76))
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle((180, 90, 1420, 1110), 60, fill=_STEEL)
    middle, radius = (720, 600), 450
    for share, tone in ((1.0, 210), (0.99, 196), (0.3, 150), (0.16, 92)):
        _round(draw, middle, radius * share, fill=(tone, tone + 3, tone + 6))
    for n in range(9 if ring else 0):
        _round(draw, middle, radius * ring + n - 4, outline=(118 + dice.randrange(12),) * 3, width=1)
    draw.line((1290, 1000, 1010, 690), fill=(58, 60, 64), width=34)
    draw.polygon((1010, 690, 1024, 676, 985, 640), fill=(34, 36, 40))
    _round(draw, (1290, 1000), 70, fill=(96, 98, 102))
    light = Image.radial_gradient("L").point(lambda v: 235 - v // 3).resize(picture.size)
    return _jpeg(Image.composite(picture, Image.new("RGB", picture.size, (20, 18, 16)), light).reduce(2))


def _round(draw: ImageDraw.ImageDraw, at: tuple[int, int], radius: float, **how: object) -> None:
    x, y = at
    draw.ellipse((x - radius, y - radius, x + radius, y + radius), **how)  # type: ignore[arg-type]


def signed_form(lines: Sequence[str], *, dice: random.Random) -> bytes:
    """A JPEG of a form as the scanner at the counter gives it: ruled lines of print, and a hand's stroke below."""
    sheet = Image.new("RGB", (1240, 1600), (250, 249, 245))
    draw = ImageDraw.Draw(sheet)
    top = 120
    for size, line in zip((56, *[30] * 24), lines, strict=False):
        draw.text((130, top), line, fill=_INK, font=ImageFont.load_default(size))
        top += size + 28
    draw.line((130, 1400, 760, 1400), fill=(120, 120, 120), width=2)
    stroke = [(150 + 26 * n, 1360 + dice.randrange(-46, 30)) for n in range(20)]
    draw.line(stroke, fill=(24, 40, 110), width=5, joint="curve")
    out = io.BytesIO()
    sheet.save(out, "JPEG", quality=70)
    return out.getvalue()


def logo() -> bytes:
    """A PNG of the invented lab's sign: a quay, and three waves under it."""
    sign = Image.new("RGB", (320, 320), (255, 255, 255))
    draw = ImageDraw.Draw(sign)
    draw.rectangle((40, 60, 280, 84), fill=(18, 78, 84))
    for left in (70, 150, 230):
        draw.rectangle((left, 84, left + 20, 190), fill=(18, 78, 84))
    for top in (180, 220, 260):
        for left in range(40, 280, 60):
            draw.arc((left, top, left + 60, top + 36), 0, 180, fill=(18, 78, 84), width=8)
    out = io.BytesIO()
    sign.save(out, "PNG", optimize=True)
    return out.getvalue()
