"""Taking in at the counter: one dense page, its draft on the server, and the buttons that only change what is typed."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.template.response import TemplateResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from labcases.cases import actions, papers, queries
from labcases.cases.forms.amend import ROLES, amended, looked_for
from labcases.cases.forms.take_in import TakeInForm
from labcases.cases.models import Case, Draft
from labcases.cases.pads.queries import sheet_for
from labcases.cases.readings.actions import tie_to_items
from labcases.cases.readings.models import Reading
from labcases.cases.readings.queries import attach_readings
from labcases.cases.tasks import thing_for_photos
from labcases.core.refused import Refused
from labcases.core.views import HELD, press, see_other
from labcases.custody.photos.actions import attach_draft_photos
from labcases.custody.photos.queries import photos_of
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Actor, TermsVersion
from labcases.lab.roles import Right
from labcases.people.actions import remember
from labcases.people.queries import FoundParty, matching

NOT_KEPT = ("csrfmiddlewaretoken", "terms-signature", "terms-scan", "version", "once")
NOT_KEPT_OF_ITEM = re.compile(r"item-\d+-(page|file)")  # on its way to be read; the reading is kept
LONGEST_DRAFT = 200_000


class TakenInBefore(Refused):
    """A colleague made a case of this draft."""


class ChangedMeanwhile(Refused):
    """A colleague typed into the same draft."""


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def take_in(request: StaffRequest) -> HttpResponse:
    """``?draft=<key>`` is the address of one intake, so that a reload finds what was typed."""
    key = _key_in(request)
    if key is None:
        return _start(request)
    if case := Case.objects.with_people().select_related("draft").filter(draft__key=key).first():
        if request.method == "GET":
            messages.info(request, f"This draft was taken in already: it is case {case} now.")
            return redirect(case)
        if case.draft.person_id == request.user.pk:  # the second of two presses
            return _after(request, case)
    if request.method == "POST" and (typed := amended(request.POST, request.lab.country)) is not None:
        return changed(request, key, typed)
    form = _form(request, key)
    if press(request, form, "take-in", lambda said: _take_in(form, key, request.actor)):
        return _after(request, Case.objects.with_people().get(draft__key=key))
    return _page(request, key, form)


def _start(request: StaffRequest) -> HttpResponse:
    """A fresh draft, or the one of a sheet of a paper pad (``?pad=<code>``), wherever it was begun."""
    if not (asked := request.GET.get("pad")):
        return redirect(f"{request.path}?{urlencode({**request.GET.dict(), 'draft': str(uuid4())})}")
    sheet = sheet_for(asked)
    if sheet.case:
        messages.info(request, f"This sheet was typed in already: it is case {sheet.case} now.")
        return redirect(sheet.case)
    if sheet.void_because:
        messages.warning(request, f"Sheet {sheet} is void: {sheet.void_because}")
        return redirect("cases:pad", sheet.pad)
    return redirect(f"{request.path}?{urlencode({'pad': str(sheet), 'draft': str(sheet.draft_key)})}")


def _key_in(request: StaffRequest) -> UUID | None:
    try:
        return UUID(request.POST.get("once") or request.GET.get("draft", ""))
    except ValueError:
        return None


def _form(request: StaffRequest, key: UUID) -> TakeInForm:
    """What was sent now; else what was typed before the log-in was lost; else the draft; else a fresh form."""
    about: dict[str, Any] = {"lab": request.lab, "can_sign": TermsVersion.objects.exists()}
    if request.method == "POST":
        return TakeInForm(request.POST, request.FILES, **about)
    draft = Draft.objects.filter(key=key).first()
    if typed := _held(request, key) or (draft.as_typed() if draft else None):
        typed["once"], typed["version"] = str(key), str(draft.version if draft else 0)
        return TakeInForm(typed, **about).unjudged()
    asked = queries.asked_for(request.GET, request.lab.country)
    sheet = sheet_for(request.GET["pad"]) if request.GET.get("pad") else None
    first = {"once": key, "enquiry": request.GET.get("enquiry"), "reserved": sheet and sheet.code}
    return TakeInForm(**about, **asked, initial=first)


def _held(request: StaffRequest, key: UUID) -> QueryDict | None:
    """What was sent without a log-in, by the button or by the draft that keeps itself."""
    held = request.session.get(HELD) or {}
    if held.get("path") not in (request.path, reverse("cases:draft", args=[key])):
        return None
    typed = QueryDict(held["body"], mutable=True)
    if typed.get("once") != str(key):
        return None
    del request.session[HELD]
    return typed


def _take_in(form: TakeInForm, key: UUID, by: Actor) -> Case:
    """Owner, bearer and payer remembered, the case logged, the draft tied to it: all or nothing."""
    said = form.cleaned_data
    _see_that_nobody_changed_it(form, key, by)
    owner = remember(**form.owner.told())
    bearer = remember(**form.bearer.told()) if form.bearer.needed else owner
    payer = {"bearer": bearer, "other": None}.get(said["pays"], owner)
    case = actions.log_drive(
        owner=owner,
        bearer=bearer,
        payer=payer or remember(**form.payer.told()),
        items=form.new_items(),
        told=form.told.told(),
        signed=form.terms.signed(otherwise=form.whoever_signs()),
        accessories=said["accessories"],
        urgency=said["urgency"] or Case.Urgency.NORMAL,
        promised=said["promised"],
        reference=said["reference"],
        letterhead=form.letterhead(),
        enquiry=said["enquiry"],
        reserved=said["reserved"],
        by=by,
        happened=said["happened"],
    )
    readings = [item.cleaned_data.get("reading") for item in form.item_forms()]
    tie_to_items(case=case, draft=key, readings=readings, by=by, happened=said["happened"])
    attach_draft_photos(draft=key, thing=thing_for_photos(case), by=by, happened=said["happened"])
    if not Draft.objects.became(key=key, person=by.staff, case=case):
        first = Draft.objects.select_related("case__thing", "person").get(key=key)
        raise TakenInBefore(
            f"This draft is case {first.case} already: {first.person} took it in.",
            mend="Open that case and correct it there, or start a fresh intake.",
        )
    return case


def _see_that_nobody_changed_it(form: TakeInForm, key: UUID, by: Actor) -> None:
    """What a colleague typed into this draft since the page was opened is not passed over in silence."""
    draft = Draft.objects.waiting().select_related("person").filter(key=key).first()
    if draft and draft.person != by.staff and draft.version != (form.cleaned_data["version"] or 0):
        raise ChangedMeanwhile(
            f"{draft.person} changed this draft while you had it open.",
            why="What they typed does not stand on this page.",
            mend="Open the draft from the Counter to see theirs, or press once more to take in what stands here.",
        )


def _after(request: StaffRequest, case: Case) -> HttpResponse:
    """After taking in: the receipt is set outside the transaction; without it the case stands all the same."""
    if request.POST.get("outcome") != "receipt":
        messages.success(request, f"Taken in: {case}. The rest of the intake can follow.")
        return see_other(request, case.get_absolute_url())
    try:
        papers.print_receipt(case, by=request.actor, size=request.lab.paper_size)
    except Refused as refused:
        messages.warning(
            request, " ".join([f"Taken in: {case}, but the receipt is not printed.", *refused.sentences()])
        )
    else:
        messages.success(request, f"Taken in: {case}. Stick the labels on while the customer reads the receipt.")
    return see_other(request, reverse("cases:receipt", args=[case.thing.printed_code]))


def changed(
    request: StaffRequest, key: UUID, typed: QueryDict, *, unread: dict[int, list[str]] | None = None
) -> HttpResponse:
    """The same page with what is typed now; the page then keeps its draft by itself.

    ``unread`` says, by an item's number from 0, why the page of its medium could not be read.
    """
    form = TakeInForm(typed, lab=request.lab, can_sign=TermsVersion.objects.exists()).unjudged()
    for number, item in enumerate(form.item_forms()):
        item.unread = (unread or {}).get(number, ())
    response = _page(request, key, form, found=looked_for(request.POST))
    response.headers["HX-Trigger-After-Settle"] = "amended"
    return response


def _page(
    request: StaffRequest, key: UUID, form: TakeInForm, *, found: dict[str, str] | None = None
) -> TemplateResponse:
    wrongs = form.wrongs() if form.is_bound else []
    attach_readings(form.item_forms(), draft=key)
    context = {
        "form": form,
        "key": key,
        "wrongs": wrongs,
        "draft": Draft.objects.waiting().select_related("person").filter(key=key).first(),
        "terms": TermsVersion.objects.first(),
        "photos": photos_of(key),
        "found": {role: _found(found, role, request.lab.country) for role in ROLES},
        **queries.said_while_typing(form),
    }
    context["rows"] = list(zip(form.item_forms(), context["said"], strict=True))
    context["many"] = len(context["rows"]) > 1
    return TemplateResponse(request, "cases/take_in.html", context, status=422 if wrongs else 200)


def _found(asked: dict[str, str] | None, role: str, country: str) -> list[FoundParty] | None:
    """Who may be meant, where a list was asked for without scripts; None where none was."""
    return matching(asked[role], country=country) if asked and role in asked else None


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def draft(request: StaffRequest, key: UUID) -> HttpResponse:
    """Keep what is typed so far (htmx), and say back what follows from it. Looked at, it opens the draft."""
    if request.method == "GET":
        return redirect(f"{reverse('cases:take-in')}?draft={key}")
    kept = _keep(request, key)
    form = TakeInForm(request.POST, lab=request.lab).unjudged()
    latest = Draft.objects.select_related("person", "case__thing").filter(key=key).first()
    context: dict[str, Any] = {
        "form": form,
        "key": key,
        "draft": latest,
        "kept": kept,
        "terms": TermsVersion.objects.first(),
    }
    return TemplateResponse(request, "cases/_kept.html", {**context, **queries.said_while_typing(form)})


def _keep(request: StaffRequest, key: UUID) -> int | None:
    """The new version, or None when somebody else changed the draft since this page saw it."""
    typed = request.POST.copy()
    for name in [name for name in typed if name in NOT_KEPT or NOT_KEPT_OF_ITEM.fullmatch(name)]:
        del typed[name]
    body = typed.urlencode()
    if len(body) > LONGEST_DRAFT:
        raise Refused("This draft is too long to be kept.", mend="Shorten the longest text; the rest fits into a file.")
    sent = request.POST.get("version", "0")
    version = int(sent[:9]) if sent.isdecimal() else 0
    if request.POST.get("mine"):  # the clerk saw both and chose: what stands here goes over the colleague's
        version = Draft.objects.filter(key=key).values_list("version", flat=True).first() or 0
    return Draft.objects.keep(key=key, person=request.user, typed=body, version=version)


@require_POST
@needs(Right.TAKE_IN)
def drop_draft(request: StaffRequest, key: UUID) -> HttpResponse:
    """Throw a draft away that nobody will finish. What became a case cannot be dropped."""
    Draft.objects.waiting().filter(key=key).delete()
    Reading.objects.filter(draft=key).delete()
    messages.success(request, "The draft is thrown away. Nothing had been taken in.")
    return see_other(request, reverse("docket:counter"))
