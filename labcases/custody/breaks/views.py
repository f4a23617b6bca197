"""The list of breaks, and the answer of a manager to one."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET, require_http_methods

from labcases.core.forms import LineField
from labcases.core.views import bound, csv_file, press, show
from labcases.custody import lines
from labcases.custody.breaks import queries
from labcases.custody.models import Break, Event
from labcases.custody.noting.actions import correct
from labcases.custody.noting.forms import CorrectForm
from labcases.custody.noting.queries import history_of
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

ROWS = 50
GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
COLUMNS = {"event": "event", "thing": "thing__code", "grade": "grade", "happened": "happened"}
HEAD = ["thing", "what", "event", "happened", "grade", "break", "answer", "answered by"]


class BreakFilter(forms.Form):
    """What the list is narrowed by."""

    grade = forms.ChoiceField(
        label="Grade", required=False, choices=[("", "every grade"), *((grade, grade) for grade in lines.GRADES)]
    )
    state = forms.ChoiceField(
        label="Answer", required=False, choices=[("", "all"), ("open", "not answered"), ("answered", "answered")]
    )
    q = LineField(label="Code", required=False)

    def narrow(self, rows: Any) -> Any:
        if not self.is_valid():
            return rows
        said = self.cleaned_data
        if said["grade"]:
            rows = rows.filter(grade=said["grade"])
        if said["state"]:
            rows = rows.filter(answered__isnull=said["state"] == "open")
        return rows.filter(thing__code__startswith=said["q"].replace("-", "").upper()) if said["q"] else rows


@require_GET
@needs(Right.LOOK)
def breaks(request: StaffRequest) -> HttpResponseBase:
    """Every break of every line, the newest first."""
    form = BreakFilter(request.GET)
    asked = request.GET.get("sort", "-event")
    column = COLUMNS.get(asked.removeprefix("-"), "event")
    rows = form.narrow(Break.objects.select_related("thing")).order_by(
        f"-{column}" if asked.startswith("-") else column, "-pk"
    )
    if request.GET.get("format") == "csv":
        return csv_file("breaks", HEAD, (_cells(one) for one in queries.shown(list(rows))))
    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    context = {"filter": form, "page": page, "shown": queries.shown(list(page)), "sort": "-event"}
    return show(request, "custody/breaks.html", context)


def _cells(one: queries.Shown) -> list[Any]:
    row = one.row
    return [row.thing, row.thing.words, row.event, row.happened, row.grade, row.sentence, one.answer, one.by]


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.CORRECT_ANY)
def one_break(request: StaffRequest, pk: int) -> HttpResponse:
    """One break with the event it shows at; a manager answers it by a correction."""
    row = get_object_or_404(Break.objects.select_related("thing"), pk=pk)
    event = Event.objects.defer("body").get(sequence=row.event)
    form = bound(request, CorrectForm)
    form.fields["because"].label, form.fields["because"].help_text = "How it was", "What really happened, in words."

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        correct(event=event, by=request.actor, **said)
        return row.get_absolute_url()

    context = {"form": form, "shown": queries.shown([row])[0], "chain": history_of(event)}
    return press(request, form, "answer-break", act) or show(request, "custody/break.html", context)
