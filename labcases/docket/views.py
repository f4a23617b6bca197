"""The front pages of the places, the page of a case, and finding."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET

from labcases.cases.pads.models import ReservedCode
from labcases.cases.queries import case_for
from labcases.core import codes, sections
from labcases.core.text import one_line
from labcases.core.views import page_or_fragment, show
from labcases.custody.models import Thing
from labcases.docket import queries
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Place
from labcases.lab.roles import Right, Role

PLACES = {
    "counter": "Counter",
    "bench": "Bench",
    "stockroom": "Stockroom",
    "office": "Office",
    "custody": "Custody",
}
FIRST_PLACE = {Role.COUNTER: "counter", Role.ENGINEER: "bench", Role.MANAGER: "office", Role.AUDITOR: "custody"}


@require_GET
@needs(Right.LOOK)
def home(request: StaffRequest) -> HttpResponse:
    """The place where this person works."""
    return redirect(f"docket:{FIRST_PLACE[request.user.roles[0]]}")


@require_GET
@needs(Right.LOOK)
def place(request: StaffRequest, place: str) -> HttpResponse:
    """A front page: the parts that the rooms put on it, in their order."""
    parts = [(part, part.context(request)) for part in sections.of_front(place)]
    return show(request, "docket/place.html", {"place": place, "title": PLACES[place], "parts": parts})


@require_GET
@needs(Right.LOOK)
def case(request: StaffRequest, code: str) -> HttpResponse:
    """The docket of a case."""
    found = case_for(request.user, code)
    here = request.GET.get("place", "")
    context = {"docket": queries.docket(found, request.user, place=here), "case": found}
    return page_or_fragment(request, "docket/case.html", "docket/_case.html", context)


@require_GET
@needs(Right.LOOK)
def find(request: StaffRequest) -> HttpResponse:
    """Open what was scanned or typed; list what it may mean when it is no code."""
    typed = one_line(request.GET.get("q", ""))[:200]
    said = ""
    try:
        code = codes.parse(typed)
    except codes.MistypedCode as mistake:
        said = str(mistake) if mistake.mistake == codes.Mistake.WRONG_CHECK else ""
    else:
        if thing := Thing.objects.filter(code=code.folded).first():
            return redirect(queries.address_of(thing))
        if spot := Place.objects.filter(code=code.folded).first():
            return redirect("custody:place", spot.code)
        if sheet := ReservedCode.objects.filter(code=code.folded).first():
            if request.actor.may(Right.TAKE_IN):
                return redirect(sheet)
            said = f"{code.printed} stands on a sheet of paper pad {sheet.pad} that is not typed in yet."
        else:
            said = f"Nothing carries the code {code.printed}."
    found = queries.search(typed) if typed else None
    return show(request, "docket/find.html", {"typed": typed, "said": said, "found": found})
