"""The page on which one notes what was done to a thing; the history of an event, and its correction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from labcases.core.views import bound, press, show
from labcases.custody.models import Event, Thing
from labcases.custody.noting import actions, forms, queries
from labcases.custody.views import thing_of
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True)
class Touch:
    """One thing that can be noted: its words, its form, its verb, who may, and whether it makes sense just now."""

    title: str
    form: type[forms.TouchForm]
    act: Callable[..., Any]
    right: Right
    fits: Callable[[Thing], bool]
    caution: str = ""
    danger: bool = False


def here(thing: Thing) -> bool:
    return thing.place_id is not None or thing.staff_id is not None


def away(thing: Thing) -> bool:
    return thing.party_id is not None


LICENSED = "Follow local rules; some media hold mercury, lithium or glass. Leave it to whoever is licensed for it."
TOUCHES: dict[str, Touch] = {
    "seal": Touch("Seal it", forms.SealForm, actions.seal, Right.MOVE, here),
    "break-seal": Touch(
        "Break a seal", forms.BreakSealForm, actions.break_seal, Right.MOVE, lambda t: here(t) and bool(t.seals_on)
    ),
    "break-other-seal": Touch(
        "Break a seal that is not on record", forms.BreakSealForm, actions.break_seal, Right.MOVE,
        lambda t: here(t) and not t.seals_on,
    ),
    "power-on": Touch(
        "Begin a power session", forms.PowerForm, actions.begin_power, Right.EXAMINE,
        lambda t: here(t) and not t.is_powered,
        "Dropped, clicking, wet or burnt: no power until it was inspected inside, in clean air.",
    ),
    "power-off": Touch(
        "End the power session", forms.PowerEndForm, actions.end_power, Right.EXAMINE, lambda t: t.is_powered
    ),
    "opened": Touch(
        "Note that it was opened in clean air", forms.OpenedForm, actions.note_opened, Right.EXAMINE, here,
        "Open it only where the customer allowed it, and only in clean air.",
    ),
    "fit-part": Touch("Note a part fitted", forms.FitForm, actions.fit_part, Right.EXAMINE, here),
    "remove-part": Touch("Note a part taken out", forms.RemoveForm, actions.remove_part, Right.EXAMINE, here),
    "read": Touch("Note that it was read", forms.ReadForm, actions.note_read, Right.EXAMINE, here),
    "written": Touch(
        "Note that firmware or a ROM was written", forms.WrittenForm, actions.note_written, Right.EXAMINE, here,
        "Only after a backup that was read twice and compared.", danger=True,
    ),
    "ship": Touch("Send it off", forms.ShipForm, actions.ship, Right.HAND_OVER, here),
    "delivered": Touch(
        "Note that it has arrived", forms.DeliveredForm, actions.confirm_delivery, Right.MOVE, away
    ),
    "back": Touch("Take it back", forms.BackForm, actions.take_back, Right.MOVE, away),
    "destroyed": Touch(
        "Note that it was destroyed", forms.DestroyForm, actions.destroy, Right.KEEP_STOCK, here, LICENSED, danger=True
    ),
}  # fmt: skip


@require_GET
@needs(Right.LOOK)
def choose(request: StaffRequest, code: str) -> HttpResponse:
    """What can be noted of this thing, by this person, as it stands."""
    thing = thing_of(code)
    mine = {what: touch for what, touch in TOUCHES.items() if touch.right in request.user.rights}
    listed = [(what, touch) for what, touch in mine.items() if touch.fits(thing)]
    return show(request, "custody/note.html", {"thing": thing, "touches": listed, "rights": bool(mine)})


@GET_OR_POST
@needs(Right.LOOK)
def note(request: StaffRequest, code: str, what: str) -> HttpResponse:
    """Note one touch. The right is the touch's own, asked for here and again by its verb."""
    thing, touch = thing_of(code), TOUCHES.get(what)
    if touch is None:
        raise Http404(f"Nothing called {what} is noted of a thing.")
    request.actor = request.user.acting(touch.right)
    form = bound(request, touch.form, thing=thing)

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        touch.act(thing=thing, by=request.actor, **said)
        return reverse("custody:thing", args=[thing.printed_code])

    context = {"form": form, "thing": thing, "touch": touch}
    return press(request, form, f"note-{what}", act) or show(request, "custody/note_one.html", context)


@require_GET
@needs(Right.LOOK)
def history(request: StaffRequest, sequence: int) -> HttpResponse:
    """One event as it was recorded, and every correction of it since."""
    chain = queries.history_of(_event(sequence))
    mine = any(event.actor_ref == str(request.user.ref) for event in chain.events[:1])
    may_correct = Right.CORRECT_ANY in request.user.rights or (mine and Right.CORRECT in request.user.rights)
    return show(request, "custody/event.html", {"chain": chain, "may_correct": may_correct})


@GET_OR_POST
@needs(Right.CORRECT)
def correct(request: StaffRequest, sequence: int) -> HttpResponse:
    """Correct an event; a manager's correction answers the breaks that show at it."""
    event = _event(sequence)
    form = bound(request, forms.CorrectForm)

    def act(said: dict[str, Any]) -> str:
        said.pop("once")
        actions.correct(event=event, by=request.actor, **said)
        return reverse("custody:event", args=[sequence])

    context = {"form": form, "chain": queries.history_of(event)}
    return press(request, form, "correct", act) or show(request, "custody/correct.html", context)


def _event(sequence: int) -> Event:
    found = Event.objects.defer("body").filter(sequence=sequence).first()
    if found is None:
        raise Http404(f"The ledger has no event {sequence}.")
    return found
