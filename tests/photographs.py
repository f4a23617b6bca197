"""Photographs drawn by code: nothing in them is real."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image, ImageDraw

RED, BLUE, GREY = (176, 46, 23), (36, 64, 142), (200, 200, 196)
LAB_LATITUDE = ((51.0, 28.0, 40.0), "N")


def scene(width: int = 120, height: int = 80, text: str = "") -> Image.Image:
    """Grey, with a red corner top left and a blue one top right, so that one sees how it was turned."""
    picture = Image.new("RGB", (width, height), GREY)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, 0, width // 4, height // 4), fill=RED)
    pen.rectangle((width - width // 4, 0, width, height // 4), fill=BLUE)
    if text:
        pen.text((width // 3, height // 2), text, fill=(0, 0, 0))
    return picture


def saved(picture: Image.Image, kind: str = "JPEG", **how: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **how)
    return out.getvalue()


def photograph(text: str = "label", **size: int) -> bytes:
    """A JPEG; another text is another file."""
    return saved(scene(text=text, **size), quality=90)


def with_everything(picture: Image.Image, kind: str = "JPEG", orientation: int = 1) -> bytes:
    """With EXIF (place, owner, maker's note, time), XMP where the format has it, a comment and a profile."""
    from PIL import ImageCms

    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x013B] = orientation, "Pelorus Optics", "Orrin Vale"
    exif.get_ifd(0x8769).update({0x9003: "2026:11:25 09:14:02", 0x927C: b"maker's note", 0x9286: b"ASCII\0\0\0hidden"})
    (degrees, north), gps = LAB_LATITUDE, exif.get_ifd(0x8825)
    gps.update({1: north, 2: degrees, 3: "W", 4: (1.0, 2.0, 3.0)})
    how: dict[str, Any] = {
        "exif": exif,
        "icc_profile": ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
    }
    if kind != "PNG":
        how["xmp"] = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><dc:creator>Orrin Vale</dc:creator></x:xmpmeta>'
    if kind == "JPEG":
        how["comment"] = b"written by Orrin Vale"
    return saved(picture, kind, **how)
