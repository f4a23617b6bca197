"""The one error of this room's readers."""

from __future__ import annotations


class NotAPage(ValueError):
    """What was handed over is not the page or register it was taken for; the message is one sentence for people."""


def hexadecimal(raw: bytes | int, digits: int = 2) -> str:
    """Bytes or a number as the field writes them: upper-case hexadecimal with an h behind."""
    text = raw.hex().upper() if isinstance(raw, bytes) else f"{raw:0{digits}X}"
    return f"{text}h"


def refuse_blank(page: bytes, what: str, error: type[NotAPage], more: str = "") -> None:
    """Raise the error when every byte of the page is the same: a dead bridge's answer, not a medium's."""
    if page.count(page[:1]) == len(page):
        byte = hexadecimal(page[:1])
        raise error(f"{what} is blank: every byte is {byte}, so nothing answered or nothing was read.{more}")
