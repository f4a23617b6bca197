"""A party's own page, and the list of who may be meant."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET, require_http_methods

from labcases.core.views import bound, page_or_fragment, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.people import actions, phone, queries
from labcases.people.forms import CONTACT, PartyForm, typed_from
from labcases.people.merging import queries as merging
from labcases.people.models import Party

ROLES = ("owner", "bearer", "payer")
CASES_SHOWN = 50


@require_GET
@needs(Right.LOOK)
def search(request: StaffRequest) -> HttpResponse:
    """``?q=`` on a page of its own; while typing at the counter ``?as=owner`` and the field itself, as a fragment."""
    role = request.GET.get("as", "")
    if role in ROLES:
        number, name = (request.GET.get(f"{role}-{field}", "") for field in ("phone", "name"))
        found = _found(number, request) or _found(name, request)
        context = {"found": found, "typed": number or name, "role": role, "twice": queries.of_one_number(found)}
    else:
        typed = request.GET.get("q", "")
        context = {"found": _found(typed, request, limit=50), "typed": typed, "role": ""}
    return page_or_fragment(request, "people/search.html", "people/_answers.html", context)


def _found(typed: str, request: StaffRequest, *, limit: int = 8) -> list[queries.FoundParty]:
    return queries.matching(typed, country=request.lab.country, limit=limit)


@require_GET
@needs(Right.LOOK)
def party(request: StaffRequest, pk: int) -> HttpResponse:
    """Who it is, and every case they own, brought or pay."""
    found = get_object_or_404(Party, pk=pk)
    kinds = (("owns", "cases_owned"), ("brought", "cases_brought"), ("pays", "cases_paid"))
    cases = {word: _cases(found, related) for word, related in kinds}
    own = {case.pk for case in cases["owns"]}
    others = {word: [case for case in some if case.pk not in own] for word, some in cases.items() if word != "owns"}
    number = phone.shown(found.phone, request.lab.country) if found.phone else ""
    known = {"went": merging.where_it_went(found), "came": merging.came_into(found), "twins": _twins(found)}
    context = {"party": found, "phone": number, "owns": cases["owns"], "others": others, **known}
    return show(request, "people/party.html", context)


def _twins(found: Party) -> list[Party]:
    return [] if found.merged_into_id else merging.twins(found)


def _cases(found: Party, related: str) -> list[Any]:
    return list(getattr(found, related).select_related("thing", "owner").prefetch_related("items")[:CASES_SHOWN])


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def edit(request: StaffRequest, pk: int) -> HttpResponse:
    """Correct what is known of somebody."""
    found = get_object_or_404(Party, pk=pk)
    country = request.lab.country
    initial = typed_from(found, country) | {"note": found.note, "on_account": found.on_account}
    form = bound(request, PartyForm, initial=initial, country=country)

    def act(said: dict[str, Any]) -> Party:
        values = {name: said[name] for name in (*CONTACT, "note", "on_account")}
        return actions.correct(party=found, by=request.actor, **values)

    if done := press(request, form, "edit-party", act):
        messages.success(request, f"Kept: {found}.")
        return done
    return show(request, "people/edit.html", {"form": form, "party": found})
