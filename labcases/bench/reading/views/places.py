"""Where things lie: the layout, what is wanted, the heads."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.bench.reading import actions, queries
from labcases.bench.reading.forms.verbs import AreaForm, LayoutForm, VerdictForm
from labcases.bench.reading.models import ReadingArea
from labcases.bench.reading.views.common import GET_OR_POST, address, page, unsized
from labcases.cases.models import Wanted
from labcases.cases.queries import item_for
from labcases.core.forms import LabForm
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right


@GET_OR_POST
@needs(Right.EXAMINE)
def layout(request: StaffRequest, code: str) -> HttpResponse:
    """Keep how the medium is divided."""
    item = item_for(request.user, code)
    form = bound(request, LayoutForm, item=item)

    def act(said: dict[str, Any]) -> str:
        actions.keep_layout(item=item, by=request.actor, happened=said["happened"], **said["layout"])
        return address("areas", item)

    if done := press(request, form, f"keep-layout {item.pk}", act):
        return done
    lead = "Read from the clone, never from the patient. An older layout stays on record."
    return show(request, "verb.html", page(item, "Keep the layout", form=form, lead=lead))


@require_GET
@needs(Right.LOOK)
def areas(request: StaffRequest, code: str) -> HttpResponse:
    """The layout, and where what is wanted lies."""
    read = queries.read_of(item_for(request.user, code))
    lines = read.item.case.wanted.all()
    tied = {area.wanted_id for area in read.areas}
    context = page(
        read.item, "Where things lie", read=read, counted=read.counted_areas(), unsized=unsized(read),
        untied=[line for line in lines if line.pk not in tied],
    )  # fmt: skip
    return show(request, "bench/areas.html", context)


@GET_OR_POST
@needs(Right.EXAMINE)
def tie_area(request: StaffRequest, code: str) -> HttpResponse:
    """Say where something lies, as a part of the medium."""
    item = item_for(request.user, code)
    read = queries.read_of(item)
    form = bound(request, AreaForm, read=read)

    def act(said: dict[str, Any]) -> str:
        wanted = None if said["wanted"] == "structures" else Wanted.objects.get(case=item.case, pk=said["wanted"])
        name = said["name"] or form.in_words()
        actions.tie_area(
            item=item, name=name, spans=[said["span"]], wanted=wanted, by=request.actor, happened=said["happened"]
        )
        return address("areas", item)

    if item.sectors and (done := press(request, form, f"tie-area {item.pk}", act)):
        return done
    return show(request, "verb.html", page(item, "Say where it lies", form=form, lead=unsized(read)))


@GET_OR_POST
@needs(Right.EXAMINE)
def drop_area(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """Take an area out again."""
    item = item_for(request.user, code)
    area = get_object_or_404(ReadingArea.objects.select_related("item__thing", "item__case__thing"), item=item, pk=pk)
    form = bound(request, LabForm)

    def act(said: dict[str, Any]) -> str:
        actions.drop_area(area=area, by=request.actor, happened=timezone.now())
        return address("areas", item)

    if done := press(request, form, f"drop-area {pk}", act):
        return done
    lead = f"“{area.name}” no longer counts as a place of what is wanted. Nothing that was read changes."
    return show(request, "verb.html", page(item, "Take it out", form=form, lead=lead))


@require_GET
@needs(Right.LOOK)
def heads(request: StaffRequest, code: str) -> HttpResponse:
    """Heads by sector: how each does beside its neighbours."""
    read = queries.read_of(item_for(request.user, code))
    misled = queries.misleading(read.item)
    context = page(read.item, "Heads by sector", read=read, unsized=unsized(read), misled=misled)
    return show(request, "bench/heads.html", context)


@GET_OR_POST
@needs(Right.EXAMINE)
def judge_head(request: StaffRequest, code: str, head: int) -> HttpResponse:
    """Decide how a head does, over what its readings say."""
    item = item_for(request.user, code)
    read = queries.read_of(item)
    if head not in read.head_spans:
        raise Http404(f"There is no head {head} in the table of heads by sector.")
    form = bound(request, VerdictForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("state", "because", "happened")}
        actions.judge_head(item=item, head=head, by=request.actor, **about)
        return address("heads", item)

    if done := press(request, form, f"judge-head {item.pk} {head}", act):
        return done
    said = next((row.said.why for row in read.head_rows if row.said.number == head), "")
    return show(request, "verb.html", page(item, f"Head {head}", form=form, lead=said, button="Record its state"))
