"""Somebody asks, is refused, or comes back with a case."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from labcases.cases.actions.refusals import SomeoneWasFaster
from labcases.cases.models import Case, Enquiry
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry, Profile
from labcases.lab.roles import Right


@recorded
def enquire(*, by: Actor, happened: datetime, **told: Any) -> Enquiry:
    """Somebody asked and nothing was received: what was asked, which advice and price range were given."""
    by.must(Right.TAKE_IN)
    enquiry = Enquiry.objects.create(**_with_currency(told), **Entry.stamp(by, happened))
    record("enquired", thing=None, by=by, happened=happened, because=enquiry.asked)
    return enquiry


@recorded
def refuse(*, by: Actor, happened: datetime, reason: str, enquiry: Enquiry | None = None, **told: Any) -> Enquiry:
    """Refused at the counter, or an enquiry refused, with the reason that was given."""
    by.must(Right.TAKE_IN)
    if enquiry is None:
        refused = Enquiry.State.REFUSED
        enquiry = Enquiry.objects.create(
            state=refused, reason=reason, **_with_currency(told), **Entry.stamp(by, happened)
        )
    else:
        _answered(enquiry, Enquiry.State.REFUSED, reason)
    record("refused", thing=None, by=by, happened=happened, because=reason)
    return enquiry


@recorded
def end_enquiry(*, enquiry: Enquiry, by: Actor, happened: datetime, reason: str = "") -> Enquiry:
    """Nothing came of it."""
    by.must(Right.TAKE_IN)
    _answered(enquiry, Enquiry.State.ENDED, reason)
    record("enquiry-ended", thing=None, by=by, happened=happened, because=reason)
    return enquiry


def _with_currency(told: dict[str, Any]) -> dict[str, Any]:
    """A price is in the lab's own currency unless another is said."""
    return {"currency": Profile.current().currency} | told


def _answered(enquiry: Enquiry, state: str, reason: str) -> None:
    """Claim a waiting enquiry for its end."""
    waiting = Enquiry.objects.filter(pk=enquiry.pk, state=Enquiry.State.OPEN)
    if not waiting.update(state=state, reason=reason):
        raise SomeoneWasFaster("This enquiry is not waiting any more.", mend="Reload the page and look again.")
    enquiry.refresh_from_db()


def became(enquiry: Enquiry, case: Case) -> None:
    """An enquiry becomes one case, also after it was ended or refused: people come back."""
    if not Enquiry.objects.filter(pk=enquiry.pk, case=None).update(state=Enquiry.State.CASE, case=case):
        raise SomeoneWasFaster(
            "This enquiry has become a case already.", mend="Open the enquiry to see which, and go on there."
        )
