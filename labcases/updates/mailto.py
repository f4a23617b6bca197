"""Addresses that open a letter in somebody's own mail program: mailto, RFC 6068.

>>> mailto("user@example.org", subject="café & more")
'mailto:user@example.org?subject=caf%C3%A9%20%26%20more'
"""

from __future__ import annotations

import re
from urllib.parse import quote

# RFC 6068 s.2: what may stand unescaped in an address or a field, beside letters and digits.
_IN_ADDRESS = "-._~!$'*+,:@"
_IN_FIELD = "-._~!$'()*+,;:@"
_LINE_END = re.compile(r"\r\n|\r|\n")


def mailto(*to: str, **fields: str) -> str:
    """The address for these recipients and header fields (``subject``, ``body``, ``in_reply_to`` …).

    Empty fields are left out. A semicolon is escaped: some programs read it as the end of a recipient.
    """
    addresses = ",".join(quote(address, safe=_IN_ADDRESS.replace(",", "")) for address in to)
    return f"mailto:{addresses}{_query(fields)}"


def _query(fields: dict[str, str]) -> str:
    parts = [f"{_header(name)}={_value(value)}" for name, value in fields.items() if value]
    return f"?{'&'.join(parts)}" if parts else ""


def _header(name: str) -> str:
    """``in_reply_to`` is ``In-Reply-To``; a plain word stays as it is."""
    words = name.split("_")
    return name if len(words) == 1 else "-".join(word.capitalize() for word in words)


def _value(text: str) -> str:
    """Line ends are CR LF (s.5)."""
    return quote(_LINE_END.sub("\r\n", text), safe=_IN_FIELD.replace(";", ""))
