"""Pages: the bench computers that are admitted, and the interface for whoever writes a program for one."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from labcases.api import actions, outline
from labcases.api.forms import AdmitForm, RevokeForm
from labcases.api.models import BenchComputer
from labcases.api.scopes import SCOPES
from labcases.api.views.door import document
from labcases.api.views.problems import PROBLEMS
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
SHOWN_ONCE = "token-of-a-bench-computer"


@require_GET
@needs(Right.KEEP_LAB)
def computers(request: StaffRequest) -> HttpResponse:
    """Every bench computer; a token that was just made is shown here, this once."""
    context = {
        "computers": BenchComputer.objects.select_related("by").order_by("revoked", "name", "pk"),
        "token": request.session.pop(SHOWN_ONCE, ""),
    }
    return show(request, "api/computers.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def admit(request: StaffRequest) -> HttpResponse:
    form = bound(request, AdmitForm, initial={"scopes": list(SCOPES)})

    def act(said: dict[str, Any]) -> str:
        about = {name: said[name] for name in ("name", "scopes")}
        _, token = actions.admit(by=request.actor, happened=timezone.now(), **about)
        request.session[SHOWN_ONCE] = token
        return reverse("api:computers")

    return press(request, form, "admit-computer", act) or show(request, "api/admit.html", {"form": form})


@GET_OR_POST
@needs(Right.KEEP_LAB)
def revoke(request: StaffRequest, pk: int) -> HttpResponse:
    computer = get_object_or_404(BenchComputer, pk=pk)
    form = bound(request, RevokeForm)

    def act(said: dict[str, Any]) -> str:
        actions.revoke(computer=computer, because=said["because"], by=request.actor, happened=timezone.now())
        return reverse("api:computers")

    context = {"form": form, "computer": computer}
    return press(request, form, "revoke-computer", act) or show(request, "api/revoke.html", context)


@require_GET
@needs(Right.LOOK)
def interface(request: StaffRequest) -> HttpResponse:
    """The interface in words, drawn from its OpenAPI document."""
    said = outline.outline(document())
    problems = [(name, *about) for name, about in PROBLEMS.items()]
    return show(request, "api/interface.html", {"operations": said, "problems": problems, "scopes": SCOPES.items()})
