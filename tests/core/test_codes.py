from __future__ import annotations

from string import ascii_uppercase, digits

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.core import codes
from labcases.core.codes import Mistake, MistypedCode, Series

ALPHABET = digits + ascii_uppercase
NUMBERS = st.integers(1, 9_999_999)
COUNTS = st.integers(1, 120)

case_bodies = st.builds(codes.case_body, st.integers(2000, 2099), NUMBERS)
donor_bodies = st.builds(codes.stock_body, st.just("D"), NUMBERS)
stock_bodies = st.builds(codes.stock_body, st.sampled_from("DWMSBT"), NUMBERS)
patient_bodies = st.builds(codes.item_body, case_bodies, st.just("P"), COUNTS)
bodies = st.one_of(
    case_bodies,
    stock_bodies,
    patient_bodies,
    st.builds(codes.item_body, case_bodies, st.just("A"), COUNTS),
    st.builds(codes.item_body, patient_bodies, st.just("C"), COUNTS),
    st.builds(codes.item_body, donor_bodies, st.just("P"), COUNTS),
)

ONE_OF_EACH = {
    Series.CASE: ("2600417", "26-00417-D", ""),
    Series.PATIENT: ("2600417P1", "26-00417-P1-K", "2600417"),
    Series.ACCESSORY: ("2600417A12", "26-00417-A12-G", "2600417"),
    Series.CHIP: ("2600417P1C2", "26-00417-P1-C2-S", "2600417P1"),
    Series.DONOR: ("D01234", "D-01234-4", ""),
    Series.DONOR_PART: ("D01234P2", "D-01234-P2-J", "D01234"),
    Series.DESTINATION: ("W00210", "W-00210-4", ""),
    Series.DELIVERY: ("M123456", "M-123456-0", ""),
    Series.PLACE: ("S00001", "S-00001-J", ""),
    Series.BADGE: ("B00007", "B-00007-M", ""),
    Series.TOOL: ("T00042", "T-00042-B", ""),
}


@pytest.mark.parametrize("series", Series)
def test_each_series_is_read_and_printed_in_its_own_form(series: Series) -> None:
    body, printed, parent = ONE_OF_EACH[series]
    code = codes.parse(codes.with_check(body))
    assert (code.series, code.body, code.printed, code.parent) == (series, body, printed, parent)
    assert code.check == printed[-1]


@given(bodies)
def test_every_spelling_of_a_code_is_read_as_the_same_code(body: str) -> None:
    folded = codes.with_check(body)
    code = codes.parse(folded)
    spellings = [code.printed, code.symbol, codes.symbol(code.printed), f" {code.printed.lower()}\r\n", folded.lower()]
    assert all(codes.parse(spelling) == code for spelling in spellings)
    assert {codes.fold(spelling) for spelling in spellings} == {folded}


@given(bodies)
def test_a_symbol_holds_letters_and_digits_only(body: str) -> None:
    held = codes.symbol(codes.with_check(body))
    assert held.startswith(codes.PREFIX)
    assert set(held) <= set(ALPHABET)


@pytest.mark.parametrize("body", [body for body, _, _ in ONE_OF_EACH.values()])
def test_every_single_wrong_character_is_caught(body: str) -> None:
    code = codes.with_check(body)
    wrong = [code[:i] + c + code[i + 1 :] for i in range(len(code)) for c in ALPHABET if c != code[i]]
    assert [text for text in wrong if codes.is_valid(text)] == []


def neighbours_swapped(code: str) -> list[str]:
    pairs = range(len(code) - 1)
    return [code[:i] + code[i + 1] + code[i] + code[i + 2 :] for i in pairs if code[i] != code[i + 1]]


@pytest.mark.parametrize("body", [body for body, _, _ in ONE_OF_EACH.values() if body != "M123456"])
def test_a_swap_of_two_neighbours_is_caught(body: str) -> None:
    assert [text for text in neighbours_swapped(codes.with_check(body)) if codes.is_valid(text)] == []


