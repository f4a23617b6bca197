from __future__ import annotations

import re

import pytest

from labcases.cases.stages import Stage
from labcases.updates import defaults, wordings
from labcases.updates.wordings import BadWording, fill, gaps_in, still_open

EVERY_GAP = {name: f"<{name}>" for name in wordings.GAPS}


def test_a_gap_is_filled_with_what_is_known() -> None:
    assert fill("Dear {owner}!", {"owner": "Orrin Vale"}).text == "Dear Orrin Vale!"


def test_an_unknown_gap_is_refused_by_its_name() -> None:
    with pytest.raises(BadWording, match=r"no gap \{colour\}"):
        fill("The {colour} one", {})


@pytest.mark.parametrize("sneaky", ["{owner.name}", "{owner!r}", "{0}", "{}", "{owner:>9}", "{ __class__ }"])
def test_a_gap_is_a_name_and_nothing_more(sneaky: str) -> None:
    with pytest.raises(BadWording):
        gaps_in(sneaky)


@pytest.mark.parametrize("text", ["Dear {owner", "Dear owner}", "{{owner}", "a } b"])
def test_a_lone_brace_is_refused(text: str) -> None:
    with pytest.raises(BadWording, match="type it twice"):
        fill(text, {"owner": "Orrin"})


def test_a_doubled_brace_is_a_brace() -> None:
    assert fill("{{owner}} is {owner}", {"owner": "Orrin"}).text == "{owner} is Orrin"


def test_braces_in_a_value_are_no_gaps() -> None:
    assert fill("Dear {owner}", {"owner": "{case} {{x}}"}).text == "Dear {case} {{x}}"


@pytest.mark.parametrize("value", ["", None])
def test_a_missing_value_is_reported_and_seen_in_the_text(value: str | None) -> None:
    filled = fill("By {promised}, {promised}.", {"promised": value} if value is not None else {})
    assert filled.missing == ("promised",)
    assert still_open(filled.text) == ["day that was promised"] * 2


@pytest.mark.parametrize("value", ["[[x]]", "[[[x]]]", "]][["])
def test_a_customers_own_brackets_are_no_spot_to_be_written(value: str) -> None:
    assert still_open(fill("{wanted} and {owner}", {"wanted": value, "owner": value}).text) == []


@pytest.mark.parametrize("name", ["Žofie Ólafsdóttir", "ਗੁਰਪ੍ਰੀਤ ਕੌਰ", "李小龍", "علی رضا"])
def test_any_alphabet_comes_through_unchanged(name: str) -> None:
    assert fill("{owner}", {"owner": name}).text == name


def test_what_was_filled_once_fills_to_itself() -> None:
    for default in defaults.DEFAULTS:
        text = fill(default.body, EVERY_GAP).text
        assert fill(text.replace("{", "{{").replace("}", "}}"), {}).text == text


@pytest.mark.parametrize("default", defaults.DEFAULTS, ids=lambda default: default.key)
def test_a_default_greets_signs_and_has_only_known_gaps(default: defaults.Default) -> None:
    gaps = gaps_in(default.body)
    assert gaps[0] == "reader"
    assert gaps[-1] == "signature"
    assert set(gaps_in(default.subject)) <= {"case"}
    assert len(fill(default.subject, EVERY_GAP).text) <= 200


@pytest.mark.parametrize("default", defaults.DEFAULTS, ids=lambda default: default.key)
def test_a_default_promises_no_percentage_and_blames_nobody(default: defaults.Default) -> None:
    assert not re.search(r"\d\s*%|percent|your fault|you should have|guarantee", default.body, re.IGNORECASE)


def test_every_moment_of_the_trade_has_a_wording() -> None:
    """Common practice, no source: receipt, examination, authority, donor ordered, copy finished, something wrong,
    ready, release, end of keeping, nothing for a week; and the advice that always holds."""
    moments = {"received", "examined", "authorised", "part-ordered", "copied", "trouble", "ready", "released"}
    assert moments | {"keeping-ends", "quiet", "advice"} <= set(defaults.BY_KEY)


def test_what_fits_a_stage_is_a_stage_and_a_wording() -> None:
    assert set(defaults.FITTING) <= {stage.value for stage in Stage}
    assert set(defaults.FITTING.values()) <= set(defaults.BY_KEY)
