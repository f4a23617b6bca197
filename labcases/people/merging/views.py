"""The page that makes one record of two, and the button that parts them again."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.people.merging import actions, queries
from labcases.people.merging.forms import MergeForm, PartForm
from labcases.people.models import Party
from labcases.people.queries import FoundParty, matching


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def merge(request: StaffRequest, pk: int) -> HttpResponse:
    """``?with=`` names the record that goes into this one; without it, the likely ones and a field to find it."""
    kept = get_object_or_404(Party.objects.select_related("merged_into"), pk=pk)
    if kept.merged_into:
        messages.warning(request, f"This record has gone into {kept.merged_into}. Undo that first.")
        return redirect(kept)
    gone = _named(request.GET.get("with", ""), kept)
    if gone is None:
        return show(request, "people/merge_with.html", _candidates(request, kept))
    form = bound(request, MergeForm, kept=kept, gone=gone, country=request.lab.country)

    def act(said: dict[str, Any]) -> Party:
        times = {"happened": said["happened"], "because": said["because"]}
        actions.merge(kept=kept, gone=gone, chosen=form.chosen(), by=request.actor, **times)
        return kept

    if done := press(request, form, "merge-customers", act):
        messages.success(request, f"One record now: {kept}. It can be undone on this page.")
        return done
    sides = {"kept_has": queries.attached(kept), "gone_has": queries.attached(gone)}
    return show(request, "people/merge.html", {"form": form, "kept": kept, "gone": gone, **sides})


def _named(typed: str, kept: Party) -> Party | None:
    """The other record; a merged one stands for what it became. None when nobody is named, or only this one."""
    if not typed.isdecimal() or len(typed) > 17:
        return None
    found = Party.objects.select_related("merged_into").filter(pk=typed).first()
    if found is None:
        raise Http404
    other = found.stands_as
    return other if other.pk != kept.pk else None


def _candidates(request: StaffRequest, kept: Party) -> dict[str, Any]:
    typed = request.GET.get("q", "")
    found: list[FoundParty] = matching(typed, country=request.lab.country, limit=20)
    others = [one for one in found if one.party.pk != kept.pk]
    return {"party": kept, "twins": queries.twins(kept), "found": others, "typed": typed}


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def part(request: StaffRequest, pk: int) -> HttpResponse:
    """Undo the merge by which this record went into another."""
    gone = get_object_or_404(Party, pk=pk)
    merge = queries.where_it_went(gone)
    form = bound(request, PartForm)
    if merge is None and request.method == "GET":
        messages.warning(request, "This record stands by itself: there is nothing to undo.")
        return redirect(gone)

    def act(said: dict[str, Any]) -> Party:
        # A second press finds the merge undone: the one-time key answers it before this is asked.
        actions.part(merge=merge or gone.went.latest("pk"), by=request.actor, **_without_key(said))
        return gone

    if done := press(request, form, "part-customers", act):
        messages.success(request, f"Two records again: {gone} stands by itself.")
        return done
    return show(request, "people/part.html", {"form": form, "gone": gone, "merge": merge})


def _without_key(said: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in said.items() if name != "once"}
