"""What people type: nothing unprintable is kept, and cleaning twice changes nothing."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from labcases.core.text import folded, folded_serial, many_lines, one_line

# Any text, and text made of what goes wrong together: accents, zero-width and direction marks, breaks, lone halves.
AWKWARD = st.text(alphabet="aeİǿß\u0301\u0323\u200b\u200d\u202e\ufeff\x00\x1f\x85\u2028\t\r\n ﬁ𝐀\ud800")
ANYTHING = st.text(max_size=60) | AWKWARD


@given(ANYTHING)
def test_a_line_holds_no_control_character(text: str) -> None:
    assert not {"Cc", "Cs", "Zl", "Zp"} & {unicodedata.category(c) for c in one_line(text)}


@given(ANYTHING)
def test_prose_holds_no_control_character_but_its_line_ends(text: str) -> None:
    kept = many_lines(text).replace("\n", "")
    assert not {"Cc", "Cs", "Zl", "Zp"} & {unicodedata.category(c) for c in kept}


@pytest.mark.parametrize("clean", [one_line, many_lines, folded, folded_serial])
@given(text=ANYTHING)
@example(text="e\u200b\u0301")
def test_cleaning_twice_changes_nothing(clean, text: str) -> None:
    assert clean(clean(text)) == clean(text)


@given(ANYTHING)
def test_a_line_is_in_normal_form_c(text: str) -> None:
    assert unicodedata.is_normalized("NFC", one_line(text))


@given(st.text(alphabet=st.characters(categories=["Ll", "Lu", "Lo", "Nd"]), min_size=1))
def test_letters_and_digits_of_any_alphabet_stay(text: str) -> None:
    assert one_line(text) == unicodedata.normalize("NFC", text)


def test_a_zero_width_joiner_stays_since_it_shapes_words() -> None:
    assert one_line("क्\u200dष") == "क्\u200dष"


def test_a_direction_override_goes_since_a_name_could_read_backwards() -> None:
    assert one_line("gpj.\u202eexe") == "gpj.exe"


def test_paragraphs_stay_and_empty_lines_do_not_pile_up() -> None:
    assert many_lines("\r\n one \r\n\r\n\r\n two\rthree \n") == "one\n\ntwo\nthree"


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("ŽIŽKOVÁ", "zizkova"),
        ("Jørgen Ǿst", "jorgen ost"),
        ("Łukasz  Æble", "lukasz aeble"),
        ("STRASSE", "strasse"),
        ("straße", "strasse"),
        ("𝐀da", "ada"),
    ],
)
def test_people_are_found_without_their_accents(typed: str, found: str) -> None:
    assert folded(typed) == found


def test_serials_are_compared_by_capitals_and_digits_only() -> None:
    assert folded_serial(" pw-2m 000_417 ") == "PW2M000417"
