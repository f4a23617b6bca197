"""The rest of an unfinished intake."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.template.response import TemplateResponse
from django.views.decorators.http import require_http_methods

from labcases.cases import actions, queries
from labcases.cases.forms.intake import CompleteIntakeForm
from labcases.cases.models import Case, Item
from labcases.core.views import bound, press
from labcases.lab.access import StaffRequest, needs
from labcases.lab.models import Actor, TermsVersion
from labcases.lab.roles import Right


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def complete_intake(request: StaffRequest, code: str) -> HttpResponse:
    """What is still to be asked, by whoever has the customer on the line or on the counter."""
    case = queries.case_for(request.user, code)
    items = list(Item.objects.with_context().filter(case=case))
    form = bound(request, CompleteIntakeForm, case=case, items=items, can_sign=TermsVersion.objects.exists())
    if done := press(request, form, f"complete-intake {case.code}", lambda said: _complete(form, request.actor)):
        messages.success(
            request,
            f"Noted. Still missing: {', '.join(queries.still_missing(case))}."
            if _open(case)
            else "The intake is finished.",
        )
        return done
    context = {
        "form": form,
        "case": case,
        "wrongs": form.wrongs() if form.is_bound else [],
        "missing": queries.still_missing(case),
        "section": queries.wanted_section(case),
        "terms": TermsVersion.objects.first(),
    }
    return TemplateResponse(request, "cases/complete_intake.html", context, status=422 if context["wrongs"] else 200)


def _open(case: Case) -> bool:
    return Case.objects.filter(pk=case.pk, intake_finished=None).exists()


def _complete(form: CompleteIntakeForm, by: Actor) -> Case:
    """State and behaviour are corrections of each item; the rest belongs to the case."""
    said: dict[str, Any] = form.cleaned_data
    for state in form.states:
        actions.correct_item(item=state.item, changes=state.cleaned_data, by=by, happened=said["happened"])
    signed = form.terms.signed(otherwise=form.case.bearer.name) if form.terms else None
    return actions.complete_intake(
        case=form.case,
        told=form.told.told(),
        signed=signed,
        finished=said["finished"],
        by=by,
        happened=said["happened"],
    )
