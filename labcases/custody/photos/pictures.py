"""A picture as it arrives, made fit to be shown: known by its content, straight, bounded, with nothing hidden in it.

What is shown later is always made here anew from the pixels, so that no location, maker's note, small preview or
program travels with it. The file that arrived is judged and never altered; whoever calls keeps it as it is.

How one is taken in: the first bytes say the format, and the reader of that format alone is asked (no other reader of
Pillow ever sees the file); the declared size is checked before a pixel is decoded; a JPEG is decoded at the smallest of
its own scales that is still large enough (1/1, 1/2, 1/4, 1/8), which bounds memory; the orientation of the camera
(EXIF tag 0x0112, CIPA DC-008) is applied to the small copy; colours are brought to sRGB (IEC 61966-2-1).
"""

from __future__ import annotations

import hashlib
import io
import re
import struct
import zlib
from dataclasses import dataclass, field
from datetime import datetime

from PIL import Image, ImageCms, JpegImagePlugin, PngImagePlugin, WebPImagePlugin
from PIL import ImageFile as image_file
from PIL.ImageFile import ImageFile

MOST_BYTES = 30_000_000
MOST_PIXELS = 50_400_000  # "50 megapixels" of a camera are up to 8192 × 6144
MOST_SCANS = 150  # a progressive JPEG has about ten; each further one costs a pass over all pixels
TOO_LARGE = "Up to 50 megapixels can be taken in. Set the camera to a smaller size."
SHOWN_SIDE, THUMB_SIDE = 2560, 320  # pixels, the longer side
SHOWN_QUALITY, THUMB_QUALITY = 85, 80
WHITE = (255, 255, 255)

READERS: dict[str, type[ImageFile]] = {
    "JPEG": JpegImagePlugin.JpegImageFile,
    "PNG": PngImagePlugin.PngImageFile,
    "WebP": WebPImagePlugin.WebPImageFile,
}
# What a reader may raise on a file that was cut, mixed up or made to harm.
BROKEN = (
    OSError, SyntaxError, ValueError, EOFError, LookupError, TypeError, AttributeError, ArithmeticError, MemoryError,
    NotImplementedError, AssertionError, RuntimeError, struct.error, zlib.error, UserWarning,
)  # fmt: skip
ORIENTATION, TAKEN_AT, DETAILS = 0x0112, 0x9003, 0x8769
# EXIF orientation: what to do to the stored pixels so that they stand as the scene stood.
STRAIGHTEN = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class NotAPicture(ValueError):
    """A file that is not taken in; ``str(error)`` is a sentence that says why and what to do instead."""


@dataclass(frozen=True)
class Taken:
    """A picture that was taken in.

    ``original`` is the SHA-256 (hex) of the file as it arrived, ``size`` its bytes, ``width`` and ``height`` its pixels
    as the scene stood, ``shown`` and ``thumb`` JPEG files without any metadata, ``camera_time`` what the camera's own
    clock said (no zone; it may be wrong) or None.
    """

    original: str
    kind: str
    width: int
    height: int
    size: int
    shown: bytes = field(repr=False)
    thumb: bytes = field(repr=False)
    camera_time: datetime | None = None


def take_in(data: bytes) -> Taken:
    """Judge a file and make the copies that are shown of it.

    Raises NotAPicture with a sentence, and nothing else, whatever the bytes are.
    """
    if len(data) > MOST_BYTES:
        raise NotAPicture(f"It has {_mb(len(data))} MB; up to {_mb(MOST_BYTES)} MB can be taken in. Send it smaller.")
    image_file.LOAD_TRUNCATED_IMAGES = False  # the library that sets papers turns it on for the whole process
    kind = kind_of(data)
    image = _opened(data, kind)
    declared, (turn, camera_time) = image.size, _from_the_camera(image)
    try:
        shown = _plain(image, SHOWN_SIDE)
    except BROKEN:
        raise NotAPicture(f"This {kind} is broken or was cut off on the way. Send it again.") from None
    del image  # its pixels would stay in memory while the copies are written
    if turn in STRAIGHTEN:
        shown = shown.transpose(STRAIGHTEN[turn])
    width, height = reversed(declared) if turn >= 5 else declared
    return Taken(
        original=hashlib.sha256(data).hexdigest(),
        kind=kind,
        width=width,
        height=height,
        size=len(data),
        shown=_jpeg(shown, SHOWN_QUALITY),
        thumb=_jpeg(_within(shown, THUMB_SIDE), THUMB_QUALITY),
        camera_time=camera_time,
    )


def _opened(data: bytes, kind: str) -> ImageFile:
    """The header read, no pixel yet. Raises NotAPicture, also for what would be too much to decode."""
    if kind == "JPEG" and data.count(b"\xff\xda") > MOST_SCANS:
        raise NotAPicture("This JPEG is built up in far more passes than a camera makes. Take the photo again.")
    try:
        image = READERS[kind](io.BytesIO(data))
    except Image.DecompressionBombError:
        raise NotAPicture(TOO_LARGE) from None
    except BROKEN:
        raise NotAPicture(f"It begins like a {kind} and cannot be read. Take the photo again.") from None
    _see_that_it_is_bounded(*image.size)
    return image


# --- what it is ------------------------------------------------------------------------------------------------------

