"""How people are found while somebody types: by the beginning of any word, and by the end of a number.

Each party is kept under its words; a number is kept backwards, so that its end is a beginning too, and every
question becomes one step in a sorted index, however many customers there are.

>>> sorted(words_of("Zoë O'Dell", "Choir", "", "+441184960743"))
['#347069481144', 'choir', 'dell', 'o', "o'dell", 'zoe']
>>> beginnings("o'd 0743")
[["o'd"], ['0743', '#3470']]
>>> beginnings("0118 496 0743"), beginnings("0743")
([['#3470694811', '#34706948110']], [['#3470', '0743']])
"""

from __future__ import annotations

import re

from labcases.core.text import folded

LONGEST = 100  # characters of a word that are kept
DIGITS = 4  # fewer say too little of a number
WHOLE = 6  # more may be a whole number, with the nought that is dialled inside the country
_PARTS = re.compile(r"[^\W_]+")
_NUMBER = re.compile(r"\+?[\d\s()./-]+")


def words_of(name: str, company: str, email: str, phone: str) -> set[str]:
    """Everything a party is found under."""
    whole = folded(f"{name} {company} {email}")
    words = {*whole.split(), *_PARTS.findall(whole), *(part for at in whole.split() for part in at.split("@"))}
    number = _backwards(phone)
    return {word[:LONGEST] for word in words if word} | ({f"#{number}"} if number else set())


def beginnings(typed: str) -> list[list[str]]:
    """What is typed, word by word: a party is meant when it is kept under each, by any of its spellings."""
    if _NUMBER.fullmatch(typed.strip()):
        number = _backwards(typed)
        if len(number) < DIGITS:
            return []
        national = number.rstrip("0") if len(number) > WHOLE else number
        return [[*(f"#{spelling}" for spelling in dict.fromkeys((national, number))), *_as_word(typed)]]
    return [[word[:LONGEST], *_ends(word)] for word in folded(typed).split()]


def _as_word(typed: str) -> list[str]:
    """Digits without a blank may be the name of a firm too."""
    return [word] if " " not in (word := folded(typed)) else []


def _ends(word: str) -> list[str]:
    return [f"#{word[::-1]}"] if word.isdecimal() and len(word) >= DIGITS else []


def _backwards(number: str) -> str:
    return "".join(c for c in reversed(number) if c in "0123456789")
