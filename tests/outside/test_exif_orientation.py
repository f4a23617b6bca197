"""The eight orientations of EXIF tag 0x0112, and that no metadata is left.

Source of the eight cases: CIPA DC-008 (Exif 2.32), 4.6.5 A Orientation: 1 row 0 top, column 0 left; 2 top, right;
3 bottom, right; 4 bottom, left; 5 left, top; 6 right, top; 7 right, bottom; 8 left, bottom. Read back by exiftool, an
independent reader, where it is installed.
"""

from __future__ import annotations

import io
import json
import shutil
import subprocess

import pytest
from PIL import Image

from labcases.custody.photos.pictures import take_in
from tests.photographs import BLUE, RED, scene, with_everything

EXIFTOOL = shutil.which("exiftool")
needs_exiftool = pytest.mark.skipif(EXIFTOOL is None, reason="exiftool is not installed")
WIDTH, HEIGHT = 120, 80

# Where row 0 and column 0 of the stored pixels stand in the scene, as the standard words it: (row 0, column 0).
CASES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}
# What exiftool calls the same eight values (its documented print conversion, from memory).
WORDS = {
    1: "Horizontal (normal)",
    2: "Mirror horizontal",
    3: "Rotate 180",
    4: "Mirror vertical",
    5: "Mirror horizontal and rotate 270 CW",
    6: "Rotate 90 CW",
    7: "Mirror horizontal and rotate 90 CW",
    8: "Rotate 270 CW",
}


def stored(orientation: int) -> Image.Image:
    """The pixels a camera stores for the upright scene, made pixel by pixel from the standard's words."""
    upright = scene(WIDTH, HEIGHT)
    row0, column0 = CASES[orientation]
    across = row0 in ("left", "right")  # the stored rows are columns of the scene
    made = Image.new("RGB", (HEIGHT, WIDTH) if across else (WIDTH, HEIGHT))
    for row in range(made.height):
        for column in range(made.width):
            along, down = (row, column) if across else (column, row)
            x_start, y_start = (row0, column0) if across else (column0, row0)
            x = along if x_start == "left" else WIDTH - 1 - along
            y = down if y_start == "top" else HEIGHT - 1 - down
            made.putpixel((column, row), upright.getpixel((x, y)))
    return made


def tags(data: bytes) -> dict[str, str]:
    read = subprocess.run([EXIFTOOL, "-json", "-a", "-G", "-"], input=data, capture_output=True, check=True)
    return json.loads(read.stdout)[0]


@pytest.mark.parametrize("orientation", CASES)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_scene_stands_upright_however_the_camera_was_held(orientation, kind):
    taken = take_in(with_everything(stored(orientation), kind, orientation))
    shown = Image.open(io.BytesIO(taken.shown))
    assert (shown.size, taken.width, taken.height) == ((WIDTH, HEIGHT), WIDTH, HEIGHT)
    for place, colour in (((10, 8), RED), ((WIDTH - 10, 8), BLUE)):
        assert max(abs(a - b) for a, b in zip(shown.getpixel(place), colour, strict=True)) < 40


@needs_exiftool
@pytest.mark.parametrize("orientation", CASES)
def test_the_cases_say_what_they_are_meant_to_say(orientation):
    assert tags(with_everything(stored(orientation), "JPEG", orientation))["EXIF:Orientation"] == WORDS[orientation]


@needs_exiftool
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_exiftool_finds_no_metadata_in_the_copies(kind):
    before = tags(with_everything(stored(6), kind, 6))
    assert {"EXIF:GPSLatitude", "EXIF:Artist", "EXIF:DateTimeOriginal"} <= set(before)
    taken = take_in(with_everything(stored(6), kind, 6))
    for copy in (taken.shown, taken.thumb):
        groups = {name.partition(":")[0] for name in tags(copy)} - {"SourceFile"}
        assert groups <= {"File", "JFIF", "Composite", "ExifTool"}, groups
        assert "File:Comment" not in tags(copy)
