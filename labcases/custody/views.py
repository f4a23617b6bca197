"""Where things are: the list, a thing and its line, a place and what lies there, moving; the ledger's public key."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from labcases.core import codes
from labcases.core.middleware import POLICY
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.custody import actions, papers, queries
from labcases.custody.breaks.queries import of_thing
from labcases.custody.forms import MoveForm, ThingFilter
from labcases.custody.models import Thing
from labcases.custody.scanning.actions import ask
from labcases.custody.scanning.queries import both_confirm
from labcases.lab.access import StaffRequest, needs
from labcases.lab.forms import PlaceForm
from labcases.lab.models import Place
from labcases.lab.roles import Right

ROWS = 50
ORDERS = {"event": "last_event", "code": "code", "kind": "kind", "since": "last_moved", "breaks": "breaks_open"}
COLUMNS = ["code", "kind", "what", "where", "since", "seals", "open breaks", "gravest"]
VERIFIER = Path(__file__).parent / "verifier" / "check_statement.py"
GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@require_GET
@needs(Right.LOOK)
def things(request: StaffRequest) -> HttpResponseBase:
    """Every thing with a code, where it is and since when."""
    form = ThingFilter(request.GET)
    asked = request.GET.get("sort", "-event")
    column = ORDERS.get(asked.removeprefix("-"), "last_event")
    order = f"-{column}" if asked.startswith("-") else column
    listed = form.narrow(Thing.objects.with_whereabouts().exclude(kind=Thing.Kind.DOCKET)).order_by(order, "-pk")
    if request.GET.get("format") == "csv":
        return csv_file("things", COLUMNS, (_cells(one) for one in listed.iterator()))
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    return show(request, "custody/things.html", {"filter": form, "page": page, "sort": "-event"})


def _cells(one: Thing) -> list[Any]:
    seals = " ".join(one.seals_on)
    where = [one.whereabouts, one.last_moved, seals, one.breaks_open, one.worst_break]
    return [one.printed_code, one.get_kind_display(), one.words, *where]


@require_GET
@needs(Right.LOOK)
def thing(request: StaffRequest, code: str) -> HttpResponse:
    """One thing and its line of custody."""
    found = thing_of(code)
    context = {"thing": found, "entries": queries.line_of(found), "breaks": of_thing(found)}
    return show(request, "custody/thing.html", context)


@require_GET
@needs(Right.LOOK)
def place(request: StaffRequest, code: str) -> HttpResponse:
    """One place and what lies there."""
    found = place_of(code)
    listed = Thing.objects.with_whereabouts().filter(place=found).exclude(kind=Thing.Kind.DOCKET)
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    return show(request, "custody/place.html", {"place": found, "page": page})


@GET_OR_POST
@needs(Right.KEEP_LAB)
def add_place(request: StaffRequest) -> HttpResponse:
    form = bound(request, PlaceForm)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("name", "kind", "in_use")}
        made = actions.add_place(by=request.actor, happened=timezone.now(), **about)
        return reverse("custody:place", args=[codes.printed(made.code)])

    return press(request, form, "add-place", act) or show(request, "custody/place_form.html", {"form": form})


@GET_OR_POST
@needs(Right.KEEP_LAB)
def change_place(request: StaffRequest, code: str) -> HttpResponse:
    found = place_of(code)
    start = {"name": found.name, "kind": found.kind, "in_use": found.in_use}
    form = bound(request, PlaceForm, place=found, initial=start)

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in start}
        actions.change_place(place=found, by=request.actor, happened=timezone.now(), **about)
        return reverse("custody:place", args=[codes.printed(found.code)])

    context = {"form": form, "place": found}
    return press(request, form, "change-place", act) or show(request, "custody/place_form.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.MOVE)
def move(request: StaffRequest) -> HttpResponse:
    """Put scanned things in a place, or hand them to a colleague. ``?thing=`` and ``?place=`` fill the form in."""
    start: dict[str, Any] = {"things": request.GET.get("thing", "")}
    if request.GET.get("place"):
        start["place"] = place_of(request.GET["place"])
    form = bound(request, MoveForm, initial=start)

    def act(said: dict[str, Any]) -> str:
        to = said["place"] or said["staff"]
        if said["staff"] and said["staff"] != request.user and both_confirm():
            same = {name: said[name] for name in ("things", "happened", "because")}
            return ask(to=to, by=request.actor, **same).get_absolute_url()
        actions.move_all(
            things=said["things"], to=to, by=request.actor, happened=said["happened"], because=said["because"]
        )
        return reverse("custody:place", args=[codes.printed(to.code)]) if said["place"] else reverse("docket:custody")

    return press(request, form, "move", act) or show(request, "custody/move.html", {"form": form})


@login_not_required
@require_safe
def public_key(request: HttpRequest) -> HttpResponse:
    """The lab's public key and its newest signed head, for anybody; ``?format=json`` for a program.

    ``?since=`` the size of an earlier head adds the proof that the ledger only grew since (RFC 9162 s.2.1.4).
    """
    now = queries.standing()
    if request.GET.get("format") != "json":
        return show(request, "custody/public_key.html", {"standing": now})
    said: dict[str, Any] = {"key": now.key, "head": now.head.as_record() if now.head else None}
    if "since" in request.GET:
        said["growth"] = _growth(request.GET["since"], now.head.size if now.head else 0)
    return JsonResponse(said)


def _growth(since: str, size: int) -> list[str]:
    if not since.isdecimal() or not 0 < int(since[:20]) <= size:
        raise Http404(f"The ledger holds {size} events; it has no head of {since[:20]}.")
    return queries.prove_growth(int(since), size)


@login_not_required
@require_safe
def verifier(request: HttpRequest) -> HttpResponse:
    """The program with which anybody checks a custody statement."""
    answer = HttpResponse(VERIFIER.read_bytes(), content_type="text/x-python; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{VERIFIER.name}"'
    return answer


# The page that checks a statement could not send it anywhere if it tried.
SENDS_NOTHING = "; ".join((POLICY, "connect-src 'none'")).replace("form-action 'self'", "form-action 'none'")


@login_not_required
@require_safe
def check(request: HttpRequest) -> HttpResponse:
    """The page that checks a custody statement inside the browser, for anybody."""
    answer = show(request, "custody/check.html", {"standing": queries.standing()})
    answer["Content-Security-Policy"] = SENDS_NOTHING
    return answer


@require_POST
@needs(Right.TELL)
def statement(request: StaffRequest, code: str) -> HttpResponse:
    """Print the custody statement of a case."""
    docket = thing_of(code)
    if docket.kind != Thing.Kind.DOCKET:
        raise Http404(f"{docket} is no case.")
    paper = papers.print_statement(docket, by=request.actor, issued=timezone.now())
    return see_other(request, paper.get_absolute_url())


def thing_of(code: str) -> Thing:
    found = Thing.objects.with_whereabouts().filter(code=codes.fold(code)).first()
    if found is None:
        raise Http404(f"Nothing carries the code {code}.")
    return found


def place_of(code: str) -> Place:
    found = Place.objects.filter(code=codes.fold(code)).first()
    if found is None:
        raise Http404(f"There is no place {code}.")
    return found
