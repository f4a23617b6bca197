"""What is not on the counter yet: who asks, who is refused, what comes by post and how it came."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.template.response import TemplateResponse
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from labcases.cases import actions, papers, queries
from labcases.cases.advice import PACKING
from labcases.cases.forms.amend import amended, looked_for
from labcases.cases.forms.post import (
    ArriveForm,
    AskedForm,
    EndForm,
    EnquiryFilter,
    EnquiryForm,
    ExpectForm,
    NeverCameForm,
    ParcelFilter,
    ReasonForm,
    RefuseForm,
    UnknownSenderForm,
    WhoseForm,
    WithOwner,
)
from labcases.cases.models import Case, Enquiry
from labcases.cases.stages import Stage
from labcases.core.forms import LabForm
from labcases.core.money import Money
from labcases.core.refused import Refused
from labcases.core.views import bound, csv_file, press, see_other, show
from labcases.custody.models import Thing
from labcases.custody.photos.actions import attach_draft_photos
from labcases.custody.photos.queries import photos_of
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper
from labcases.people.actions import remember
from labcases.people.queries import matching

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
ROWS = 50
CLOSED = "parcel, closed"  # what photos of the box say before it is opened
ORDERS = {"asked": ("happened", "pk"), "name": ("name", "pk"), "state": ("state", "-pk")}
HANDS = (
    "Gloves for what is wet or burnt; swollen or hot batteries: isolate, do not charge, leave it to somebody licensed."
)


# --- enquiries --------------------------------------------------------------------------------------------------------


@GET_OR_POST
@needs(Right.TAKE_IN)
def enquire(request: StaffRequest) -> HttpResponse:
    """Somebody asks; nothing is received."""
    form = bound(request, EnquiryForm, currency=request.lab.currency)

    def act(said: dict[str, Any]) -> Enquiry:
        return actions.enquire(by=request.actor, happened=said["happened"], **form.told())

    context = {"title": "Take an enquiry", "button": "Keep this enquiry", "form": form, "place": "Counter"}
    context["back"] = reverse("cases:enquiries")
    return press(request, form, "enquire", act) or show(request, "cases/enquire.html", context)


@require_GET
@needs(Right.LOOK)
def enquiry(request: StaffRequest, pk: int) -> HttpResponse:
    """Who asked what, what they were told, and what can come of it."""
    found = _enquiry(pk)
    return show(request, "cases/enquiry.html", {"enquiry": found, "place": "Counter"})


@require_GET
@needs(Right.LOOK)
def enquiries(request: StaffRequest) -> HttpResponseBase:
    """Every enquiry and every refusal, newest first."""
    form = EnquiryFilter(request.GET)
    key = request.GET.get("sort", "-asked")
    order = ORDERS.get(key.lstrip("-"), ORDERS["asked"])
    listed = form.narrow(Enquiry.objects.select_related("by", "case__thing")).order_by(*order)
    listed = listed.reverse() if key.startswith("-") else listed
    if request.GET.get("format") == "csv":
        head = [
            "asked",
            "name",
            "reached by",
            "about",
            "state",
            "price from",
            "price to",
            "currency",
            "case",
            "taken by",
        ]
        rows = (_csv_row(one) for one in listed.iterator())
        return csv_file("enquiries", head, rows)
    page = Paginator(listed, ROWS).get_page(request.GET.get("page"))
    context = {"filter": form, "page": page, "sort": "-asked", "place": "Counter"}
    return show(request, "cases/enquiries.html", context)


def _csv_row(one: Enquiry) -> list[Any]:
    low, high = (Money(p, one.currency).plain() if p is not None else "" for p in (one.price_from, one.price_to))
    about, state = one.get_kind_display(), one.get_state_display()
    return [
        one.happened,
        one.name,
        one.reach,
        about,
        state,
        low,
        high,
        one.currency if low or high else "",
        one.case,
        one.by,
    ]


@GET_OR_POST
@needs(Right.TAKE_IN)
def end_enquiry(request: StaffRequest, pk: int) -> HttpResponse:
    """Nothing came of it."""
    found = _enquiry(pk)
    lead = "It leaves the list of what waits, and stays on file. A later yes can still make a case of it."
    return _answer(request, found, EndForm, actions.end_enquiry, "End the enquiry", lead)


@GET_OR_POST
@needs(Right.TAKE_IN)
def refuse_enquiry(request: StaffRequest, pk: int) -> HttpResponse:
    """We do not take it, and say why."""
    found = _enquiry(pk)
    return _answer(
        request, found, ReasonForm, actions.refuse, "Refuse it", "Say where else they may turn, if you know."
    )


def _answer(
    request: StaffRequest, found: Enquiry, kind: type[LabForm], verb: Any, title: str, lead: str
) -> HttpResponse:
    form = bound(request, kind)

    def act(said: dict[str, Any]) -> Enquiry:
        done: Enquiry = verb(enquiry=found, by=request.actor, happened=said["happened"], reason=said["reason"])
        return done

    context = {"title": title, "lead": lead, "form": form, "about": found, "about_words": "", "place": "Counter"}
    return press(request, form, f"answer-enquiry {found.pk}", act) or show(request, "verb.html", context)


def _enquiry(pk: int) -> Enquiry:
    return get_object_or_404(Enquiry.objects.select_related("by", "case__thing"), pk=pk)


@GET_OR_POST
@needs(Right.TAKE_IN)
def refuse(request: StaffRequest) -> HttpResponse:
    """Refused at the counter: nothing is taken in, and the reason stays on file."""
    form: AskedForm = bound(request, RefuseForm)

    def act(said: dict[str, Any]) -> Enquiry:
        return actions.refuse(by=request.actor, happened=said["happened"], reason=said["reason"], **form.told())

    lead = "Nothing is taken in. What they brought goes back with them now."
    context = {"title": "Refuse at the counter", "button": "Note the refusal", "lead": lead, "form": form}
    return press(request, form, "refuse", act) or show(request, "verb.html", {**context, "place": "Counter"})


# --- by post ----------------------------------------------------------------------------------------------------------


@GET_OR_POST
@needs(Right.TAKE_IN)
def expect(request: StaffRequest) -> HttpResponse:
    """Something comes by post: a case with its code, so that the slip in the box can carry it."""
    country = request.lab.country
    if request.method == "POST" and (typed := amended(request.POST, country)) is not None:
        return _with_owner(request, "cases/expect.html", ExpectForm(typed, country=country).unjudged())
    form = bound(request, ExpectForm, country=country, **_carried_over(request))

    def act(said: dict[str, Any]) -> str:
        owner = remember(**form.owner.told())
        case = actions.expect(
            owner=owner,
            items=form.new_items(),
            told=form.told(),
            reference=said["reference"],
            enquiry=said["enquiry"],
            by=request.actor,
            happened=said["happened"],
        )
        return reverse("cases:packing-slip", args=[case.thing.printed_code])

    return press(request, form, "expect", act) or _with_owner(request, "cases/expect.html", form)


def _carried_over(request: StaffRequest) -> dict[str, Any]:
    """What an enquiry or a known customer (``?enquiry=``, ``?party=``) fills in."""
    asked = queries.asked_for(request.GET, request.lab.country)
    kind = (asked.get("first_item") or {}).get("kind", "")
    start = {"story": (asked.get("told") or {}).get("story", ""), "kind-1": kind, "enquiry": request.GET.get("enquiry")}
    return {"who": asked.get("who"), "initial": start}


def _with_owner(request: StaffRequest, page: str, form: WithOwner, **more: Any) -> HttpResponse:
    """A page with a form of its own for the owner: 422 when either has something to say."""
    found = {role: matching(typed) for role, typed in looked_for(request.POST).items()}
    wrongs = form.wrongs()
    context = {"form": form, "found": found, "wrongs": wrongs, "place": "Counter", **more}
    return TemplateResponse(request, page, context, status=422 if wrongs else 200)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.TAKE_IN)
def packing_slip(request: StaffRequest, code: str) -> HttpResponse:
    """How to pack it, to read out or to send; pressed, the slip with its label is printed and kept."""
    case = queries.case_for(request.user, code)
    form = bound(request, LabForm)
    if request.method == "POST" and form.is_valid():
        try:
            slip = papers.print_packing_slip(case, by=request.actor, size=request.lab.paper_size)
            return see_other(request, slip.get_absolute_url())
        except Refused as refused:
            form.add_refusal(refused)
    printed = Paper.objects.of_case(case.code).filter(kind=papers.PACKING_SLIP)
    context = {"case": case, "form": form, "packing": PACKING, "papers": printed, "place": "Counter"}
    return show(request, "cases/packing_slip.html", context)


@require_GET
@needs(Right.LOOK)
def parcel(request: StaffRequest) -> HttpResponse:
    """A parcel came: whose is it? The cases that expect one, found by what stands on it."""
    form = ParcelFilter(request.GET)
    page = Paginator(form.narrow(queries.expecting()), ROWS).get_page(request.GET.get("page"))
    return show(request, "cases/parcel.html", {"filter": form, "page": page, "place": "Counter"})


@GET_OR_POST
@needs(Right.TAKE_IN)
def arrive(request: StaffRequest, code: str) -> HttpResponse:
    """The parcel of an expected case, closed and opened; which items lay in it, and what they suffered."""
    case = queries.case_for(request.user, code)
    waiting = list(case.items.select_related("thing", "case").filter(stage=Stage.EXPECTED))
    form = bound(request, ArriveForm, waiting=waiting)

    def act(said: dict[str, Any]) -> Case:
        return actions.arrive(
            case=case,
            items=form.came(),
            also=form.new_items(),
            condition=form.condition(),
            damage=form.damage(),
            accessories=said["accessories"],
            by=request.actor,
            happened=said["happened"],
        )

    context = {"case": case, "form": form, "cautions": [HANDS], "place": "Counter", **_of_the_parcel(case.thing)}
    return press(request, form, f"arrive {case.code}", act) or show(request, "cases/arrive.html", context)


@GET_OR_POST
@needs(Right.TAKE_IN)
def unknown_sender(request: StaffRequest) -> HttpResponse:
    """A parcel that names no sender we know: kept safe under a case of its own."""
    form = bound(request, UnknownSenderForm)

    def act(said: dict[str, Any]) -> Case:
        case = actions.arrive_unknown(
            written=said["written"],
            items=form.new_items(),
            condition=form.condition(),
            damage=said["damage"],
            accessories=said["accessories"],
            by=request.actor,
            happened=said["happened"],
        )
        attach_draft_photos(draft=form.key, thing=case.thing, by=request.actor, happened=said["happened"])
        return case

    key = _key_of(form)
    context = {"form": form, "cautions": [HANDS], "place": "Counter", "key": key, **_of_the_parcel(key)}
    return press(request, form, "unknown-sender", act) or show(request, "cases/unknown_sender.html", context)


def _key_of(form: LabForm) -> UUID:
    """The form's one-time key, under which its photos wait until there is a case."""
    try:
        return UUID(str(form["once"].value()))
    except ValueError:
        return uuid4()


