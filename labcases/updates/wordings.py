"""Wordings: texts with gaps such as ``{owner}``, filled for one case.

A gap is a name in braces; ``{{`` and ``}}`` write a brace. What nobody knows yet, or only a person can say, is filled
with its word in double brackets, so that one sees what is still to be written; a text with such a spot is not sent.

>>> filled = fill("Dear {owner}, case {case}: {found}", {"owner": "Orrin Vale", "case": "26-00417-K"})
>>> filled.text
'Dear Orrin Vale, case 26-00417-K: [[what was found, in plain words]]'
>>> filled.missing
('found',)
>>> still_open(filled.text)
['what was found, in plain words']
>>> gaps_in("Dear {ownr}")
Traceback (most recent call last):
...
labcases.updates.wordings.BadWording: There is no gap {ownr}. Did you mean {owner}?
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches


class BadWording(ValueError):
    """A text that cannot be filled; ``str(error)`` is a sentence that names the gap or the brace."""


@dataclass(frozen=True)
class Gap:
    """``word`` says what stands in the gap; ``asked`` when the writer says it, since no record holds it."""

    name: str
    word: str
    asked: bool = False


GAPS: dict[str, Gap] = {
    gap.name: gap
    for gap in (
        Gap("reader", "name of who is written to"),
        Gap("owner", "name of the owner"),
        Gap("case", "code of the case"),
        Gap("what", "what they brought"),
        Gap("wanted", "what they want back, in their order"),
        Gap("received", "day it came in"),
        Gap("promised", "day that was promised"),
        Gap("balance", "what is still to be paid"),
        Gap("keep_days", "days we keep our copy"),
        Gap("lab", "name of the lab"),
        Gap("lab_address", "address of the lab"),
        Gap("lab_phone", "phone of the lab"),
        Gap("lab_email", "e-mail of the lab"),
        Gap("by", "name of who writes"),
        Gap("signature", "who writes, the lab, and how to reach it"),
        Gap("found", "what was found, in plain words", asked=True),
        Gap("happened", "what happened, in plain words", asked=True),
        Gap("means", "what it means for their data", asked=True),
        Gap("next", "what comes next", asked=True),
        Gap("until", "day by which they hear from us again", asked=True),
        Gap("must_do", "what they must do, or that they need do nothing", asked=True),
        Gap("day", "the day", asked=True),
    )
}
OPEN, CLOSE = "[[", "]]"
_TOKEN = re.compile(r"\{\{|\}\}|\{([^{}]*)\}|[{}]")
_STILL_OPEN = re.compile(r"\[\[(.+?)\]\]", re.DOTALL)


@dataclass(frozen=True)
class Filled:
    """A filled text, and the names of the gaps nobody could fill, each once, in the order of the text."""

    text: str
    missing: tuple[str, ...]


def fill(text: str, values: Mapping[str, str]) -> Filled:
    """The text with its gaps filled from ``values`` (name of the gap: words; empty words count as missing).

    Values are taken as they are: braces in them are no gaps. Raises BadWording.
    """
    known = {name: _closed(value) for name, value in values.items() if value}
    missing: dict[str, None] = {}
    parts: list[str] = []
    for piece, gap in _pieces(text):
        if gap is None:
            parts.append(piece)
        elif gap.name in known:
            parts.append(known[gap.name])
        else:
            missing[gap.name] = None
            parts.append(f"{OPEN}{gap.word}{CLOSE}")
    return Filled("".join(parts), tuple(missing))


def gaps_in(text: str) -> tuple[str, ...]:
    """The names of the gaps of a text, each once, in their order. Raises BadWording."""
    return tuple(dict.fromkeys(gap.name for _, gap in _pieces(text) if gap))


def still_open(*texts: str) -> list[str]:
    """What stands in double brackets in any of the texts: the spots that are still to be written."""
    return [spot.strip() for text in texts for spot in _STILL_OPEN.findall(text)]


def _pieces(text: str) -> Iterator[tuple[str, Gap | None]]:
    at = 0
    for token in _TOKEN.finditer(text):
        yield text[at : token.start()], None
        at = token.end()
        if token.group() in ("{{", "}}"):
            yield token.group()[0], None
        elif token.group() in ("{", "}"):
            raise BadWording(_lone_brace(text, token.start()))
        else:
            yield "", _gap(token.group(1))
    yield text[at:], None


def _gap(name: str) -> Gap:
    if gap := GAPS.get(name.strip()):
        return gap
    near = get_close_matches(name, GAPS, n=1)
    hint = f"Did you mean {{{near[0]}}}?" if near else "The list of gaps stands beside the text."
    raise BadWording(f"There is no gap {{{name[:60]}}}. {hint}")


def _lone_brace(text: str, at: int) -> str:
    around = " ".join(text[max(0, at - 12) : at + 13].split())
    return f"The brace in “{around}” opens or closes no gap. To write a brace, type it twice."


def _closed(value: str) -> str:
    """A customer's own words never look like a spot that is still to be written."""
    return re.sub(r"(?<=\[)(?=\[)|(?<=\])(?=\])", " ", value)
