"""What lies ahead: plans in versions, and the forecast."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from labcases.bench import charts
from labcases.bench.forecast import Pace, in_bytes, in_numbers, in_time, time_left
from labcases.bench.reading import actions, queries
from labcases.bench.reading.forms.verbs import PlanForm, ProgressForm
from labcases.bench.reading.models import PlanVersion
from labcases.bench.reading.views.common import GET_OR_POST, address, page, unsized
from labcases.bench.spans import BadSpan
from labcases.cases.queries import item_for
from labcases.core.views import bound, csv_file, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

HEAD = ["order", "first sector", "sectors", "direction", "heads", "step", "part", "name", "why"]
ROWS = 100
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_IN_A_SHEET = 1_048_575
AT_ONCE, MOST_SHOWN = 12, 500  # of the readings: older ones are folded away, the rest is in the CSV


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def plans(request: StaffRequest, code: str) -> HttpResponse:
    """Plan the next pass; the versions there are."""
    item = item_for(request.user, code)
    read = queries.read_of(item)
    newest = max((upload.pass_number for upload in read.uploads), default=1)
    form = bound(request, PlanForm, total=read.total, initial={"pass_number": newest})
    ready: dict[str, Any] = {}
    if request.method == "POST" and item.sectors and form.is_valid():
        try:
            ready["plan"] = queries.plan_of(read, form.cleaned_data)  # a second of work, before anything is pressed
        except BadSpan as wrong:
            form.add_error(None, str(wrong))

    def act(said: dict[str, Any]) -> PlanVersion:
        asked = {
            name: said[name] for name in ("pass_number", "damage", "damage_spans", "only_wanted", "tried", "steps")
        }
        asked["heads"] = {str(row.said.number): str(row.state) for row in read.head_rows}
        return actions.keep_plan(
            item=item, plan=ready["plan"], asked=asked, derivation=read.derivation, by=request.actor,
            happened=said["happened"],
        )  # fmt: skip

    if ready and (done := press(request, form, f"plan {item.pk}", act)):
        return done
    kept = PlanVersion.objects.filter(item=item).select_related("by", "item__thing", "derivation").order_by("-number")
    context = page(item, "Plan", read=read, form=form, plans=kept[:50], unsized=unsized(read))
    return show(request, "bench/plans.html", context)


@require_GET
@needs(Right.LOOK)
def plan(request: StaffRequest, code: str, number: int) -> HttpResponseBase:
    """One version: its lines in order; as CSV or XLSX."""
    item = item_for(request.user, code)
    rows = PlanVersion.objects.select_related("by", "item__thing", "item__case__thing", "derivation")
    found = get_object_or_404(rows, item=item, number=number)
    columns = queries.lines_of(found)
    name = f"plan-{item}-{number}"
    if request.GET.get("format") == "csv":
        return csv_file(name, HEAD, queries.rows_of(columns))
    if request.GET.get("format") == "xlsx":
        return _workbook(name, queries.rows_of(columns, 0, MOST_IN_A_SHEET))
    pages = Paginator(range(found.spans), ROWS)
    here = pages.get_page(request.GET.get("page"))
    begin = (here.number - 1) * ROWS
    read = queries.read_of(item)
    context = page(
        item, f"Plan {number}", plan=found, page=here, lines=queries.rows_of(columns, begin, begin + ROWS),
        overtaken=bool(read.derivation and found.derivation_id != read.derivation.pk),
        newer=rows.filter(item=item, number__gt=number).order_by("-number").first(),
    )  # fmt: skip
    return show(request, "bench/plan.html", context)


def _workbook(name: str, rows: list[list[Any]]) -> HttpResponse:
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("plan")
    sheet.append(HEAD)
    for row in rows:
        sheet.append(row)
    response = HttpResponse(content_type=XLSX)
    book.save(response)
    response["Content-Disposition"] = content_disposition_header(True, f"{name}.xlsx") or "attachment"
    return response


@require_GET
@needs(Right.LOOK)
def forecast(request: StaffRequest, code: str) -> HttpResponseBase:
    """How long the rest will take, and whether going on is worth it."""
    item = item_for(request.user, code)
    read = queries.read_of(item)
    ahead = queries.forecast_of(read)
    if request.GET.get("format") == "csv":
        rows = ([r.happened.isoformat(), r.pass_number, r.head, r.sectors, r.wanted_bytes] for r in ahead.readings)
        return csv_file(f"progress-{item}", ["at", "pass", "head", "sectors", "wanted bytes"], rows)
    shown = ahead.readings[: -MOST_SHOWN - 1 : -1]
    context = page(
        item, "Forecast", read=read, ahead=ahead, unsized=unsized(read), chart=charts.progress(*_charted(ahead)),
        paces=[_in_words(pace) for pace in ahead.forecast.paces], newest=shown[:AT_ONCE], older=shown[AT_ONCE:],
        shown=len(shown),
    )  # fmt: skip
    return show(request, "bench/forecast.html", context)


def _in_words(pace: Pace) -> dict[str, Any]:
    """A rate in words, its interval beside it."""
    return {
        "name": pace.name,
        "readings": pace.readings,
        "on_machine": in_time(pace.seconds),
        "rate": in_numbers(pace.sectors_an_hour),
        "wanted": in_bytes(pace.wanted_an_hour.likely) if pace.wanted_an_hour else "",
        "left": pace.sectors_left,
        "time": time_left(pace.time_left) if pace.sectors_left else "nothing is left",
    }


def _charted(ahead: Any) -> tuple[list[tuple[float, int]], Any, int]:
    """The readings of what is being read now, in hours since the first; its pace; what is left."""
    pace = ahead.forecast.current
    if pace is None:
        return [], None, 0
    mine = [row for row in ahead.readings if (row.pass_number, row.head) == pace.key]
    begun = mine[0].happened
    points = [((row.happened - begun).total_seconds() / 3600, row.sectors) for row in mine]
    return points, pace.sectors_an_hour, pace.sectors_left


@GET_OR_POST
@needs(Right.EXAMINE)
def note_progress(request: StaffRequest, code: str) -> HttpResponse:
    """Note how much had been read at a moment."""
    item = item_for(request.user, code)
    form = bound(request, ProgressForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("sectors", "pass_number", "head")}
        noted = actions.Noted(at=said["happened"], wanted_bytes=said["wanted_bytes"] or 0, **about)
        actions.note_progress(item=item, noted=[noted], by=request.actor, happened=said["happened"], anew=said["anew"])
        return address("forecast", item)

    if done := press(request, form, f"note-progress {item.pk}", act):
        return done
    return show(request, "verb.html", page(item, "Note progress", form=form))