def test_of_a_thousand_swaps_of_neighbours_all_but_a_few_are_caught() -> None:
    """The check character is no proof: it lets a few swaps pass, such as M-123456-0 for M-132456-0."""
    swapped = [text for n in range(1, 3000) for text in neighbours_swapped(codes.with_check(codes.case_body(2026, n)))]
    passed = [text for text in swapped if codes.is_valid(text)]
    assert len(passed) * 1000 < 5 * len(swapped)


@pytest.mark.parametrize(
    ("text", "mistake", "named"),
    [
        ("", Mistake.EMPTY, "no code here"),
        (" - \t", Mistake.EMPTY, "no code here"),
        ("LC", Mistake.EMPTY, "no code here"),
        ("26-00417-P", Mistake.WRONG_CHECK, "check character of “26-00417-P” is wrong"),
        ("26_00417_D", Mistake.ODD_CHARACTER, "“_” never stands in one"),
        ("26ß00417D", Mistake.ODD_CHARACTER, "“ß” never stands in one"),
        ("٢600417D", Mistake.ODD_CHARACTER, "never stands in one"),
        ("2600417D\x00", Mistake.ODD_CHARACTER, "never stands in one"),
        ("26-0417-D", Mistake.UNKNOWN_FORM, "does not have the form"),
        ("L-00417-X", Mistake.UNKNOWN_FORM, "does not have the form"),
        ("7", Mistake.UNKNOWN_FORM, "does not have the form"),
    ],
)
def test_a_mistyped_code_is_refused_with_a_sentence_that_names_what_is_wrong(
    text: str, mistake: Mistake, named: str
) -> None:
    with pytest.raises(MistypedCode, match=named) as refused:
        codes.parse(text)
    assert refused.value.mistake == mistake


@pytest.mark.parametrize("body", ["26000417", "2600417P0", "2600417P01", "2600417A1C1", "W00210P1", "D01234A1"])
def test_a_right_check_character_does_not_save_a_form_that_is_never_issued(body: str) -> None:
    with pytest.raises(MistypedCode, match="does not have the form"):
        codes.parse(codes.with_check(body))


def test_dashes_that_a_document_puts_for_hyphens_are_ignored() -> None:
    assert codes.fold("26\N{NON-BREAKING HYPHEN}00417\N{EN DASH}P1\N{NO-BREAK SPACE}K") == "2600417P1K"


def test_a_long_text_is_not_said_again_in_full() -> None:
    with pytest.raises(MistypedCode) as refused:
        codes.parse("9" * 100_000)
    assert len(str(refused.value)) < 250


@given(st.text())
def test_any_text_at_all_is_read_or_refused_by_name(text: str) -> None:
    try:
        said, right = "", codes.is_valid(codes.parse(text).folded)
    except MistypedCode as refused:
        said, right = str(refused), True
    assert right
    assert said.isprintable()


@pytest.mark.parametrize("text", ["", "X", "26-00417-P", "26_00417_D"])
def test_what_has_no_right_check_character_is_not_valid(text: str) -> None:
    assert not codes.is_valid(text)


def test_a_year_is_two_digits_and_a_number_at_least_five() -> None:
    assert codes.case_body(2026, 417) == "2600417"
    assert codes.case_body(2003, 123_456) == "03123456"
    assert codes.stock_body("W", 210) == "W00210"


def test_a_code_is_never_built_from_a_number_below_one() -> None:
    for build in (lambda: codes.case_body(2026, 0), lambda: codes.stock_body("D", -1)):
        with pytest.raises(ValueError, match="count from 1"):
            build()


@pytest.mark.parametrize(
    ("parent", "letter"), [("2600417", "26-00417-D"), ("D01234", "D-01234-4"), ("26", "P"), ("2600417A1", "C")]
)
def test_an_item_is_only_built_under_what_can_have_it(parent: str, letter: str) -> None:
    with pytest.raises(ValueError, match="No code has the body"):
        codes.item_body(parent, letter, 1)


@pytest.mark.parametrize("letter", ["P", "", "DW", "d"])
def test_a_stock_code_needs_a_letter_of_a_series(letter: str) -> None:
    with pytest.raises(ValueError, match="No series"):
        codes.stock_body(letter, 1)
