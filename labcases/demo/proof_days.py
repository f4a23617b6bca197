"""Plays custody: seals, power, openings, a break that is answered and one that is not, a correction, witnesses."""

from __future__ import annotations

from datetime import timedelta

from labcases.custody.models import Event
from labcases.custody.noting import actions as noting
from labcases.custody.scanning.actions import ask, change_rules
from labcases.demo.days import Days

WITNESSES = ("notary@example.com", "archive@example.com")
ALLOWED = "terms signed at the counter"


def furnish(days: Days) -> None:
    """Who outside keeps the ledger's head, from the first week."""
    days.do(days.ago(89), change_rules, "manager", both_confirm=False, witnesses=WITNESSES)


def play(days: Days) -> None:
    _footage(days)
    _recordings(days)
    _opened(days)
    _partners(days)
    _put_right(days)
    _asked(days)


def _footage(days: Days) -> None:
    """The harbour's footage may be asked for in court: sealed whenever nobody works on it. One number was misread."""
    thing = days.thing("harbour")
    days.do(days.since("harbour", 0.02), noting.seal, "counter", thing=thing, seals=["QM-004471", "QM-004472"])
    because, misread = "Identity read for the quote.", ["QM-004417", "QM-004472"]
    about = {"thing": thing, "seals": misread, "because": because, "authority": ALLOWED}
    broken = days.do(days.since("harbour", 0.2), noting.break_seal, **about)
    days.do(days.since("harbour", 0.22), noting.begin_power, thing=thing, station="Bench 2", port="own supply")
    change = "A running drive adds to its own logs; nothing else was written."
    said = {"because": "spins, not ready; off after 20 s", "change": change}
    days.do(days.since("harbour", 0.221), noting.end_power, thing=thing, **said)
    told = "Two digits turned when it was typed: the photograph of the bag shows QM-004471, whole until then."
    days.do(days.since("harbour", 0.3), noting.correct, "manager", event=broken, because=told)
    days.do(days.since("harbour", 0.32), noting.seal, thing=thing, seals=["QM-004480"], because="back in its bag")


def _recordings(days: Days) -> None:
    """A part fitted, and read; its power sessions are those of the bench machine."""
    thing = days.thing("choir")
    used = days.item("choir").part_assignments.select_related("part__thing").first()
    if used:
        about = {"thing": thing, "part": used.part.thing, "because": "head stack of the donor, patient's own ROM"}
        days.do(days.since("choir", 0.029), noting.fit_part, authority="quote accepted", **about)
    because = "first pass, outer third"
    days.do(days.since("choir", 0.05), noting.note_read, thing=thing, because=because, station="Bench machine 1")


def _opened(days: Days) -> None:
    about = {"because": "to see the heads", "station": "Clean bench by the window", "authority": ALLOWED}
    change = "Cover seal cut and renewed."
    days.do(days.since("workshop", 0.1), noting.note_opened, thing=days.thing("workshop"), change=change, **about)


def _partners(days: Days) -> None:
    """It came with a seal of the customer's own, cut before anybody had written its number down."""
    about = {"seals": ["HQ-88102"], "because": "Cut at the counter to read the label."}
    days.do(days.since("partners", 0.1), noting.break_seal, "counter", thing=days.thing("partners"), **about)


def _put_right(days: Days) -> None:
    """Noted on one shelf, lying on the next: the one who put it there says so."""
    thing = days.thing("partners")
    moved = Event.objects.filter(thing_code=thing.code, kind="moved").order_by("-sequence")[0]
    about = {"event": moved, "to": days.place("Safe"), "because": "It lies in the safe since the dispute, not there."}
    days.do(days.since("partners", 0.4), noting.correct, "counter", **about)


def _asked(days: Days) -> None:
    """A question to a colleague that waits for an answer."""
    taker = days.staff["counter"].staff
    moment = max(days.ago(0, hours=1), days.since("survey", 0.5) + timedelta(minutes=1))
    things = [days.thing("survey", number) for number in (1, 2)]
    days.do(moment, ask, things=things, to=taker, because="ready: to the shelf behind the counter")
