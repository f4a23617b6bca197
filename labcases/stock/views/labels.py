"""Labels for things: chosen in a list, scanned or typed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.http import HttpResponse
from django.utils import timezone
from django.utils.http import content_disposition_header

from labcases.core import codes
from labcases.core.refused import Refused
from labcases.core.views import bound, show
from labcases.custody.models import Thing
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.lab.symbols import NoSymbol
from labcases.paper.labels import SIZES, Label, LabelTooSmall
from labcases.paper.papers import label_sheet
from labcases.paper.render import PaperMachineMissing
from labcases.paper.views import POLICY
from labcases.stock import actions
from labcases.stock.finding.queries import codes_of
from labcases.stock.forms.verbs import LabelForm
from labcases.stock.models import Destination
from labcases.stock.views.common import GET_OR_POST, page_of

MOST_IN_ONE_PRESS = 250  # codes that the field takes


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.MOVE)
def labels(request: StaffRequest) -> HttpResponse:
    """Print labels; ``?things=`` (any number of times) or ``?found=`` (what the find page lists) fills the form in.

    Setting takes its time: no transaction.
    """
    things = request.GET.getlist("things")
    if "found" in request.GET:
        things += codes_of(request.GET["found"], most=MOST_IN_ONE_PRESS)
    start = {"things": " ".join(things)}
    form = bound(request, LabelForm, initial=start)
    if request.method == "POST" and form.is_valid():
        try:
            return _printed(request, form)
        except (LabelTooSmall, NoSymbol, PaperMachineMissing) as problem:
            form.add_refusal(Refused(str(problem)))
    context = page_of("Print labels", form, None, "")
    return show(request, "verb.html", context)


def _printed(request: StaffRequest, form: LabelForm) -> HttpResponse:
    said, now = form.cleaned_data, timezone.now()
    many = _labels(said["things"], now)
    pdf = label_sheet(many, SIZES[said["size"]], title="Labels", language="en-GB", issued=now, first=said["first"])
    actions.labelled(things=said["things"], by=request.actor, happened=now)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = content_disposition_header(False, "labels.pdf") or "inline"
    response["Cache-Control"] = "private, no-store"
    response["Content-Security-Policy"] = POLICY
    return response


def _labels(things: Sequence[Thing], now: datetime) -> list[Label]:
    """A medium's label says whose data it holds, and on which day: nobody may forget that before its wipe."""
    held = Destination.objects.with_context().filter(thing__in=things, written=True, held_for__isnull=False)
    day = f"{timezone.localtime(now):%d %b %Y}".lstrip("0")
    whose = {medium.thing_id: f", data of {medium.held_for}, {day}" for medium in held}
    return [
        Label(
            thing.printed_code,
            codes.symbol(thing.code),
            thing.words[:60],
            f"{thing.get_kind_display()}{whose.get(thing.pk, '')}",
        )
        for thing in things
    ]
