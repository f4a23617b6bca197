"""Templates in, papers out: what every template below ``templates/paper/`` can count on.

``render`` hands a template its caller's context and these names:

==============  ==========================================================================================
``title``       what the paper is called ("Intake form and receipt"); heads it and names the PDF
``language``    BCP 47 tag of the words on it
``size``        ``A4`` or ``Letter``
``code``        the printed code in the head of each page, or ``""``
``symbol``      picture address of its QR symbol, or ``""``
``issued``      aware datetime, shown in the lab's zone
``zone``        name and offset of that zone at that moment: ``CET, UTC+01:00``
``lab``         the profile: ``name address phone email tax_number logo`` (a caller may give another)
``ledger_key``  the public key of the lab's ledger, hex, or ``""``; ``ledger_key_short`` its beginning
``letterhead``  True; a caller gives False for a paper that goes out under somebody else's head
==============  ==========================================================================================

Blocks of ``paper/_base.html``: ``intro`` (under the title), ``content``, ``signatures``, ``end``. A section is
``<section class="part"><h2>Name</h2><div>…</div></section>``, with ``class="part wide"`` for a table. Shared pieces,
each of which says at its top what it wants: ``_facts.html _item_lines.html _photos.html _signature_box.html
_caution.html _stamps.html _rest_of_table.html``. Pictures: ``vault:<sha256>``, ``data:``, or a path below static/.
Times and numbers are shown in the lab's zone. Call ``render`` outside a transaction: it takes a tenth of a second.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.template.loader import get_template, render_to_string
from django.utils import timezone, translation

from labcases.core import codes
from labcases.lab.models import Profile
from labcases.lab.symbols import qr_svg, svg_data_uri
from labcases.paper import footer, labels
from labcases.paper.render import STYLES, Attached, to_pdf
from labcases.paper.tables import Capped, capped

__all__ = ["Attached", "Capped", "capped", "html", "label_sheet", "render", "template_version"]


def render(
    template: str,
    context: dict[str, Any],
    *,
    title: str,
    language: str,
    size: str,
    code: str,
    issued: datetime,
    attachments: Sequence[Attached] = (),
) -> bytes:
    """A PDF/A-3a of ``template``. Raises PaperMachineMissing, PictureMissing, or MistypedCode for a wrong code."""
    page = html(template, context, title=title, language=language, size=size, code=code, issued=issued)
    return to_pdf(page, issued=issued, attachments=attachments)


def html(
    template: str, context: dict[str, Any], *, title: str, language: str, size: str, code: str, issued: datetime
) -> str:
    """The page that ``render`` sets, in the lab's zone and the paper's language."""
    lab = context.get("lab") or Profile.current()
    with ExitStack() as stack:
        stack.enter_context(timezone.override(ZoneInfo(lab.time_zone)))
        stack.enter_context(translation.override(language))
        given = {
            "title": title,
            "language": language,
            "size": size,
            "code": code,
            "symbol": svg_data_uri(qr_svg(codes.symbol(code))) if code else "",
            "issued": issued,
            "zone": zone_of(timezone.localtime(issued)),
            "letterhead": True,
            "ledger_key": (key := footer.ledger_key()),
            "ledger_key_short": footer.in_groups(key),
        }
        return render_to_string(template, {**given, **context, "lab": lab})


def label_sheet(
    many: Sequence[labels.Label],
    size: labels.LabelSize,
    *,
    title: str,
    language: str,
    issued: datetime,
    first: int = 1,
) -> bytes:
    """Labels on a sheet, from its ``first`` free place on, or one a page on a roll."""
    sheets = labels.pages(many, size, first)
    context = {"sheets": sheets, "label_size": size}
    page = html("paper/labels.html", context, title=title, language=language, size=size.key, code="", issued=issued)
    return to_pdf(page, issued=issued, css=labels.page_css(size, sheets))


def zone_of(local: datetime) -> str:
    """The zone as paper names it: its letters where it has some, and always its offset."""
    offset = local.strftime("%z")
    hours = f"UTC{offset[:3]}:{offset[3:5]}" if offset.strip("+-0") else "UTC"
    letters = local.tzname() or ""
    return f"{letters}, {hours}" if letters.isalpha() and letters != hours else hours


@cache
def template_version(template: str) -> str:
    """Twelve digits that change when the template, a shared piece of papers, or their stylesheet changes."""
    own = Path(get_template(template).origin.name)  # type: ignore[attr-defined]
    pieces = sorted((settings.BASE_DIR / "templates" / "paper").glob("_*.html"))
    digest = hashlib.sha256()
    for path in (own, *pieces, *STYLES):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]