_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"\xca\xfe\xba\xbe", "a program"),
    (b"\xcf\xfa\xed\xfe", "a program"),
    (b"#!", "a program"),
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "an archive or a document"),
    (b"\x1f\x8b", "an archive"),
    (b"GIF8", "a GIF"),
    (b"II*\x00", "a TIFF or a raw photo"),
    (b"MM\x00*", "a TIFF or a raw photo"),
    (b"BM", "a BMP"),
)
_BOXES = {  # major brand of an ISO/IEC 14496-12 file
    **dict.fromkeys((b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"), "a HEIC photo"),
    **dict.fromkeys((b"avif", b"avis"), "an AVIF"),
}
_MARKUP = re.compile(rb"<(?:\?xml|!doctype|!--|svg|html|script|[a-z]+:svg)[\s>]?", re.IGNORECASE)
WANTED = "Photos are taken in as JPEG, PNG or WebP."


def kind_of(data: bytes) -> str:
    """JPEG, PNG or WebP by the first bytes; the name of a file says nothing. Raises NotAPicture."""
    if not data:
        raise NotAPicture("It is empty. Send it again.")
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    raise NotAPicture(f"It is {_other(data)}. {WANTED}")


def _other(data: bytes) -> str:
    if data[4:8] == b"ftyp":
        return _BOXES.get(data[8:12].lower(), "a film")
    if _MARKUP.match(data[:400].lstrip(b"\xef\xbb\xbf \t\r\n\x00")):
        return "an SVG or another text" if b"svg" in data[:4000].lower() else "a text"
    return next((words for start, words in _OTHERS if data.startswith(start)), "no photo")


def _see_that_it_is_bounded(width: int, height: int) -> None:
    """Before anything is decoded: a small file may declare more pixels than any memory holds."""
    if width < 1 or height < 1:
        raise NotAPicture("It has no pixels. Take the photo again.")
    if width * height > MOST_PIXELS:
        raise NotAPicture(f"It has {width:,} × {height:,} pixels. {TOO_LARGE}")


def _mb(count: int) -> int:
    return -(-count // 1_000_000)


# --- what the camera says --------------------------------------------------------------------------------------------


def _from_the_camera(image: ImageFile) -> tuple[int, datetime | None]:
    """Orientation (1 when nothing sensible is said) and the camera's own time."""
    try:
        said = image.getexif()
        turn, when = said.get(ORIENTATION, 1), said.get_ifd(DETAILS).get(TAKEN_AT)
    except BROKEN:
        return 1, None
    return (turn if isinstance(turn, int) and 1 <= turn <= 8 else 1), _camera_time(when)


def _camera_time(text: object) -> datetime | None:
    """``2026:11:25 09:14:02`` as EXIF writes it."""
    try:
        return datetime.strptime(str(text).strip("\x00 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


# --- the copies ------------------------------------------------------------------------------------------------------


def _plain(image: ImageFile, side: int) -> Image.Image:
    """The pixels as a small sRGB picture on white; the whole file is read, so a cut one is found here."""
    wanted = fitting(image.size, side)
    if isinstance(image, JpegImagePlugin.JpegImageFile):
        image.draft(None, wanted)
    image.load()
    profile = image.info.get("icc_profile")
    small = _within(_resizable(image), side)
    return _flat(_in_srgb(small, profile))


def fitting(size: tuple[int, int], side: int) -> tuple[int, int]:
    """The size of the copy; a small picture stays as it is.

    >>> fitting((6000, 4000), SHOWN_SIDE), fitting((90, 60_000), THUMB_SIDE), fitting((40, 30), THUMB_SIDE)
    ((2560, 1707), (1, 320), (40, 30))
    """
    share = min(1.0, side / max(size))
    return max(1, round(size[0] * share)), max(1, round(size[1] * share))


def _resizable(image: Image.Image) -> Image.Image:
    """A mode that can be made smaller: no palettes, no single bits, eight bits a channel."""
    if image.mode.startswith("I"):  # sixteen bits of grey
        return image.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    if image.mode in ("P", "PA") or "transparency" in image.info:
        return image.convert("RGBA")
    return image.convert("L") if image.mode in ("1", "F") else image


def _within(image: Image.Image, side: int) -> Image.Image:
    size = fitting(image.size, side)
    if size == image.size:
        return image
    whole = min(image.width // size[0], image.height // size[1])
    if whole >= 4:  # the mean of whole squares first: fast, and needs no second large copy
        image = image.reduce(whole // 2)
    return image.resize(size, Image.Resampling.LANCZOS)


def _in_srgb(image: Image.Image, profile: object) -> Image.Image:
    """Colours as the camera meant them; a profile that cannot be read or is of another kind is passed over."""
    if not isinstance(profile, bytes) or image.mode not in ("RGB", "L", "CMYK"):
        return image
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        made = ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, *BROKEN):
        return image
    return made or image


def _flat(image: Image.Image) -> Image.Image:
    if image.mode in ("RGBA", "LA", "RGBa", "La"):
        clear = image.convert("RGBA")
        ground = Image.new("RGB", image.size, WHITE)
        ground.paste(clear, mask=clear.getchannel("A"))
        return ground
    return image if image.mode == "RGB" else image.convert("RGB")


def _jpeg(image: Image.Image, quality: int) -> bytes:
    """A JPEG of the pixels alone: what the original said beside them (comment, EXIF, profile) is dropped first."""
    image.info = {}
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return out.getvalue()
