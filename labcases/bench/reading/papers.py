"""The coverage on paper: the same picture, its table, the counts. Called outside any transaction."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from labcases.bench import drawing
from labcases.bench.reading import queries
from labcases.bench.reading.queries.shown import Line
from labcases.cases.models import Item
from labcases.lab.models import Actor, Profile
from labcases.paper.actions import freeze
from labcases.paper.models import Paper

LANGUAGE = "en-GB"
PICTURE = "data:image/svg+xml;base64,"


def print_coverage(read: queries.Read, *, by: Actor, issued: datetime) -> Paper:
    """The frozen paper of the coverage as it stands; the same coverage printed again is the same paper."""
    item, made = read.item, read.derivation
    digest = made.digest if made else ""
    beside = [getattr(row, "pk", 0) for row in (read.layout, read.head_map, *read.areas)]
    return freeze(
        key=f"coverage/{item.thing.code}/{digest[:16]}/{'-'.join(map(str, beside))}"[:200],
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
    return {"item": read.item, "made": read.derivation, "uploads": read.uploads, "coverage": on_paper(read)}


@dataclass(frozen=True)
class OnPaper:
    """A coverage as ``paper/_coverage.html`` wants it; ``picture`` and the legend's samples are data addresses."""

    item: Item
    picture: str
    legend: Sequence[tuple[str, str]]
    rows: Sequence[queries.Counted]
    plain: Sequence[queries.Counted]  # without the heads, for whoever is no engineer
    table: Sequence[Line]
    stands: queries.Stands | None


def on_paper(read: queries.Read, *, first_mark: str = "p", over: bool = False) -> OnPaper | None:
    """The picture of the whole medium, its table and the counts; None when nothing was uploaded.

    ``first_mark`` keeps the textures of several pictures on one paper apart; when the work is ``over`` nothing points
    to where the reading stands.
    """
    shown = queries.drawn(read, queries.window(read), key=first_mark, ink=drawing.PAPER, height=30, over=over)
    counted = read.counted()
    if shown is None or counted is None:
        return None
    parts, areas = read.counted_parts(), read.counted_areas()
    return OnPaper(
        item=read.item,
        picture=_as_address(shown.sheet, shown.says),
        legend=_legend(),
        rows=[counted, *parts, *(row.counted for row in read.head_rows), *areas],
        plain=[counted, *parts, *areas],
        table=[line for line in shown.lines if line.sectors],
        stands=shown.stands,
    )


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
