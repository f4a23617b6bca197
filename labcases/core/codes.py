"""The codes on every label: how they are built, printed, scanned and read back.

A code is a *body* and one check character after ISO/IEC 7064 MOD 37,36, which catches every single wrong
character, and all but a few in a thousand of the swaps of two neighbours. One code has three spellings:

* folded, as it is stored: capital letters and digits only, the check character last;
* printed, as a person reads it: in groups with hyphens;
* symbol, as a bar or QR symbol holds it: ``LC`` and the folded code, without a hyphen, since a hand scanner
  set to a foreign keyboard would type that as something else.

Bodies by series (n and m count from 1, without leading zeros)::

    case        YYNNNNN      two digits of the year, then a number of at least five digits
    patient     <case>Pn     accessory <case>An     chip <case>PnCm
    donor       DNNNNN       donor-part DNNNNNPn
    destination WNNNNN       delivery MNNNNN    place SNNNNN    badge BNNNNN    tool TNNNNN

>>> with_check(case_body(2026, 417))
'2600417D'
>>> printed("2600417d"), symbol("26-00417-D")
('26-00417-D', 'LC2600417D')
>>> parse("LC2600417D").series
<Series.CASE: 'case'>
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from string import ascii_lowercase, ascii_uppercase, digits
from typing import Final

PREFIX: Final = "LC"  # no body begins with L, so the prefix can always be told from the code behind it

_ALPHABET = digits + ascii_uppercase
_HYPHENS = "-\N{SOFT HYPHEN}\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{FIGURE DASH}\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}"
# ASCII letters only: str.upper would turn one sharp s into two letters S, and hide that it was odd.
_FOLDING = str.maketrans(ascii_lowercase, ascii_uppercase, _HYPHENS)
_LONGEST = 40  # characters of a mistyped text said again in a sentence; codes are shorter


class Series(StrEnum):
    """What a code stands for."""

    CASE = "case"
    PATIENT = "patient"
    ACCESSORY = "accessory"
    CHIP = "chip"
    DONOR = "donor"
    DONOR_PART = "donor-part"
    DESTINATION = "destination"
    DELIVERY = "delivery"
    PLACE = "place"
    BADGE = "badge"
    TOOL = "tool"


class Mistake(StrEnum):
    """What is wrong with a text that was read as a code."""

    EMPTY = "empty"
    ODD_CHARACTER = "odd-character"
    UNKNOWN_FORM = "unknown-form"
    WRONG_CHECK = "wrong-check"


class MistypedCode(ValueError):
    """A text is no code of ours; ``str(error)`` is a sentence for the person who typed or scanned it."""

    def __init__(self, sentence: str, mistake: Mistake) -> None:
        super().__init__(sentence)
        self.mistake = mistake


@dataclass(frozen=True)
class Code:
    """A code that was read and found right.

    ``parent`` is the body of what the thing belongs to: of an item its case, of a chip its patient, of a donor
    part its donor; empty for all others.
    """

    series: Series
    body: str
    check: str
    folded: str
    printed: str
    parent: str = ""

    @property
    def symbol(self) -> str:
        """What a bar or QR symbol of this code holds."""
        return PREFIX + self.folded


# What stands in brackets is one group of the printed code.
_NUMBER = r"(\d{5}|[1-9]\d{5,})"
_CASE = rf"(\d\d){_NUMBER}"
_FORMS: Final[dict[Series, str]] = {
    Series.CASE: _CASE,
    Series.PATIENT: _CASE + r"(P[1-9]\d*)",
    Series.ACCESSORY: _CASE + r"(A[1-9]\d*)",
    Series.CHIP: _CASE + r"(P[1-9]\d*)(C[1-9]\d*)",
    Series.DONOR: rf"(D){_NUMBER}",
    Series.DONOR_PART: rf"(D){_NUMBER}(P[1-9]\d*)",
    Series.DESTINATION: rf"(W){_NUMBER}",
    Series.DELIVERY: rf"(M){_NUMBER}",
    Series.PLACE: rf"(S){_NUMBER}",
    Series.BADGE: rf"(B){_NUMBER}",
    Series.TOOL: rf"(T){_NUMBER}",
}
_WITH_PARENT = (Series.PATIENT, Series.ACCESSORY, Series.CHIP, Series.DONOR_PART)
_STOCK_LETTERS = "DWMSBT"


def check_character(body: str) -> str:
    """The ISO/IEC 7064 MOD 37,36 character for a body; hyphens, blanks and case are ignored.

    Raises MistypedCode for an empty body, or one with anything but letters and digits.

    >>> check_character("A12425GABC1234002")
    'M'
    """
    remainder = _remainder(_only_letters_and_digits(body))
    return _ALPHABET[(1 - remainder) % 36]


def is_valid(code: str) -> bool:
    """Whether the last character is the check character of those before it; hyphens, blanks, case are ignored.

    Says nothing about the form, and the prefix of a symbol counts as part of the code; see parse for both.
    """
    text = _unspaced(code)
    if len(text) < 2 or _odd_character(text):
        return False
    return check_character(text[:-1]) == text[-1]


def fold(text: str) -> str:
    """A code as it is stored: capitals, no blanks, no hyphens, no prefix. Judges nothing."""
    return _unspaced(text).removeprefix(PREFIX)


def with_check(body: str) -> str:
    """The folded code of a body: the body with its check character behind it."""
    text = _only_letters_and_digits(body)
    return text + check_character(text)


def parse(text: str) -> Code:
    """Read a code as it was typed or scanned. Raises MistypedCode with a sentence that names what is wrong."""
    folded = _only_letters_and_digits(fold(text))
    body, check = folded[:-1], folded[-1]
    form = _form_of(body)
    if form is None:
        raise MistypedCode(
            f"“{_shown(text)}” does not have the form of a code of this lab. Read it again from the label, "
            "or type it with its check character, the last one.",
            Mistake.UNKNOWN_FORM,
        )
    if check != check_character(body):
        raise MistypedCode(
            f"The check character of “{_shown(text)}” is wrong: a character was mistyped, or two were swapped. "
            "Read it again from the label.",
            Mistake.WRONG_CHECK,
        )
    series, groups = form
    parent = "".join(groups[:-1]) if series in _WITH_PARENT else ""
    return Code(series, body, check, folded, "-".join([*groups, check]), parent)


def printed(code: str) -> str:
    """A code as a person reads it, in groups with hyphens. Raises MistypedCode as parse does."""
    return parse(code).printed


def symbol(code: str) -> str:
    """What a bar or QR symbol of the code holds: the prefix and the folded code. Raises MistypedCode."""
    return parse(code).symbol


def case_body(year: int, number: int) -> str:
    """The body of a case: two digits of the year, then the number in at least five digits."""
    return f"{year % 100:02d}{_counted(number):05d}"


def item_body(parent_body: str, letter: str, n: int) -> str:
    """The body of the nth part of something: of a case ``P`` patient or ``A`` accessory, of a patient ``C`` chip,
    of a donor ``P`` part. Raises ValueError for any other pairing.

    >>> item_body(item_body(case_body(2026, 417), "P", 1), "C", 2)
    '2600417P1C2'
    """
    body = f"{parent_body}{letter}{_counted(n)}"
    if not any(re.fullmatch(_FORMS[series], body, re.ASCII) for series in _WITH_PARENT):
        raise ValueError(f"No code has the body {body!r}: a case has P or A, a patient C, a donor P.")
    return body


def case_body_of(code: str) -> str:
    """The body of the case that something came in with, empty for what is the lab's own. Raises MistypedCode.

    >>> case_body_of(with_check("2600417P1C2")), case_body_of(with_check("D00001"))
    ('2600417', '')
    """
    read = parse(code)
    if read.series is Series.CHIP:  # of a patient, which is of a case
        read = parse(with_check(read.parent))
    if read.series in (Series.PATIENT, Series.ACCESSORY):
        return read.parent
    return read.body if read.series is Series.CASE else ""


def stock_body(letter: str, number: int) -> str:
    """The body of what the lab itself owns or numbers.

    ``D`` donor, ``W`` destination, ``M`` delivery medium, ``S`` place, ``B`` badge, ``T`` tool or station.
    """
    if len(letter) != 1 or letter not in _STOCK_LETTERS:
        raise ValueError(f"No series has the letter {letter!r}; there are {', '.join(_STOCK_LETTERS)}.")
    return f"{letter}{_counted(number):05d}"


def _form_of(body: str) -> tuple[Series, tuple[str, ...]] | None:
    """The series of a body and its groups as they are printed."""
    for series, form in _FORMS.items():
        if match := re.fullmatch(form, body, re.ASCII):
            return series, match.groups()
    return None


def _remainder(text: str) -> int:
    """The recursion of the standard for a pure hybrid system with moduli 37 and 36, up to the check character."""
    product = 36
    for character in text:
        total = (product + _ALPHABET.index(character)) % 36 or 36
        product = total * 2 % 37
    return product


def _unspaced(text: str) -> str:
    return "".join(text.split()).translate(_FOLDING)


def _odd_character(text: str) -> str:
    return next((character for character in text if character not in _ALPHABET), "")


def _only_letters_and_digits(text: str) -> str:
    folded = _unspaced(text)
    if not folded:
        raise MistypedCode("There is no code here. Scan it, or type it from the label.", Mistake.EMPTY)
    if odd := _odd_character(folded):
        raise MistypedCode(
            f"“{_shown(text)}” is no code: “{_shown(odd)}” never stands in one. "
            "A code has the letters A to Z, digits and hyphens.",
            Mistake.ODD_CHARACTER,
        )
    return folded


def _shown(text: str) -> str:
    """A text safe to say again in a sentence: one line, no control characters, not endless."""
    line = "".join(character if character.isprintable() else "\N{REPLACEMENT CHARACTER}" for character in text.strip())
    return line if len(line) <= _LONGEST else line[: _LONGEST - 1] + "…"


def _counted(number: int) -> int:
    if number < 1:
        raise ValueError(f"Codes count from 1; {number} is no number of a code.")
    return number
