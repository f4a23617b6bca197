"""For a patient: one door, then the part that fits, or somewhere to copy to, or what goes out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_GET

from labcases.cases.models import Item
from labcases.cases.queries import item_for
from labcases.core.clock import in_full
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.actions.media import need_of
from labcases.stock.forms.lists import MatchFilter
from labcases.stock.forms.parts import ReserveForm
from labcases.stock.forms.verbs import AssignForm
from labcases.stock.models import Destination, PoolImage
from labcases.stock.pools.actions import assign_pool
from labcases.stock.pools.queries import pool_for, rooms_for
from labcases.stock.queries import candidates
from labcases.stock.queries.served import medium_history, part_history
from labcases.stock.rules import CAUTIONS, PartKind
from labcases.stock.views.common import GET_OR_POST, medium_of, page_of, part_of

MOST_SHOWN, POOL = 60, "pool-"


@require_GET
@needs(Right.LOOK)
def assign(request: StaffRequest, code: str) -> HttpResponse:
    """The one door: a part, somewhere to copy to, or a delivery medium."""
    item = item_for(request.user, code)
    context = {
        "item": item,
        "parts": part_history().filter(item=item, ended=None),
        "media": medium_history().filter(item=item, ended=None),
        "images": PoolImage.objects.with_context().open().filter(item=item),
        "wanted": candidates.wanted_part(item),
        "place": "Stockroom",
    }
    return show(request, "stock/assign.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.ASSIGN)
def assign_donor(request: StaffRequest, code: str) -> HttpResponse:
    """Candidates beside the patient, attribute by attribute; one press assigns one."""
    item = item_for(request.user, code)
    form = bound(request, AssignForm)

    def act(said: dict[str, Any]) -> Any:
        about = {"lifted": said["lifted"], "answered": said["answered"], "happened": timezone.now()}
        try:
            return actions.assign_donor(part=_chosen(part_of, said), patient=item, by=request.actor, **about)
        except actions.PartTaken as taken:
            raise actions.PartTaken(taken.what, why=_ran_out(said["kept_until"]), mend=taken.mend) from None

    if done := press(request, form, "assign-donor", act):
        return done
    kind, excluded = _asked(request, item)
    found = candidates.match(item, kind, shown=_shown(request), excluded=excluded)
    sift = MatchFilter({"part": kind.value, "excluded": "on" if excluded else ""})
    rows = [(one, _form_for(form, str(one.part))) for one in found.shown]
    asked = actions.asked_before(kind, item)
    about = {"match": found, "rows": rows, "sift": sift, "asked": asked, "usual": CAUTIONS.get(kind, "")}
    context = _page(item, "Find a donor part", form, **about)
    return show(request, "stock/assign_donor.html", context)


def _ran_out(kept_until: str) -> list[str]:
    """What to say of a reservation that stood on the page and ran out while it was open."""
    until = parse_datetime(kept_until) if kept_until else None
    if until is None or timezone.is_naive(until) or until > timezone.now():
        return []
    return [f"The reservation that this page showed ran out at {in_full(timezone.localtime(until))}."]


@GET_OR_POST
@needs(Right.ASSIGN)
def reserve_part(request: StaffRequest, code: str) -> HttpResponse:
    """Keep a part for a patient until a time; ``?part=`` names it."""
    item = item_for(request.user, code)
    start = {"chosen": request.GET.get("part", ""), "until": ReserveForm.usual_end()}
    form = bound(request, ReserveForm, initial=start)

    def act(said: dict[str, Any]) -> Any:
        part, about = _chosen(part_of, said), {"until": said["until"], "because": said["because"]}
        return actions.reserve_part(part=part, patient=item, by=request.actor, happened=timezone.now(), **about)

    lead = f"{start['chosen'] or 'The part'} is kept for this patient; nobody but a manager gives it to another."
    context = page_of("Reserve the part", form, item, item.medium_words, lead=lead)
    return press(request, form, "reserve-part", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.ASSIGN)
def assign_destination(request: StaffRequest, code: str) -> HttpResponse:
    """Media that fit, the smallest first, and why others do not; and room on storage pools."""
    item = item_for(request.user, code)
    form, planned = bound(request, AssignForm), request.GET.get("reads") == "plan"

    def act(said: dict[str, Any]) -> Any:
        about: dict[str, Any] = {"patient": item, "by": request.actor, "happened": timezone.now(), "planned": planned}
        chosen = said["chosen"]
        if chosen.startswith(POOL) and chosen.removeprefix(POOL).isdecimal():
            return assign_pool(pool=_chosen(lambda key: pool_for(int(key.removeprefix(POOL))), said), **about)
        return actions.assign_destination(destination=_chosen(medium_of, said), **about)

    if done := press(request, form, "assign-destination", act):
        return done
    delivery = request.GET.get("use") == Destination.Use.DELIVERY
    use = Destination.Use.DELIVERY if delivery else Destination.Use.CLONE
    found = candidates.rooms(item, use, shown=_shown(request), planned=planned)
    rows = [(room, _form_for(form, str(room.medium))) for room in found.shown]
    pools = [] if delivery else [(room, _form_for(form, f"{POOL}{room.pool.pk}")) for room in rooms_for(found.need)]
    title = "Find a delivery medium" if delivery else "Find a destination"
    context = _page(item, title, form, rooms=found, rows=rows, pools=pools, delivery=delivery, planned=planned)
    context["plan"] = found.need if planned else need_of(item, planned=True)
    return show(request, "stock/assign_destination.html", context)


def _chosen(find: Callable[[str], Any], said: dict[str, Any]) -> Any:
    """What was pressed. On this page a code that is none is a sentence, not a lost page."""
    try:
        return find(said["chosen"])
    except Http404 as missing:
        raise actions.NotNow(str(missing), mend="Choose from the list.") from None


def _page(item: Item, title: str, form: AssignForm, **more: Any) -> dict[str, Any]:
    return page_of(title, form, item, item.medium_words, item=item, **more)


def _asked(request: StaffRequest, item: Item) -> tuple[PartKind, bool]:
    """Which part is looked for, and whether what a must excludes is shown; wrong words count as nothing said."""
    asked = request.GET.get("part", "")
    kind = PartKind(asked) if asked in set(PartKind) else candidates.wanted_part(item)
    return kind, bool(request.GET.get("excluded"))


def _shown(request: StaffRequest) -> int:
    asked = request.GET.get("shown", "")
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 4 else candidates.SHOWN
    return min(max(number, candidates.SHOWN), MOST_SHOWN)


def _form_for(sent: AssignForm, code: str) -> AssignForm:
    """The small form of one candidate: the one that was sent if it was this one's, so that nothing typed is lost."""
    if sent.is_bound and sent.data.get("chosen") == code:
        return sent
    return AssignForm(initial={"chosen": code}, auto_id=f"{code}-%s")
