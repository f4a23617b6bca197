"""The fields and the form every room uses."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django import forms
from django.utils import timezone

from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.core.refused import Refused

NOW = datetime(2026, 3, 2, 12, 0, 30, tzinfo=UTC)


@pytest.fixture
def at_noon():
    with time_machine.travel(NOW, tick=False), timezone.override(ZoneInfo("Asia/Kolkata")):
        yield


def _said(field: forms.Field, typed: str) -> str:
    with pytest.raises(forms.ValidationError) as wrong:
        field.clean(typed)
    return " ".join(wrong.value.messages)


# --- lines, prose, counts


def test_a_line_loses_control_characters_and_stray_blanks() -> None:
    assert LineField().clean(" Orrin\x00 \t Vale\n") == "Orrin Vale"


def test_other_alphabets_stay() -> None:
    assert LineField().clean("ਗੁਰਪ੍ਰੀਤ") == "ਗੁਰਪ੍ਰੀਤ"


def test_a_line_of_nothing_but_control_characters_is_empty() -> None:
    assert "required" in _said(LineField(), "\x00\u202e ")


def test_a_line_has_a_longest_length_in_characters() -> None:
    assert "300" in _said(LineField(), "x" * 301)


def test_prose_keeps_its_lines() -> None:
    assert ProseField().clean("one\r\n two\x07\r\n") == "one\ntwo"


@pytest.mark.parametrize("typed", ["976 773 168", "976,773,168", "976_773_168", "976'773'168", "976\u202f773\u202f168"])
def test_group_marks_in_a_count_are_read_over(typed: str) -> None:
    assert CountField().clean(typed) == 976_773_168


@pytest.mark.parametrize("typed", ["-1", "1.5", "ten", "0x10", "9" * 5000, str(2**53), "1,,2"])
def test_what_is_no_count_is_refused(typed: str) -> None:
    assert _said(CountField(), typed)


# --- when it happened


def test_nothing_said_means_now(at_noon: None) -> None:
    assert HappenedField().clean("") == NOW


def test_a_late_entry_is_kept_in_the_labs_zone(at_noon: None) -> None:
    assert HappenedField().clean("2026-03-01T09:15") == datetime(2026, 3, 1, 3, 45, tzinfo=UTC)


def test_a_page_opened_a_minute_ago_means_now(at_noon: None) -> None:
    assert HappenedField().clean("2026-03-02T17:29") == NOW


def test_the_future_is_refused(at_noon: None) -> None:
    assert "future" in _said(HappenedField(), "2026-03-02T17:36")


def test_a_clock_that_runs_a_little_fast_is_no_future(at_noon: None) -> None:
    assert HappenedField().clean("2026-03-02T17:34") == NOW


@pytest.mark.parametrize("typed", ["0001-01-01T00:00", "1026-03-02T12:00", "2026-02-30T12:00", "yesterday", "\x00"])
def test_what_is_no_moment_of_ours_is_refused(typed: str, at_noon: None) -> None:
    assert _said(HappenedField(), typed)


def test_an_hour_that_the_clocks_skip_or_repeat_is_asked_again() -> None:
    with time_machine.travel(NOW), timezone.override(ZoneInfo("Europe/London")):
        assert "Europe/London" in _said(HappenedField(), "2025-10-26T01:30")
        assert "Europe/London" in _said(HappenedField(), "2025-03-30T01:30")


# --- the form


class Sample(LabForm):
    name = LineField(label="Name")
    kind = forms.CharField(label="Kind", error_messages={"required": "Say what it is."})


def test_an_empty_field_is_named_unless_it_has_words_of_its_own() -> None:
    form = Sample({})
    assert form.errors == {"name": ["Name is needed."], "kind": ["Say what it is."]}


def test_each_blank_form_has_a_key_of_its_own() -> None:
    first, second = (Sample()["once"].value() for _ in range(2))
    assert first
    assert first != second


def test_the_key_that_was_sent_is_the_key_of_the_form() -> None:
    form = Sample({"name": "x", "kind": "y", "once": "8a8a8a8a-0000-4000-8000-000000000001"})
    assert form.is_valid()
    assert str(form.key) == "8a8a8a8a-0000-4000-8000-000000000001"


def test_a_spoiled_key_is_said_and_not_passed_over() -> None:
    form = Sample({"name": "x", "kind": "y", "once": "not-a-key"})
    assert not form.is_valid()
    assert "once" in form.errors


def test_a_refusal_stands_on_top_and_nothing_typed_is_lost() -> None:
    form = Sample({"name": "x", "kind": "y"})
    assert form.is_valid()
    form.add_refusal(Refused("Taken.", why=["By Ada."], mend="Choose another."))
    assert form.non_field_errors() == ["Taken.", "By Ada.", "Choose another."]
    assert form["name"].value() == "x"
