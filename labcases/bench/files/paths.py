"""Paths as the bytes they are: how one is shown, how it is cut, which kind of file its name promises.

A path is whatever a file system held: letters of any script, control characters, NULs, bytes that are no letters. All
of it is kept; what could not be seen, or could turn the reading order round, is written out:

>>> shown("Fotos/\\u5c71\\u7530.jpg".encode()) == "Fotos/\\u5c71\\u7530.jpg"
True
>>> print(shown(b"a\\x00b\\xff\\n"), shown("x\\u202egpj.exe".encode()), shown(b"\\xed\\xa0\\x80"))
a\\x00b\\xff\\n x\\u202egpj.exe \\xed\\xa0\\x80
>>> KINDS[kind_of(b"JPG")], KINDS[kind_of(b"")]
('pictures', 'others')
>>> like("*.jp*g"), like("letters/")
('\\\\.jp[^/]*g$', 'letters/')
"""

from __future__ import annotations

import re
import unicodedata

# What a name's ending promises; the endings of open formats and of those everybody meets. From memory, no source.
_ENDINGS = {
    "documents": "pdf odt ods odp odg doc docx xls xlsx ppt pptx rtf txt md tex csv tsv epub ps html htm xml json",
    "pictures": "jpg jpeg jpe png gif tif tiff bmp webp heic heif avif svg dng raw jp2 psd ico",
    "films": "mp4 m4v mov avi mkv webm mpg mpeg m2ts mts wmv 3gp ogv flv vob",
    "sound": "mp3 m4a wav flac ogg opus aac aif aiff wma mid midi",
    "mail": "eml mbox mbx msg pst ost ics vcf",
    "archives": "zip 7z rar tar gz tgz bz2 xz zst cab iso img dmg",
    "databases": "db sqlite sqlite3 mdb accdb dbf sql mdf ldf parquet",
    "programs": "exe dll so sys com bat cmd sh msi jar class pyc lib drv",
}
KINDS = (*_ENDINGS, "others")
OTHERS = len(KINDS) - 1
_KIND_OF = {ending.encode(): at for at, words in enumerate(_ENDINGS.values()) for ending in words.split()}
# Joiners shape words and stay; whatever else has no picture of its own, or turns the direction, is written out.
_JOINERS = "\u200c\u200d"
_HIDDEN = ("Cc", "Cf", "Cs", "Zl", "Zp", "Cn", "Co")
_SHORT = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}


def shown(path: bytes, most: int = 0) -> str:
    """A path fit for a page: one line, nothing hidden. Longer than ``most`` characters, its middle is left out."""
    text = "".join(map(_visible, path.decode("utf-8", "backslashreplace")))
    if most and len(text) > most:
        half = most // 2
        return f"{text[:half]} … {text[-half:]}"
    return text


def _visible(character: str) -> str:
    if character in _SHORT:
        return _SHORT[character]
    if character in _JOINERS or unicodedata.category(character) not in _HIDDEN:
        return character
    number = ord(character)
    return f"\\x{number:02x}" if number < 256 else f"\\u{number:04x}" if number < 65536 else f"\\U{number:08x}"


def kind_of(ending: bytes) -> int:
    """The place in KINDS of what such an ending promises."""
    return _KIND_OF.get(ending.lower(), OTHERS)


def steps_of(folder: bytes, separator: bytes) -> list[bytes]:
    """The folders on the way, outermost first; empty steps and “.” lead nowhere."""
    return [step for step in folder.split(separator) if step not in (b"", b".")]


def like(pattern: str) -> str:
    """What people type, as a regular expression to be found in a path written with “/”.

    “*” is anything within one folder, “**” anything at all, “?” one character; without them the words may stand
    anywhere. A pattern with a star or a question mark holds to the end of the path.
    """
    parts = re.split(r"(\*\*|\*|\?)", pattern)
    means = {"**": ".*", "*": "[^/]*", "?": "[^/]"}
    begin = parts[0] == "" and len(parts) > 1
    found = "".join(means.get(part, re.escape(part)) for part in (parts[2:] if begin else parts))
    return found + "$" if len(parts) > 1 else found
