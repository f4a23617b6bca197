"""Paper pads: reserve one, print it, see which sheets are not typed in yet, void a spoilt sheet."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from labcases.cases.pads import actions, papers, queries
from labcases.cases.pads.forms import PadForm, PrintPadForm, VoidSheetForm
from labcases.core.refused import Refused
from labcases.core.views import bound, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK, to_press=Right.TAKE_IN)
def pads(request: StaffRequest) -> HttpResponse:
    """Every pad; sent, it reserves the codes of a new one."""
    form = bound(request, PadForm)

    def act(said: dict[str, Any]) -> str:
        made = actions.reserve_pad(count=said["count"], by=request.actor, happened=timezone.now())
        return reverse("cases:pad", args=[made[0].pad])

    if done := press(request, form, "reserve-pad", act):
        return done
    return show(request, "cases/pads.html", {"form": form, "pads": queries.pads(), "place": "Counter"})


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK, to_press=Right.TAKE_IN)
def pad(request: StaffRequest, pad: int) -> HttpResponse:
    """The sheets of a pad and what became of each; sent, it prints the pad."""
    sheets = queries.sheets_of(pad)
    form = PrintPadForm(request.POST or None, initial={"size": request.lab.paper_size})
    if request.method == "POST" and form.is_valid():
        try:
            paper = papers.print_pad(sheets, by=request.actor, size=form.cleaned_data["size"])
        except Refused as refused:
            form.add_refusal(refused)
        else:
            return see_other(request, paper.get_absolute_url())
    printed = Paper.objects.filter(kind=papers.KIND, key__startswith=f"{papers.KIND}/{pad}/").select_related("by")
    context = {"form": form, "pad": pad, "sheets": sheets, "papers": printed, "place": "Counter"}
    return show(request, "cases/pad.html", context)


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def void_sheet(request: StaffRequest, code: str) -> HttpResponse:
    """A sheet that will not be typed in, with the reason."""
    sheet = queries.sheet_for(code)
    form = bound(request, VoidSheetForm)

    def act(said: dict[str, Any]) -> str:
        made = actions.void_sheet(reserved=sheet, by=request.actor, because=said["because"], happened=said["happened"])
        messages.success(request, f"Sheet {made} is void.")
        return reverse("cases:pad", args=[made.pad])

    if done := press(request, form, "void-sheet", act):
        return done
    context = {
        "form": form,
        "title": f"Void sheet {sheet}",
        "lead": f"Sheet {sheet.sheet} of pad {sheet.pad}. Its code is never used; the paper is kept with the pad.",
        "button": "Void this sheet",
        "danger": True,
        "back": reverse("cases:pad", args=[sheet.pad]),
        "place": "Counter",
    }
    return show(request, "verb.html", context)
