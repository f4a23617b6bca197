"""What people type and paste, made fit to keep: no control characters, one form of each letter.

>>> one_line("Pel\\x00orus\\tPL500\\n")
'Pel orus PL500'
>>> folded("Žižková  O'Dell")
"zizkova o'dell"
"""

from __future__ import annotations

import unicodedata

# Zero-width joiners shape Indic and Arabic words and stay; direction overrides can make a name read backwards and go.
_KEPT_FORMAT = {"\u200c", "\u200d"}
# Letters that no decomposition takes apart, but that people leave out when they search.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"})


def _visible(character: str) -> str:
    category = unicodedata.category(character)
    if category in ("Cc", "Cs", "Zl", "Zp"):
        return " "
    if category == "Cf" and character not in _KEPT_FORMAT:
        return ""
    return character


def one_line(text: str) -> str:
    """NFC, control characters become blanks, runs of blanks become one, none at the ends."""
    visible = "".join(map(_visible, text))  # first: what is taken out may have kept a letter and its accent apart
    return " ".join(unicodedata.normalize("NFC", visible).split())


def many_lines(text: str) -> str:
    """Like ``one_line`` for each line; at most one empty line in a row, none at the ends."""
    lines = [one_line(line) for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
    kept = [line for i, line in enumerate(lines) if line or (i > 0 and lines[i - 1])]
    return "\n".join(kept).strip("\n")


def folded(text: str) -> str:
    """For searching: lower case, accents left out, blanks single."""
    lower = unicodedata.normalize("NFKD", text).casefold().translate(_PLAIN)
    apart = unicodedata.normalize("NFKD", lower)
    return " ".join("".join(c for c in apart if not unicodedata.combining(c)).split())


def folded_serial(text: str) -> str:
    """A serial number as it is compared: capitals and digits only."""
    return "".join(c for c in unicodedata.normalize("NFKC", text).upper() if c.isalnum())
