"""Dumps: kept at an item or a family, seen, and given out to whoever works at the bench."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods

from labcases.bench.dumps import actions
from labcases.bench.dumps.forms import DumpForm
from labcases.bench.models import Dump
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core import vault
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock.models import Family

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
WHY = "Saved before anything is written, and read twice. Reading all of it on weak heads is harm: say so then."
NAMES = ("kind", "name", "outcome", "again", "note", "happened")


@GET_OR_POST
@needs(Right.EXAMINE)
def keep_dump(request: StaffRequest, code: str) -> HttpResponse:
    """A dump of an item."""
    item = item_for(request.user, code)
    return _keep(request, "Keep a dump", item, item.medium_words, item=item)


@GET_OR_POST
@needs(Right.EXAMINE)
def keep_family_dump(request: StaffRequest, pk: int) -> HttpResponse:
    """A dump that belongs to a family, of no patient of ours."""
    family = get_object_or_404(Family, pk=pk)
    return _keep(request, "Keep a dump of the family", family, "", family=family)


def _keep(request: StaffRequest, title: str, about: Item | Family, words: str, **whose: Any) -> HttpResponse:
    form = bound(request, DumpForm)

    def act(said: dict[str, Any]) -> str:
        told = {name: said[name] for name in NAMES}
        actions.keep_dump(by=request.actor, data=said["first"], **whose, **told)
        where = about.get_absolute_url()
        return f"{where.partition('#')[0]}#dumps"

    if done := press(request, form, f"keep-dump {about.pk}", act):
        return done
    context = {"title": title, "form": form, "about": about, "about_words": words, "lead": WHY, "place": "Bench"}
    return show(request, "verb.html", context)


@require_GET
@needs(Right.LOOK)
def dump(request: StaffRequest, pk: int) -> HttpResponse:
    """What a dump is; never its bytes."""
    found = get_object_or_404(Dump.objects.select_related("item__thing", "item__case__thing", "family", "by"), pk=pk)
    return show(request, "bench/dump.html", {"dump": found, "place": "Bench"})


@require_GET
@needs(Right.EXAMINE)
def dump_file(request: StaffRequest, pk: int, which: str) -> HttpResponse:
    """The bytes of the first or the second reading, checked against their digest, as a file to keep."""
    found = get_object_or_404(Dump, pk=pk)
    digest = found.file if which == "first" else found.second
    if not digest:
        raise Http404("There is no such reading.")
    response = HttpResponse(vault.get(digest), content_type="application/octet-stream")
    name = "-".join(part for part in (found.kind, found.name, digest[:12]) if part)
    response["Content-Disposition"] = content_disposition_header(True, f"{name}.bin") or "attachment"
    response["X-Content-Type-Options"] = "nosniff"
    return response
