"""What is taken in as a picture, what is refused with a sentence, and what is left of what hides in a file."""

from __future__ import annotations

import gzip
import io
import struct
import zlib
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFile

from labcases.custody.photos import pictures
from labcases.custody.photos.pictures import NotAPicture, take_in
from tests.photographs import BLUE, RED, photograph, saved, scene, with_everything

KINDS = {"JPEG": "JPEG", "PNG": "PNG", "WebP": "WEBP"}


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def png(width: int, height: int, data: bytes = b"") -> bytes:
    """A PNG of these dimensions by its header (W3C PNG, third edition, 11.2.1), whatever its data holds."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_is_known_by_its_content_and_shown_as_a_bounded_jpeg(kind):
    data = saved(scene(3000, 1000), KINDS[kind])
    taken = take_in(data)
    assert (taken.kind, taken.width, taken.height, taken.size) == (kind, 3000, 1000, len(data))
    assert opened(taken.shown).size == (2560, 853)
    assert opened(taken.thumb).size == (320, 107)
    assert {opened(copy).format for copy in (taken.shown, taken.thumb)} == {"JPEG"}


def test_a_small_picture_is_not_blown_up():
    assert opened(take_in(photograph()).shown).size == (120, 80)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_that_hides_in_a_file_is_in_the_copies(kind):
    data = with_everything(scene(400, 300), KINDS[kind])
    assert b"Orrin Vale" in data
    taken = take_in(data)
    for copy in (taken.shown, taken.thumb):
        assert b"Orrin" not in copy
        assert set(opened(copy).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_the_cameras_own_time_is_read_and_a_broken_one_is_passed_over():
    assert str(take_in(with_everything(scene())).camera_time) == "2026-11-25 09:14:02"
    broken = with_everything(scene()).replace(b"2026:11:25 09:14:02", b"2026:99:25 09:14:02")
    assert take_in(broken).camera_time is None


def test_what_is_clear_is_shown_on_white():
    taken = take_in(saved(Image.new("RGBA", (40, 30), (0, 0, 0, 0)), "PNG"))
    assert opened(taken.shown).getpixel((20, 15)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16", "CMYK", "YCbCr"])
def test_every_way_of_holding_pixels_is_taken_in(mode):
    kind = "JPEG" if mode in ("CMYK", "YCbCr") else "PNG"
    picture = Image.new(mode, (50, 40)) if mode == "I;16" else scene(50, 40).convert(mode)
    assert opened(take_in(saved(picture, kind)).shown).mode == "RGB"


def test_a_phones_several_pictures_in_one_jpeg_give_the_first():
    data = saved(scene(200, 100), "MPO", save_all=True, append_images=[Image.new("RGB", (20, 10))])
    assert (take_in(data).width, take_in(data).height) == (200, 100)


def test_colours_of_another_profile_are_brought_to_srgb():
    """A profile whose red and green are swapped: what says red in the file is green in sRGB."""
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    swapped = profile.replace(b"rXYZ", b"tmp!").replace(b"gXYZ", b"rXYZ").replace(b"tmp!", b"gXYZ")
    taken = take_in(saved(Image.new("RGB", (30, 30), (200, 0, 0)), "PNG", icc_profile=swapped))
    red, green, _ = opened(taken.shown).getpixel((15, 15))
    assert green > 150 > 80 > red


REFUSED = {
    "an empty file": (b"", "empty"),
    "a text": (b"Dear lab, attached is the photo.", "no photo"),
    "an SVG": (b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>', "SVG"),
    "an SVG behind a byte order mark": (b"\xef\xbb\xbf  <SVG onload='1'>", "SVG"),
    "a page": (b"<!doctype html><title>x</title>", "a text"),
    "a program": (b"MZ\x90\x00" + bytes(200), "program"),
    "a program of another system": (b"\x7fELF\x02\x01\x01" + bytes(200), "program"),
    "a script": (b"#!/bin/sh\nrm -r x\n", "program"),
    "a PDF": (b"%PDF-1.7\n", "PDF"),
    "an archive": (b"PK\x03\x04" + bytes(40), "archive"),
    "a packed picture": (gzip.compress(photograph()), "archive"),
    "a GIF": (saved(scene(), "GIF"), "GIF"),
    "a TIFF": (saved(scene(), "TIFF"), "TIFF"),
    "a HEIC photo": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC"),
    "an AVIF": (b"\0\0\0\x18ftypavif\0\0\0\0avifmif1", "AVIF"),
    "a film": (b"\0\0\0\x18ftypisom\0\0\0\0isommp42", "film"),
    "a JPEG that is none": (b"\xff\xd8\xff\xe0 and then nothing of the kind", "cannot be read"),
    "a PNG whose data is missing": (png(40, 30), "cut off"),
    "a PNG of 65,000 by 65,000 pixels": (png(65_000, 65_000, zlib.compress(bytes(1000))), "50 megapixels"),
    "a PNG without pixels": (png(0, 30), "cannot be read"),
}


@pytest.mark.parametrize(("data", "word"), REFUSED.values(), ids=REFUSED.keys())
def test_what_is_no_picture_is_refused_with_a_sentence(data, word):
    with pytest.raises(NotAPicture, match=word) as said:
        take_in(data)
    assert str(said.value).endswith(".")


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_that_was_cut_off_on_the_way_is_refused(kind, monkeypatch):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as the library that sets papers leaves it
    data = saved(scene(600, 400, "label"), KINDS[kind])
    with pytest.raises(NotAPicture):
        take_in(data[: len(data) // 2])


def test_a_file_that_is_too_large_is_refused_before_it_is_opened(monkeypatch):
    monkeypatch.setattr(pictures, "MOST_BYTES", 1000)
    with pytest.raises(NotAPicture, match="MB"):
        take_in(photograph())


@pytest.mark.parametrize(("side", "fits"), [((8192, 6144), True), ((8200, 6200), False)])
def test_a_camera_of_fifty_megapixels_is_the_largest(side, fits):
    """8192 × 6144 is the full size of sensors sold as 50 megapixels (from memory)."""
    data = png(*side, zlib.compress(b""))
    with pytest.raises(NotAPicture, match="cut off" if fits else "50 megapixels"):
        take_in(data)


def test_a_webp_bomb_is_refused_without_being_unfolded():
    data = saved(Image.new("RGB", (16_383, 16_383)), "WEBP", lossless=True, method=0, quality=0)
    assert len(data) < 100_000
    with pytest.raises(NotAPicture, match="50 megapixels"):
        take_in(data)


def test_a_jpeg_of_thousands_of_passes_is_refused():
    data = saved(scene(), progressive=True)
    many = data[:-2] + b"\xff\xda\x00\x08\x01\x01\x00\x00\x00\x00" * 5000 + data[-2:]
    with pytest.raises(NotAPicture, match="passes"):
        take_in(many)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from([b"", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF....WEBPVP8 "]), st.binary(max_size=400))
def test_random_bytes_raise_nothing_but_a_sentence(start, rest):
    with suppress(NotAPicture):
        take_in(start + rest)


WHOLE = {kind: with_everything(scene(60, 40), form, orientation=6) for kind, form in KINDS.items()}


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(sorted(WHOLE)), st.data())
def test_a_damaged_picture_is_taken_in_or_refused_and_nothing_else(kind, data):
    whole = bytearray(WHOLE[kind])
    for _ in range(data.draw(st.integers(1, 8))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    with suppress(NotAPicture):
        taken = take_in(bytes(whole[: data.draw(st.integers(1, len(whole)))]))
        assert max(opened(taken.shown).size) <= pictures.SHOWN_SIDE


def test_orientation_stands_the_scene_upright():
    turned = scene(120, 80).transpose(Image.Transpose.ROTATE_90)
    taken = take_in(with_everything(turned, orientation=6))
    shown = opened(taken.shown)
    assert (shown.size, taken.width, taken.height) == ((120, 80), 120, 80)
    assert max(abs(a - b) for a, b in zip(shown.getpixel((10, 8)), RED, strict=True)) < 40
    assert max(abs(a - b) for a, b in zip(shown.getpixel((110, 8)), BLUE, strict=True)) < 40
