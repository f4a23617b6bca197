"""A table comes in two steps: the file, then which column is which. The file waits in the vault in between."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse

from labcases.bench import cells
from labcases.bench.reading import actions, queries
from labcases.bench.reading.forms import tables as forms
from labcases.bench.reading.models import CoverageUpload
from labcases.bench.reading.views.common import GET_OR_POST, address, page, press_and_derive
from labcases.cases.models import Item, Wanted
from labcases.cases.queries import item_for
from labcases.core import vault
from labcases.core.actions import remember
from labcases.core.importing import signature
from labcases.core.queries import remembered
from labcases.core.views import bound, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

WAITING = "tables-of-spans"  # of the session: digest to name
MOST_WAITING = 10
TITLES = {
    "coverage": "Upload what was read",
    "heads": "Upload heads by sector",
    "area": "Upload where something lies",
}
LEADS = {
    "coverage": "The bytes are kept as they come, with their digest; the columns are asked next.",
    "heads": "A line a span: where it begins, how long it is, which head reads it.",
    "area": "A line a span: where the file or folder lies, as logical work found it.",
}


@GET_OR_POST
@needs(Right.EXAMINE)
def table(request: StaffRequest, code: str, purpose: str) -> HttpResponse:
    """The file."""
    item = _item(request, code, purpose)
    form = bound(request, forms.TableFileForm)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        data = file.read()
        try:
            cells.load(data, file.name or "")
        except cells.TableError as wrong:
            form.add_error("file", str(wrong))
        else:
            digest = vault.put(data)
            waiting = {**request.session.get(WAITING, {}), digest: (file.name or "table")[:200]}
            request.session[WAITING] = dict(list(waiting.items())[-MOST_WAITING:])
            return see_other(request, address("read-table", item, purpose, digest))
    warnings = _warnings(purpose, item)
    context = page(item, TITLES[purpose], form=form, lead=LEADS[purpose], cautions=warnings, button="Upload the table")
    return show(request, "verb.html", context)


def _warnings(purpose: str, item: Item) -> list[str]:
    """What must be known before a table is believed."""
    misled = queries.misleading(item) if purpose == "heads" else ""
    return [misled] if misled else []


def _item(request: StaffRequest, code: str, purpose: str) -> Item:
    item = item_for(request.user, code)
    if purpose not in TITLES:
        raise Http404("There is no such kind of table.")
    actions.size_of(item)
    return item


@GET_OR_POST
@needs(Right.EXAMINE)
def read_table(request: StaffRequest, code: str, purpose: str, digest: str) -> HttpResponse:
    """Which column is which, what the words mean, and keeping it. Parsing happens before anything is pressed."""
    item = _item(request, code, purpose)
    name = request.session.get(WAITING, {}).get(digest)
    if name is None:
        raise Http404("This table was not uploaded in this session. Upload it again.")
    try:
        data = vault.get(digest)
    except FileNotFoundError:
        raise Http404("This table is no longer here. Upload it again.") from None
    sheet = cells.load(data, name)
    form = _form(request, purpose, item, sheet, data, name)

    def act(said: dict[str, Any]) -> str:
        remember(f"spans-{purpose}", sheet.headers, form.mapping())
        return _keep(purpose, item, said, request, data, name)

    press_it = press_and_derive if purpose == "coverage" else _press
    if done := press_it(request, form, f"read-table-{purpose}", item, act):
        return done
    warnings = _warnings(purpose, item)
    context = page(item, TITLES[purpose], form=form, cells=sheet, name=name, size=len(data), misled=warnings)
    return show(request, "bench/read_table.html", context)


def _press(request: StaffRequest, form: Any, verb: str, item: Item, act: Any) -> HttpResponse | None:
    return press(request, form, f"{verb} {item.pk}", act)


def _form(request: StaffRequest, purpose: str, item: Item, sheet: cells.Cells, data: bytes, name: str) -> Any:
    known = {"item": item, "cells": sheet, "remembered": remembered(f"spans-{purpose}", sheet.headers)}
    if purpose == "coverage":
        last = CoverageUpload.objects.filter(signature=signature(sheet.headers)).order_by("-pk").first()
        return bound(request, forms.CoverageTableForm, how=dict(last.how) if last else {}, raw=data, name=name, **known)
    return bound(request, forms.HeadTableForm if purpose == "heads" else forms.AreaTableForm, how={}, **known)


def _keep(purpose: str, item: Item, said: dict[str, Any], request: StaffRequest, data: bytes, name: str) -> str:
    about = {"item": item, "by": request.actor, "happened": said["happened"]}
    if purpose == "coverage":
        made = actions.keep_upload(ready=said["ready"], pass_number=said["pass_number"], **about)
        return made.get_absolute_url()
    spans = said["said"]
    if purpose == "heads":
        actions.map_heads(
            firsts=spans.firsts, sectors=spans.sectors, heads=said["heads"], data=data,
            name=name, low_is_outer=said["low_is_outer"], notes=[*_warnings(purpose, item), *spans.notes], **about,
        )  # fmt: skip
        return address("heads", item)
    wanted = None if said["wanted"] == "structures" else Wanted.objects.get(case=item.case, pk=said["wanted"])
    actions.tie_area(name=said["name"], spans=[spans.firsts, spans.sectors], wanted=wanted, **about)
    return address("areas", item)
