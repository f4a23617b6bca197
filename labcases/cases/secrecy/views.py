"""The pages of secrets. What is shown is shown once, to an engineer of the case, and stands in the ledger."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods

from labcases.cases.models import Case
from labcases.cases.queries import case_for
from labcases.cases.secrecy import actions
from labcases.cases.secrecy.forms import EraseSecretForm, PutSecretForm
from labcases.cases.secrecy.models import CaseSecret
from labcases.cases.views.either import acting_in_either
from labcases.core.forms import LabForm
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


def _secret(request: StaffRequest, code: str, pk: int) -> tuple[Case, CaseSecret]:
    case = case_for(request.user, code)
    kept = CaseSecret.objects.select_related("item__thing", "case__thing")
    return case, get_object_or_404(kept, pk=pk, case=case)


def _page(case: Case, title: str, form: Any, **more: Any) -> dict[str, Any]:
    about = {"title": title, "form": form, "about": case, "about_words": str(case.owner), "place": "Bench"}
    return about | more


@sensitive_post_parameters("password")
@GET_OR_POST
@needs(Right.LOOK)
def put_secret(request: StaffRequest, code: str) -> HttpResponse:
    """Take a secret in."""
    by = acting_in_either(request.user, Right.TAKE_IN, Right.EXAMINE)
    case = case_for(request.user, code)
    form = bound(request, PutSecretForm, case=case)

    def act(said: dict[str, Any]) -> CaseSecret:
        about = {name: said[name] for name in ("kind", "item", "opens", "happened")}
        return actions.put_secret(case=case, secret=said["password"], by=by, **about)

    if done := press(request, form, f"put-secret {case.code}", act):
        messages.success(request, "The secret is sealed. Only an engineer on this case can have it shown.")
        return done
    lead = "It is sealed with a key of this case and shown only to its engineers, each time on record."
    return show(request, "verb.html", _page(case, "Keep a secret", form, lead=lead, button="Seal the secret"))


@sensitive_variables()
@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def show_secret(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """Ask first; pressed, it is shown on this one page, which no cache keeps."""
    case, secret = _secret(request, code, pk)
    context: dict[str, Any] = {"secret": secret, "case": case, "place": "Bench", "plain": None}
    if request.method == "POST":
        context["plain"] = actions.view_secret(secret=secret, by=request.actor, happened=timezone.now()).reveal()
    context["mine"] = case.engineers.filter(pk=request.user.pk).exists()
    return show(request, "cases/secret.html", context)


@GET_OR_POST
@needs(Right.LOOK)
def erase_secret(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """One secret, for good."""
    by = acting_in_either(request.user, Right.TAKE_IN, Right.EXAMINE)
    case, secret = _secret(request, code, pk)
    form = bound(request, EraseSecretForm)

    def act(said: dict[str, Any]) -> CaseSecret:
        return actions.erase_secret(secret=secret, because=said["because"], by=by, happened=said["happened"])

    if done := press(request, form, f"erase-secret {secret.pk}", act):
        messages.success(request, "The secret is erased.")
        return done
    lead = f"{secret} cannot be read again afterwards, by anybody."
    return show(request, "verb.html", _page(case, "Erase this secret", form, lead=lead, danger=True))


@GET_OR_POST
@needs(Right.EXAMINE)
def take_on(request: StaffRequest, code: str) -> HttpResponse:
    """Become one of the engineers of a case."""
    case = case_for(request.user, code)
    form = bound(request, LabForm)

    def act(said: dict[str, Any]) -> str:
        actions.take_on(case=case, by=request.actor, happened=timezone.now())
        return f"{case.get_absolute_url()}#locks"

    if done := press(request, form, f"take-on {case.code}", act):
        return done
    lead = "You work on this case from now on: it stands on your own bench sheet, and its secrets can be shown to you."
    return show(request, "verb.html", _page(case, "Take this case on", form, lead=lead))
