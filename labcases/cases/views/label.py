"""The label beside large fields: one types what one sees."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from labcases.cases import actions, queries
from labcases.cases.forms.label import LabelForm
from labcases.cases.models import Item
from labcases.cases.views.either import acting_in_either
from labcases.core.views import bound, press, show
from labcases.custody.photos.queries import photos_of
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

BECAUSE = "read from the label"


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK)
def label(request: StaffRequest, code: str, number: int) -> HttpResponse:
    """``?photo=`` is the photo that is shown; the newest one otherwise."""
    by = acting_in_either(request.user, Right.TAKE_IN, Right.EXAMINE)
    case = queries.case_for(request.user, code)
    item = Item.objects.with_context().filter(case=case, number=number).first()
    if item is None:
        raise Http404(f"Case {case} has no item {number}.")
    form = bound(request, LabelForm, initial=LabelForm.initial_of(item))

    def act(said: dict[str, Any]) -> Item:
        return actions.correct_item(
            item=item, changes=form.changes(item), by=by, happened=timezone.now(), because=BECAUSE
        )

    if done := press(request, form, f"label {item.thing.code}", act):
        messages.success(request, f"The label of {item} is noted.")
        return done
    photos = photos_of(item.thing)
    wanted = request.GET.get("photo", "")
    seen = next((photo for photo in photos if str(photo.pk) == wanted), photos[-1] if photos else None)
    return show(request, "cases/label.html", {"form": form, "item": item, "photos": photos, "seen": seen})
