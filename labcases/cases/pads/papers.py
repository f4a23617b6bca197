"""A pad on paper: one blank form a page, with its code printed on it. Called outside any transaction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils import timezone

from labcases.cases import slip, words
from labcases.cases.pads.actions import note_pad_printed
from labcases.cases.pads.models import ReservedCode
from labcases.core import codes
from labcases.custody.models import MediumKind
from labcases.lab.models import Actor, Profile, TermsVersion
from labcases.lab.symbols import code128_svg, qr_svg, svg_data_uri
from labcases.paper import actions
from labcases.paper.models import Paper

KIND, TITLE, TEMPLATE = "intake-pad", "Intake by hand", "paper/intake_pad.html"
LANGUAGE = "en-GB"


def print_pad(sheets: Sequence[ReservedCode], *, by: Actor, size: str) -> Paper:
    """All sheets of one pad; asked for again, it is the same paper. Raises what ``paper.actions.freeze`` raises."""
    pad = sheets[0].pad
    paper = actions.freeze(
        key=f"{KIND}/{pad}/{size}",
        kind=KIND,
        template=TEMPLATE,
        context=pad_context(sheets),
        title=f"{TITLE}, pad {pad}",
        language=LANGUAGE,
        size=size,
        code="",
        by=by,
        issued=timezone.now(),
    )
    note_pad_printed(pad=pad, happened=paper.happened)
    return paper


def pad_context(sheets: Sequence[ReservedCode]) -> dict[str, Any]:
    """Everything on the sheets, as plain values."""
    terms = TermsVersion.objects.first()
    return {
        "sheets": [_sheet(one) for one in sheets],
        "pad": sheets[0].pad,
        "count": len(sheets),
        "reserved": sheets[0].happened,
        "kinds": list(MediumKind.labels),
        "marks": list(words.MARKS.values()),
        "behaviours": list(words.BEHAVIOURS.values()),
        "stories": list(words.STORIES.values()),
        "tried": list(words.TRIED.values()),
        "locks": list(words.LOCKS.values()),
        "allows": list(slip.ALLOWS.values()),
        "currency": Profile.current().currency,
        "terms": terms.version if terms else "",
    }


def _sheet(reserved: ReservedCode) -> dict[str, Any]:
    text = codes.symbol(reserved.code)
    return {
        "number": reserved.sheet,
        "code": str(reserved),
        "qr": svg_data_uri(qr_svg(text)),
        "bars": svg_data_uri(code128_svg(text)),
    }
