"""HTML in, PDF/A-3a out: tagged, archivable, and the same bytes every time for the same input.

WeasyPrint is loaded at the first paper, because it takes a second and needs Pango, which a machine may lack.
Reading fonts and styles costs five times as much as a form itself, so both are read once a process and kept; the
kept fonts are not safe to use from two threads, so one lock lets one paper through at a time.

A paper may show only what is ours: ``data:`` addresses, files below ``static/``, and ``vault:<sha256>`` for a
picture in the vault. Anything else stops the paper; a report that silently lacks a picture would be worse.
"""

from __future__ import annotations

import atexit
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from labcases.core import vault
from labcases.core.refused import Refused

if TYPE_CHECKING:
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

STATIC = Path(__file__).resolve().parents[2] / "static"
STYLES = (STATIC / "css" / "fonts.css", STATIC / "css" / "paper.css")
PACKAGES = ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0")
PICTURE_DPI = 150  # photographs are scaled down to this: 51 kB instead of 769 kB for a form with two of them
PICTURE_QUALITY = 75


class PaperMachineMissing(Refused):
    """The system library that sets type is not installed."""

    status = 503


class PictureMissing(Refused):
    """A paper asks for a picture that is not ours to show or is not there."""


@dataclass(frozen=True)
class Attached:
    """A file that travels inside the PDF. ``relationship`` after ISO 32000-2: Data, Source, Supplement …"""

    name: str
    content: bytes
    description: str = ""
    relationship: str = "Data"


@dataclass(frozen=True)
class _Machine:
    fonts: FontConfiguration
    styles: tuple[CSS, ...]


_lock = Lock()
_machines: list[_Machine] = []
atexit.register(_machines.clear)  # fonts are put away while Python can still remove their folder


def to_pdf(html: str, *, issued: datetime, attachments: Sequence[Attached] = (), css: str = "") -> bytes:
    """Set ``html`` with the one stylesheet (and ``css`` of its own, such as the places of a label sheet).

    The same input gives the same bytes: the file's identifier comes from the input, its dates are ``issued``
    (the page says so too, in ``dcterms.created``). Raises PaperMachineMissing or PictureMissing.
    """
    with _lock:
        machine = _ready()
        from weasyprint import CSS, HTML
        from weasyprint.urls import FatalURLFetchingError

        own = (CSS(string=css, font_config=machine.fonts),) if css else ()
        fetcher = _fetcher()
        try:
            pdf = HTML(string=html, base_url=STATIC.as_uri() + "/", url_fetcher=fetcher).write_pdf(
                font_config=machine.fonts,
                stylesheets=[*machine.styles, *own],
                pdf_variant="pdf/a-3a",
                pdf_identifier=_identifier(html, css, attachments),
                attachments=[_fresh(attached, issued) for attached in attachments],
                dpi=PICTURE_DPI,
                jpeg_quality=PICTURE_QUALITY,
            )
        except FatalURLFetchingError as error:
            raise _picture_missing(str(error.__cause__ or error)) from error
    if fetcher.refused:  # a drawing asked for more; its errors do not stop the paper machine by themselves
        raise _picture_missing(fetcher.refused[0])
    return bytes(pdf)


def _picture_missing(why: str) -> PictureMissing:
    return PictureMissing(
        "This paper was not made: it asks for a picture it may not or cannot show.",
        why=why,
        mend="Look at the pictures of this case; take the damaged one out, or restore it from a backup.",
    )


def check_machine() -> None:
    """Load what papers need, so that the first one is fast. Raises PaperMachineMissing."""
    with _lock:
        _ready()


def install_line() -> str:
    """What to run on a Debian-like system when papers cannot be made."""
    return "apt-get install --no-install-recommends " + " ".join(PACKAGES)


def _ready() -> _Machine:
    if not _machines:
        _machines.append(_load())
    return _machines[0]


def _load() -> _Machine:
    try:
        from weasyprint import CSS
        from weasyprint.text.fonts import FontConfiguration

        fonts = FontConfiguration()
    except OSError as error:
        raise PaperMachineMissing(
            "This machine cannot make papers yet.",
            why="The system library Pango, which sets the type, is not installed.",
            mend=f"Run as root: {install_line()}. Everything else works meanwhile.",
        ) from error
    fetcher = _fetcher()
    return _Machine(fonts, tuple(CSS(filename=str(path), font_config=fonts, url_fetcher=fetcher) for path in STYLES))


def _fresh(attached: Attached, issued: datetime) -> Any:
    """WeasyPrint writes an Attachment object once only, so each paper gets new ones."""
    from weasyprint import Attachment

    return Attachment(
        string=attached.content,
        name=attached.name,
        description=attached.description or attached.name,
        created=issued,
        modified=issued,
        relationship=attached.relationship,
    )


def _identifier(html: str, css: str, attachments: Sequence[Attached]) -> bytes:
    digest = hashlib.sha256()
    for part in (html.encode(), css.encode(), *(attached.content for attached in attachments)):
        digest.update(hashlib.sha256(part).digest())
    return digest.hexdigest()[:32].encode("ascii")


def _fetcher() -> Any:
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OurFilesOnly(URLFetcher):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__(fail_on_errors=True, allow_redirects=False)
            self.refused: list[str] = []

        def fetch(self, url: str, headers: Any = None) -> Any:
            if url.startswith("data:"):
                return super().fetch(url, headers)
            try:
                return URLFetcherResponse(url, our_file(url))
            except (ValueError, OSError, vault.Damaged) as error:
                self.refused.append(str(error))
                raise

    return OurFilesOnly()


def our_file(url: str) -> bytes:
    """The bytes behind ``vault:<sha256>`` or ``file:`` below static/. Raises ValueError, OSError or vault.Damaged."""
    parts = urlsplit(url)
    if parts.scheme == "vault":
        return vault.get(parts.path)
    path = Path(unquote(parts.path)).resolve()
    if parts.scheme != "file" or parts.netloc or not path.is_relative_to(STATIC):
        raise ValueError(f"A paper shows only pictures of its own, not {url[:80]}")
    return path.read_bytes()
