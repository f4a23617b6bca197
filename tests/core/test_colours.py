"""The colours of both schemes, held to the contrast that WCAG 2.2 asks for.

Source: WCAG 2.2, https://www.w3.org/TR/WCAG22/ — definitions "relative luminance" and "contrast ratio", success
criteria 1.4.3 (text, 4.5:1) and 1.4.11 (edges and graphics, 3:1). The formula is written here from memory of those
definitions and first proved on the two ratios WCAG's own understanding pages are known for.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TOKENS = (Path(__file__).parents[2] / "static/css/tokens.css").read_text(encoding="utf-8")
GROUNDS = ("paper", "sheet", "lifted")
VOICES = ("ink", "soft", "do", "danger", "wait", "read")
ON_FILL = (("do-ink", "do"), ("danger-ink", "danger"))


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def scheme(name: str) -> dict[str, str]:
    light, dark = TOKENS.split("@media (prefers-color-scheme: dark)")
    colours = dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6})", light))
    assert len(colours) >= 14  # a pattern that found nothing would pass for ever
    if name == "dark":
        own = dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6})", dark))
        assert own.keys() == colours.keys(), "each colour has a dark twin"
        return own
    return colours


def test_the_formula_gives_the_published_ratios():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") < 4.5 <= contrast("#767676", "#ffffff")  # the well-known edge of grey


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("voice", VOICES)
def test_every_word_can_be_read_on_every_ground(name, ground, voice):
    colours = scheme(name)
    assert contrast(colours[voice], colours[ground]) >= 4.5


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize(("voice", "fill"), ON_FILL)
def test_what_stands_on_a_filled_button_can_be_read(name, voice, fill):
    colours = scheme(name)
    assert contrast(colours[voice], colours[fill]) >= 4.5


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("edge", ["edge", "rule", "do"])  # edges of fields and buttons, ruled lines, the focus ring
def test_edges_that_mean_something_stand_out(name, ground, edge):
    colours = scheme(name)
    assert contrast(colours[edge], colours[ground]) >= 3


def test_no_other_stylesheet_of_the_pages_names_a_colour_of_its_own():
    pieces = (Path(__file__).parents[2] / "static/css/docket.css").read_text(encoding="utf-8")
    screen = pieces.split("@media print")[0]
    assert re.findall(r"#[0-9a-f]{3,8}\b", screen) == ["#fff"]  # the white round a printed symbol
