"""Handing over with both sides' word, PINs, and what the lab asks for in custody."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.utils import timezone

from labcases.core.refused import Refused
from labcases.custody.actions import move_all, record, recorded
from labcases.custody.models import AskedHandover, CustodyRules, Event, StaffPin, Thing, Witness
from labcases.lab.models import Actor, Entry, FailedLogIn, Staff
from labcases.lab.roles import Right

TRIES, SHORTEST, LONGEST = 6, 4, 12
MEMORY = timedelta(minutes=15)


class NotYours(Refused):
    """A hand-over that is somebody else's to answer."""


class Answered(Refused):
    """It was answered, or things have moved since it was asked."""


# --- PINs -----------------------------------------------------------------------------------------------------------


def set_pin(*, pin: str, by: Actor, happened: datetime) -> StaffPin:
    """A person's own PIN, 4 to 12 digits that are no plain row. Raises Refused."""
    if by.staff is None:
        raise ValueError("The worker has no PIN.")
    if not pin.isascii() or not pin.isdigit() or not SHORTEST <= len(pin) <= LONGEST or _too_plain(pin):
        raise Refused(
            f"A PIN has {SHORTEST} to {LONGEST} digits, and is no plain row like 1111 or 1234.",
            mend="Choose another.",
        )
    made, _ = StaffPin.objects.update_or_create(
        staff=by.staff, defaults={"digest": make_password(pin), "since": happened}
    )
    return made


def _too_plain(pin: str) -> bool:
    steps = {int(after) - int(before) for before, after in itertools.pairwise(pin)}
    return len(steps) == 1 and steps <= {-1, 0, 1}


def pin_trouble(person: Staff, pin: str) -> str:
    """Why this PIN does not confirm for this person, in a sentence; empty when it does.

    Call it outside any transaction: wrong tries are counted, and after six the person waits a quarter of an hour.
    """
    name = f"pin {person.pk}"
    since = timezone.now() - MEMORY
    if FailedLogIn.objects.filter(login=name, at__gt=since).count() >= TRIES:
        return "Too many wrong PINs. Wait a quarter of an hour, or confirm on a page of your own."
    kept = StaffPin.objects.filter(staff=person).first()
    if kept is None:
        return f"{person} has no PIN yet. Leave the field empty: it is then asked on {person}'s own pages."
    if not check_password(pin, kept.digest):
        FailedLogIn.objects.create(login=name)
        return f"This is not the PIN of {person}."
    FailedLogIn.objects.filter(login=name).delete()
    return ""


# --- hand-overs that wait -------------------------------------------------------------------------------------------


@recorded
def ask(*, things: Sequence[Thing], to: Staff, by: Actor, happened: datetime, because: str = "") -> AskedHandover:
    """Ask a colleague to take things; they stay where they are until that one says so on a page of their own."""
    by.must(Right.MOVE)
    made = AskedHandover.objects.create(to=to, because=because, **Entry.stamp(by, happened))
    made.things.set(things)
    return made


@recorded
def take(*, asked: AskedHandover, by: Actor, happened: datetime) -> list[Event]:
    """Take what was handed: one event for each thing. Raises NotYours or Answered."""
    by.must(Right.MOVE)
    _claim(asked, AskedHandover.State.TAKEN, by)
    things = list(asked.things.all())
    if moved := [str(thing) for thing in things if thing.last_moved and thing.last_moved > asked.entered]:
        raise Answered(f"Moved since it was asked: {', '.join(moved)}.", mend="Refuse it, and have it handed anew.")
    confirmed = f"{asked.to}, on a page of their own; handed by {asked.by}"
    return move_all(things=things, to=asked.to, by=by, happened=happened, because=asked.because, confirmed=confirmed)


@recorded
def refuse(*, asked: AskedHandover, because: str, by: Actor, happened: datetime) -> None:
    """Do not take it: things stay where they are, and who asked sees why. Raises NotYours or Answered."""
    _claim(asked, AskedHandover.State.REFUSED, by)
    AskedHandover.objects.filter(pk=asked.pk).update(said=because)


@recorded
def withdraw(*, asked: AskedHandover, by: Actor, happened: datetime) -> None:
    """Take the question back. Raises NotYours or Answered."""
    if by.staff != asked.by:
        raise NotYours("Somebody else asked this.")
    _answer(asked, AskedHandover.State.WITHDRAWN)


def _claim(asked: AskedHandover, state: str, by: Actor) -> None:
    if by.staff != asked.to:
        raise NotYours(f"This waits for {asked.to}.", mend="They confirm it on a page of their own.")
    _answer(asked, state)


def _answer(asked: AskedHandover, state: str) -> None:
    waiting = AskedHandover.objects.filter(pk=asked.pk, state=AskedHandover.State.ASKED)
    if not waiting.update(state=state, answered=timezone.now()):
        raise Answered("This was answered already.", mend="Reload the page and look again.")


# --- what the lab asks for ------------------------------------------------------------------------------------------


@recorded
def change_rules(*, both_confirm: bool, witnesses: Iterable[str], by: Actor, happened: datetime) -> CustodyRules:
    """Whether hand-overs ask for both, and which addresses outside are sent the ledger's head."""
    by.must(Right.KEEP_LAB)
    rules, _ = CustodyRules.objects.update_or_create(pk=1, defaults={"both_confirm": both_confirm})
    wanted = set(witnesses)
    Witness.objects.exclude(address__in=wanted).delete()
    known = set(Witness.objects.values_list("address", flat=True))
    Witness.objects.bulk_create([Witness(address=address) for address in sorted(wanted - known)])
    said = f"hand-overs ask for {'both' if both_confirm else 'one'}; {len(wanted)} witnesses of the ledger"
    record("lab-changed", thing=None, by=by, happened=happened, because=said)
    return rules
