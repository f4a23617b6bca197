"""The pages of an import. Each kind asks for its own right; who may not bring such tables does not see them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from labcases.core import codes, vault
from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.imports import actions, queries
from labcases.imports.forms import ColumnsForm, FileForm, LabelsForm, ReadAgainForm, RowsFilter, TakeInForm, UndoForm
from labcases.imports.kinds import KINDS, Kind
from labcases.imports.models import Import, counts
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.lab.symbols import NoSymbol
from labcases.paper.labels import SIZES, Label, LabelTooSmall
from labcases.paper.papers import label_sheet
from labcases.paper.render import PaperMachineMissing
from labcases.paper.views import POLICY

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
ROWS = 50


def kind_for(request: StaffRequest, key: str) -> Kind:
    """The kind of table; 404 when there is none, NotAllowed for who may not bring it."""
    if key not in KINDS:
        raise Http404("There is no such kind of table.")
    request.actor = request.user.acting(KINDS[key].right)
    return KINDS[key]


def table_for(request: StaffRequest, pk: int) -> Import:
    table = queries.table_for(request.user, pk)
    request.actor = request.user.acting(table.of.right)
    return table


@GET_OR_POST
@needs(Right.LOOK)
def new(request: StaffRequest, kind: str) -> HttpResponse:
    """Send a table. Reading its head may take a moment, so it happens before anything is pressed."""
    wanted = kind_for(request, kind)
    form = bound(request, FileForm)
    if request.method == "POST" and form.is_valid():
        try:
            return see_other(request, _started(request, wanted, form.cleaned_data["file"]).get_absolute_url())
        except Refused as refused:
            form.add_refusal(refused)
    earlier = Import.objects.filter(kind=kind).select_related("by")[:20]
    context = {"form": form, "kind": wanted, "earlier": earlier, "place": wanted.place}
    return show(request, "imports/new.html", context)


def _started(request: StaffRequest, kind: Kind, sent: Any) -> Import:
    with vault.incoming() as beside:
        with Path(beside).open("wb") as out:
            for block in sent.chunks():
                out.write(block)
        return actions.start(
            kind=kind.key, file=beside, name=sent.name or "table", by=request.actor, happened=timezone.now()
        )


@require_GET
@needs(Right.LOOK)
def one(request: StaffRequest, pk: int) -> HttpResponseBase:
    """Where an import stands: its columns, its rows and what became of them."""
    table = table_for(request, pk)
    if table.state == Import.State.COLUMNS:
        return see_other(request, reverse("imports:columns", args=[table.pk]))
    sift = RowsFilter(request.GET)
    rows = sift.narrow(table.rows.defer("changes", "before")) if not table.working else table.rows.none()
    if request.GET.get("format") == "csv":
        return csv_file(
            f"import-{pk}", ["row", "fate", "why"], rows.values_list("number", "fate", "because").iterator()
        )
    context = {
        "table": table,
        "kind": table.of,
        "counts": counts(table),
        "filter": sift,
        "page": Paginator(rows, ROWS).get_page(request.GET.get("page")),
        "take": TakeInForm(initial={"refused": "skip"}),
        "place": table.of.place,
    }
    return show(request, "imports/one.html", context)


@require_GET
@needs(Right.LOOK)
def going(request: StaffRequest, pk: int) -> HttpResponse:
    """How far the work is; when it has ended, the page is loaded anew."""
    table = table_for(request, pk)
    if not table.working:
        response = HttpResponse(status=200)
        response["HX-Refresh"] = "true"
        return response
    return show(request, "imports/_going.html", {"table": table})


@GET_OR_POST
@needs(Right.LOOK)
def columns(request: StaffRequest, pk: int) -> HttpResponse:
    """Which column is which field, with the first rows to look at; sent, every row is judged."""
    table = table_for(request, pk)
    if table.working or not table.file:
        return see_other(request, table.get_absolute_url())
    choices = queries.columns_of(table)
    start = {key: str(column) for key, column in table.mapping.items()}
    form = bound(request, ColumnsForm, fields=table.of.fields, columns=choices, initial=start)

    def act(said: dict[str, Any]) -> Import:
        return actions.check(table=table, mapping=form.mapping(), by=request.actor)

    if done := press(request, form, "choose-columns", act):
        return done
    opened, rows = queries.looked_at(table)
    again = ReadAgainForm(sheets=opened.sheets, initial={"sheet": table.sheet, "header_row": opened.header_row})
    context = {"form": form, "table": table, "kind": table.of, "rows": rows, "opened": opened, "again": again}
    return show(request, "imports/columns.html", {**context, "place": table.of.place})


@require_POST
@needs(Right.LOOK)
def read_again(request: StaffRequest, pk: int) -> HttpResponse:
    """Read another sheet, or the headers from another row."""
    table = table_for(request, pk)
    form = ReadAgainForm(request.POST, sheets=queries.looked_at(table)[0].sheets)
    if form.is_valid():
        sheet, header_row = form.cleaned_data.get("sheet") or "", form.cleaned_data["header_row"] or 0
        actions.read_again(table=table, sheet=sheet, header_row=header_row, by=request.actor)
    return see_other(request, reverse("imports:columns", args=[table.pk]))


@GET_OR_POST
@needs(Right.LOOK)
def take_in(request: StaffRequest, pk: int) -> HttpResponse:
    """Take the rows in, all or without the refused ones."""
    table = table_for(request, pk)
    form = bound(request, TakeInForm)

    def act(said: dict[str, Any]) -> Import:
        skip = said["refused"] == "skip"
        return actions.take_in(table=table, skip_refused=skip, by=request.actor, happened=said["happened"])

    context = {"title": "Take the rows in", "form": form, "about": table, "about_words": table.name}
    return press(request, form, "take-in", act) or show(request, "verb.html", {**context, "place": table.of.place})


@require_POST
@needs(Right.LOOK)
def leave(request: StaffRequest, pk: int) -> HttpResponse:
    """Do nothing with it."""
    table = table_for(request, pk)
    actions.leave(table=table, by=request.actor)
    return see_other(request, table.get_absolute_url())


@GET_OR_POST
@needs(Right.LOOK)
def undo(request: StaffRequest, pk: int) -> HttpResponse:
    """Take the whole import back."""
    table = table_for(request, pk)
    form = bound(request, UndoForm)

    def act(said: dict[str, Any]) -> Import:
        return actions.undo(table=table, by=request.actor, happened=timezone.now(), because=said["because"])

    lead = "Everything it brought goes again, and what it changed is put back, as long as nothing of it was used."
    context = {"title": "Undo this import", "form": form, "about": table, "about_words": table.name, "lead": lead}
    context |= {"danger": True, "place": table.of.place}
    return press(request, form, "undo-import", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK)
def labels(request: StaffRequest, pk: int) -> HttpResponse:
    """Labels for everything that came in. Setting takes its time: no transaction."""
    table = table_for(request, pk)
    things = queries.wanting_labels(table)
    form = bound(request, LabelsForm, count=things.count())
    if request.method == "POST" and form.is_valid():
        try:
            return _printed(request, table, form.chosen(things), form.cleaned_data)
        except (LabelTooSmall, NoSymbol, PaperMachineMissing) as problem:
            form.add_refusal(Refused(str(problem)))
    context = {"title": "Print labels", "form": form, "about": table, "about_words": table.name}
    return show(request, "verb.html", {**context, "place": table.of.place})


def _printed(request: StaffRequest, table: Import, things: Any, said: dict[str, Any]) -> HttpResponse:
    now = timezone.now()
    many = [Label(t.printed_code, codes.symbol(t.code), t.words[:60], t.get_kind_display()) for t in things]
    pdf = label_sheet(many, SIZES[said["size"]], title="Labels", language="en-GB", issued=now, first=said["first"])
    actions.labelled(table=table, count=len(many), by=request.actor, happened=now)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = content_disposition_header(False, "labels.pdf") or "inline"
    response["Cache-Control"] = "private, no-store"
    response["Content-Security-Policy"] = POLICY
    return response


@require_GET
@needs(Right.LOOK)
def refused(request: StaffRequest, pk: int) -> HttpResponseBase:
    """The refused rows as CSV, with the reason beside each: put right, they can be sent again."""
    table = table_for(request, pk)
    return csv_file(f"import-{pk}-refused", ["row", "refused because", *table.headers], queries.refused_rows(table))
