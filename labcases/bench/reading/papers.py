"""The coverage on paper: the same picture, its table, the counts. Called outside any transaction."""

from __future__ import annotations

import base64
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from labcases.bench import drawing
from labcases.bench.reading import queries
from labcases.lab.models import Actor, Profile
from labcases.paper.actions import freeze
from labcases.paper.models import Paper

LANGUAGE = "en-GB"
PICTURE = "data:image/svg+xml;base64,"


def print_coverage(read: queries.Read, *, by: Actor, issued: datetime) -> Paper:
    """The frozen paper of the coverage as it stands; the same coverage printed again is the same paper."""
    item, made = read.item, read.derivation
    digest = made.digest if made else ""
    return freeze(
        key=f"coverage/{item.thing.code}/{digest[:16]}/{len(read.parts)}-{len(read.head_spans)}-{len(read.areas)}",
        kind="coverage",
        template="paper/coverage.html",
        context=_context(read),
        title="What was read",
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(item),
        by=by,
        issued=issued,
        thing=item.thing,
        case_code=item.case.code,
    )


def _context(read: queries.Read) -> dict[str, Any]:
    whole = queries.window(read)
    shown = queries.drawn(read, whole, key="p", ink=drawing.PAPER, height=30)
    picture = _as_address(shown.sheet, shown.says) if shown else ""
    counted = read.counted()
    rows = [*([counted] if counted else []), *read.counted_parts()]
    return {
        "item": read.item,
        "made": read.derivation,
        "picture": picture,
        "table": [line for line in shown.lines if line.sectors] if shown else [],
        "rows": [*rows, *(row.counted for row in read.head_rows), *read.counted_areas()],
        "uploads": read.uploads,
        "legend": _legend(),
    }


def _as_address(sheet: drawing.Sheet, says: str = "") -> str:
    """A drawing as the address of a picture."""
    text = render_to_string("bench/_sheet.html", {"sheet": sheet, "says": says, "own": True}).strip()
    return PICTURE + base64.b64encode(text.encode()).decode()


def _legend() -> list[tuple[str, str]]:
    """Each texture as a picture of its own with its word."""
    samples = []
    for state, words in drawing.STATE_WORDS.items():
        samples.append((_as_address(drawing.swatch(state, key="l", ink=drawing.PAPER, alone=True)), words))
    return samples