def _of_the_parcel(owner: Thing | UUID) -> dict[str, Any]:
    """Photos of the box before and after it was opened; any others lie with the opened ones."""
    photos = photos_of(owner)
    closed = [photo for photo in photos if photo.words == CLOSED]
    return {"closed": closed, "opened": [photo for photo in photos if photo not in closed]}


@GET_OR_POST
@needs(Right.TAKE_IN)
def whose(request: StaffRequest, code: str) -> HttpResponse:
    """It is known now whose the parcel is."""
    case, country = queries.case_for(request.user, code), request.lab.country
    if request.method == "POST" and (typed := amended(request.POST, country)) is not None:
        return _with_owner(request, "cases/whose.html", WhoseForm(typed, country=country).unjudged(), case=case)
    form = bound(request, WhoseForm, country=country)

    def act(said: dict[str, Any]) -> Case:
        owner = remember(**form.owner.told())
        about = {"because": said["because"], "happened": said["happened"]}
        return actions.name_owner(case=case, owner=owner, by=request.actor, **about)

    done = press(request, form, f"whose {case.code}", act)
    return done or _with_owner(request, "cases/whose.html", form, case=case)


@GET_OR_POST
@needs(Right.TAKE_IN)
def never_came(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """An expected item that will not come, or was sent elsewhere."""
    case = queries.case_for(request.user, code)
    item = case.items.select_related("thing", "case__thing").filter(number=number).first()
    if item is None:
        raise Http404(f"Case {case} has no item {number}.")
    form = bound(request, NeverCameForm)

    def act(said: dict[str, Any]) -> Case:
        about = {name: said[name] for name in ("how", "because", "happened")}
        actions.never_came(item=item, by=request.actor, **about)
        return case

    lead = "It was never here, so nothing is handed over. Should it come after all, take it in then."
    context = {"title": "It will not come", "button": "End this item", "danger": True, "lead": lead, "form": form}
    about = {"about": item, "about_words": item.medium_words, "place": "Counter"}
    return press(request, form, f"never-came {item.thing.code}", act) or show(request, "verb.html", context | about)
