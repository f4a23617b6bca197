"""What has been read: the picture, the counts, the uploads; entries by hand; withdrawals."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from labcases.bench.drawing import STATE_WORDS
from labcases.bench.reading import actions, queries
from labcases.bench.reading.forms.verbs import BecauseForm, HandForm, WindowForm
from labcases.bench.reading.models import CoverageUpload
from labcases.bench.reading.papers import print_coverage
from labcases.bench.reading.views.common import GET_OR_POST, address, page, press_and_derive, unsized
from labcases.bench.spans import BadSpan
from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core import vault
from labcases.core.forms import LabForm
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

MOST_LISTED = 200
HEAD = ["what", "sectors", "read %", *queries.SHOWN]


@require_GET
@needs(Right.LOOK)
def coverage(request: StaffRequest, code: str) -> HttpResponseBase:
    """The coverage picture (``?part=2`` or ``?from=&to=``), its table, the counts and the uploads."""
    item = item_for(request.user, code)
    read = queries.read_of(item)
    wrong = ""
    try:
        asked = (request.GET.get(name, "") for name in ("part", "from", "to"))
        seen = queries.window(read, *asked)
    except BadSpan as said:
        seen, wrong = queries.Window(0, read.total), str(said)
    rows = _counted(read)
    if request.GET.get("format") == "csv":
        return csv_file(f"coverage-{item}", HEAD, ([r.name, r.sectors, r.share, *r.cells] for r in rows))
    every = CoverageUpload.objects.filter(item=item).select_related("by", "withdrawal__by", "item__thing")
    context = page(
        item, "What was read", read=read, drawn=queries.drawn(read, seen, key="all"), window=seen, wrong=wrong,
        rows=rows, states=[STATE_WORDS[state] for state in queries.SHOWN], unsized=unsized(read),
        closer=WindowForm(initial={"from": seen.first, "to": seen.last}),
        uploads=every.order_by("-number")[:MOST_LISTED],
    )  # fmt: skip
    return show(request, "bench/coverage.html", context)


def _counted(read: queries.Read) -> list[queries.Counted]:
    whole = read.counted()
    heads = [row.counted for row in read.head_rows]
    return [*([whole] if whole else []), *read.counted_parts(), *heads, *read.counted_areas()]


@GET_OR_POST
@needs(Right.EXAMINE)
def by_hand(request: StaffRequest, code: str) -> HttpResponse:
    """Enter what was read by hand: the second partition, two fifths."""
    item = item_for(request.user, code)
    read = queries.read_of(item)
    form = bound(request, HandForm, read=read)

    def act(said: dict[str, Any]) -> CoverageUpload:
        about = {name: said[name] for name in ("pass_number", "head", "because", "happened")}
        return actions.keep_upload(item=item, ready=said["ready"], verb=form.verb, by=request.actor, **about)

    if item.sectors and (done := press_and_derive(request, form, "coverage-by-hand", item, act)):
        return done
    return show(request, "verb.html", page(item, "Enter what was read", form=form, lead=unsized(read)))


def upload_for(request: StaffRequest, code: str, number: int) -> CoverageUpload:
    item = item_for(request.user, code)
    rows = CoverageUpload.objects.select_related("by", "withdrawal__by", "item__thing", "item__case__thing")
    return get_object_or_404(rows, item=item, number=number)


@require_GET
@needs(Right.LOOK)
def upload(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """One upload: what came, how it was read, what was put right by rule."""
    found = upload_for(request, code, number)
    means = [(word or "an empty cell", state or "left aside") for word, state in found.how.get("states", {}).items()]
    return show(request, "bench/coverage_upload.html", page(found.item, f"Upload {number}", upload=found, means=means))


@require_GET
@needs(Right.EXAMINE)
def upload_file(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """The bytes as they came."""
    found = upload_for(request, code, number)
    response = HttpResponse(vault.get(found.file), content_type="application/octet-stream")
    name = found.name if found.source == CoverageUpload.Source.TABLE else f"upload-{found.number}.json"
    response["Content-Disposition"] = content_disposition_header(True, name or "upload") or "attachment"
    response["X-Content-Type-Options"] = "nosniff"
    return response


@GET_OR_POST
@needs(Right.EXAMINE)
def withdraw(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """Take an upload back as a whole."""
    found = upload_for(request, code, number)
    form = bound(request, BecauseForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("because", "happened")}
        actions.withdraw_upload(upload=found, by=request.actor, **about)
        return address("coverage", found.item)

    if done := press_and_derive(request, form, f"withdraw-coverage {number}", found.item, act):
        return done
    lead = f"{found.name or 'It'} is taken back as a whole. Its bytes stay, and what lay under it counts again."
    context = page(found.item, f"Withdraw upload {number}", form=form, lead=lead, danger=True)
    return show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def rebuild(request: StaffRequest, code: str) -> HttpResponse:
    """Work the coverage out from all uploads, from nothing."""
    item = item_for(request.user, code)
    form = bound(request, LabForm)
    if done := press(request, form, "rebuild-coverage", lambda said: address("coverage", item)):
        actions.derive(item, anew=True)
        return done
    lead = "Every standing upload is laid on again, from the first one on. The same uploads give the same coverage."
    return show(request, "verb.html", page(item, "Work the coverage out anew", form=form, lead=lead))


@GET_OR_POST
@needs(Right.LOOK)
def print_it(request: StaffRequest, code: str) -> HttpResponse:
    """The coverage on paper."""
    return print_coverage_page(request, item_for(request.user, code))


def print_coverage_page(request: StaffRequest, item: Item) -> HttpResponse:
    read = queries.read_of(item)
    form = bound(request, LabForm)
    if request.method == "POST" and form.is_valid() and read.derivation:
        made = print_coverage(read, by=request.actor, issued=timezone.now())
        return see_other(request, reverse("paper:show", args=[made.pk]))
    lead = "" if read.derivation else "Nothing was uploaded yet: there is nothing to print."
    return show(request, "verb.html", page(item, "Print the coverage", form=form, lead=lead))
