"""The counter's last step: hand over, print the receipt and the report; and a short visit on one page."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from labcases.cases.models import Case
from labcases.cases.queries import case_for, known_serials
from labcases.core.views import bound, press, see_other, show
from labcases.handover import actions, queries
from labcases.handover.forms import HandOverForm, WhileYouWaitForm
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import TermsVersion
from labcases.lab.roles import Right
from labcases.people.actions import remember
from labcases.people.models import Party

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.HAND_OVER)
def hand_over(request: StaffRequest, code: str) -> HttpResponse:
    """Count back, identify, sign, let go."""
    case = case_for(request.user, code)
    due, carriers = actions.due_back(case), actions.carriers(case)
    start = {"collector_name": case.bearer.name, "collector": "owner" if case.owner_id == case.bearer_id else "bearer"}
    form = bound(request, HandOverForm, case=case, due=due, carriers=carriers, initial=start)

    def act(said: dict[str, Any]) -> str:
        actions.hand_over(case=case, by=request.actor, **form.told())
        return _reports(case)

    stops = queries.stops_of(case, request.user.rights)
    context = {"case": case, "form": form, "due": due, "stops": stops, "place": "Counter"}
    return press(request, form, "hand-over", act) or show(request, "handover/hand_over.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.HAND_OVER)
def report(request: StaffRequest, code: str) -> HttpResponse:
    """The handovers of a case and their reports; POST prints one (``number``, else the newest)."""
    case = case_for(request.user, code)
    if request.method == "POST":
        which = _numbered(case, request.POST.get("number", ""))
        paper = actions.print_handover_report(case=case, handover=which, by=request.actor, happened=timezone.now())
        return see_other(request, paper.get_absolute_url())
    context = {"case": case, "section": queries.section_of(case), "place": "Counter"}
    return show(request, "handover/reports.html", context)


def _numbered(case: Case, number: str) -> Any:
    if not number:
        return None
    if not number.isdecimal() or len(number) > 4:
        raise Http404(f"Case {case} has no handover of that number.")
    return get_object_or_404(case.handovers.select_related("case__thing", "by"), number=int(number))


@require_POST
@needs(Right.HAND_OVER)
def receipt(request: StaffRequest, code: str) -> HttpResponse:
    """Print what is due back, to be counted and signed with a pen."""
    case = case_for(request.user, code)
    paper = actions.print_handover_receipt(case=case, by=request.actor, happened=timezone.now())
    return see_other(request, paper.get_absolute_url())


@GET_OR_POST
@needs(Right.TAKE_IN)
def while_you_wait(request: StaffRequest) -> HttpResponse:
    """In and out while its owner waits: one page, one press, then one report."""
    actions.may_serve_at_once(request.actor)
    lab = request.lab
    about = {"country": lab.country, "currency": lab.currency, "tax_rate": lab.tax_rate}
    form = bound(request, WhileYouWaitForm, **about)

    def act(said: dict[str, Any]) -> str:
        for known in known_serials(said["serial"]):
            messages.warning(request, known.sentence)
        owner = _known_or_new(form.reached())
        made = actions.while_you_wait(owner=owner, said=form.quick(), by=request.actor, happened=said["happened"])
        return _reports(made.case)

    context = {"form": form, "terms": TermsVersion.objects.first(), "place": "Counter"}
    return press(request, form, "while-you-wait", act) or show(request, "handover/while_you_wait.html", context)


def _known_or_new(reached: dict[str, str]) -> Party:
    """The same name with the same number or address is the same person: no second row for a returning customer."""
    same = Party.objects.filter(name__iexact=reached["name"])
    by_phone = same.filter(phone=reached["phone"]).first() if reached["phone"] else None
    by_mail = same.filter(email__iexact=reached["email"]).first() if reached["email"] else None
    return remember(party=by_phone or by_mail, **reached)


def _reports(case: Case) -> str:
    return reverse("handover:report", args=[str(case)])
