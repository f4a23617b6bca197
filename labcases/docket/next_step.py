"""The one next safe step of an item, as a pure function of its facts.

The order is the trade's (common practice, no source): nothing before the terms allow it, no power before an inspection
where the story forbids it, no work before authority, nothing on the bench before there is somewhere to copy to, no word
"ready" before the result was checked, no release before money and ownership are settled.

>>> from labcases.cases.facts import Facts
>>> step = next_step(Facts(stage=Stage.RECEIVED, in_the_lab=True, may_examine=True, terms_signed=True))
>>> step.what, step.verb, step.stopped_by
('Examine it', 'examine', ())
"""

from __future__ import annotations

from dataclasses import dataclass

from labcases.cases.facts import Facts
from labcases.cases.stages import EXITS, GUARDS, RIGHT_ITEM, Guard, Stage
from labcases.lab.roles import Right


@dataclass(frozen=True)
class Step:
    """What to do now, why now, and which verb does it. ``stopped_by`` is what stands in the way; empty: go.

    ``right`` is what the person must hold; ``verb`` is empty when nobody here can do anything but wait.
    """

    what: str
    why: str
    verb: str
    right: Right
    stopped_by: tuple[Guard, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def open(self) -> bool:
        return bool(self.verb) and not self.stopped_by


CLEAN_AIR = "Clean air for every opening: ISO 14644-1 class 5 or better."
STATIC = "Wrist strap and mat: a discharge kills heads and boards without a trace."
NOISE = "Stop at the first new noise. A head that starts to scrape ruins the platter within seconds."
MAINS = (
    "Mains parts, shorted boards and swollen cells: isolate, do not charge or puncture, leave it to a licensed person."
)
WET = "Flood and fire media carry contamination: gloves, eye protection, ventilation; follow local rules."


def next_step(facts: Facts) -> Step:
    """The next safe step of one item."""
    if facts.legal_hold:
        return Step(
            "Keep it safe and untouched", "The law holds it: nothing is done until the hold ends.", "", Right.LIFT_STOP
        )
    if facts.wrong_item:
        return Step("Stop: it is the wrong item", RIGHT_ITEM.because, "lift-wrong-item", Right.LIFT_STOP)
    if facts.stage in EXITS or facts.stage == Stage.READY:
        return _give_back(facts)
    return _identity(facts) or _STEPS[facts.stage](facts)


def _identity(facts: Facts) -> Step | None:
    """What must be known of who it is, before anything is read from it."""
    if facts.stage not in (Stage.RECEIVED, Stage.EXAMINED, Stage.AUTHORISED, Stage.IN_WORK):
        return None
    if facts.differs:
        why = f"Its {' and '.join(facts.differs)} {'is' if len(facts.differs) == 1 else 'are'} not what was noted."
        return Step("Answer what differs from intake", why, "answer-identity", Right.EXAMINE)
    if facts.locked and not facts.clone_noted and facts.stage in (Stage.AUTHORISED, Stage.IN_WORK):
        kept = "What opens it is kept under Locks." if facts.secret_kept else "Ask for its password: none is kept."
        why = f"It is locked by a disk password, so nothing can be read. {kept}"
        return Step("Unlock it, then read who it is again", why, "identify", Right.EXAMINE)
    return None


def _guarded(step: Step, facts: Facts, to: Stage) -> Step:
    standing = tuple(guard for guard in GUARDS.get(to, ()) if not guard.holds(facts))
    return Step(step.what, step.why, step.verb, step.right, standing, step.cautions)


def _expected(facts: Facts) -> Step:
    why = "It is on its way by post. Photograph the parcel closed, then opened."
    return Step("Take the parcel in when it comes", why, "arrive", Right.TAKE_IN)


def _received(facts: Facts) -> Step:
    if not facts.terms_signed:
        return Step("Have the terms signed", "Nothing may be done to it before that.", "complete-intake", Right.TAKE_IN)
    soiled = ("wet", "liquid", "fire")
    wet = [WET] if any(word in reason for word in soiled for reason in facts.no_power_because) else []
    if facts.no_power_because:
        said = " and ".join(facts.no_power_because)
        what = "Inspect it inside, in clean air, before any power"
        why = f"No power yet: {said}. Crashed heads scrape the platters at every turn."
        if not facts.may_open:
            what = "Examine it without power"
            why += " Opening for inspection is not allowed yet: ask for that authority."
        return _guarded(Step(what, why, "examine", Right.EXAMINE, cautions=(CLEAN_AIR, *wet)), facts, Stage.EXAMINED)
    why = "Board looked over and checked for shorts first, without power; then who it says it is."
    return _guarded(Step("Examine it", why, "examine", Right.EXAMINE, cautions=(STATIC,)), facts, Stage.EXAMINED)


def _examined(facts: Facts) -> Step:
    why = f"Found: {facts.found}." if facts.found else "The findings are on file."
    return _guarded(Step("Quote the work", why, "quote", Right.QUOTE), facts, Stage.QUOTED)


def _quoted(facts: Facts) -> Step:
    why = "The quote is out. Nothing chargeable or irreversible starts before a yes is on file."
    return Step("Note the customer's answer", why, "answer-quote", Right.TELL)


def _authorised(facts: Facts) -> Step:
    if facts.needs_part and not facts.donor_parts:
        why = f"The findings ask for: {facts.needs_part}. No part is assigned."
        return Step("Assign a donor part", why, "assign-donor", Right.ASSIGN)
    if not facts.destinations:
        why = "Reading starts only when there is a clean medium to copy to."
        return Step("Assign a destination", why, "assign-destination", Right.ASSIGN)
    why = "Authority is on file and there is somewhere to copy to."
    cautions = (NOISE, STATIC) if facts.spinning else (STATIC,)
    return _guarded(Step("Start the work", why, "start-work", Right.EXAMINE, cautions=cautions), facts, Stage.IN_WORK)


def _in_work(facts: Facts) -> Step:
    cautions = (NOISE,) if facts.spinning else ()
    if not facts.clone_noted:
        why = "Copy it sector by sector before anything else, and note what was done as it is done."
        return Step("Copy it, and note each step", why, "note-step", Right.EXAMINE, cautions=cautions)
    why = "Open samples of each wanted kind: a file name is not a file."
    return Step("Record what came of it", why, "record-result", Right.EXAMINE, cautions=cautions)


def _checked(facts: Facts) -> Step:
    why = "The result is checked. Copy it to the delivery medium, compare, then say that it is ready."
    return _guarded(Step("Make it ready", why, "make-ready", Right.EXAMINE), facts, Stage.READY)


def _give_back(facts: Facts) -> Step:
    if facts.stage == Stage.READY and not facts.told_ready:
        return Step("Tell the customer that it is ready", "They are waiting for this word.", "tell", Right.TELL)
    why = "Everything that came in goes out, or stays by signature."
    return _guarded(Step("Hand it over", why, "hand-over", Right.HAND_OVER), facts, Stage.HANDED_OVER)


def _ended(facts: Facts) -> Step:
    return Step("Nothing more to do", f"It is {facts.stage}.", "", Right.LOOK)


_STEPS = {
    Stage.EXPECTED: _expected,
    Stage.RECEIVED: _received,
    Stage.EXAMINED: _examined,
    Stage.QUOTED: _quoted,
    Stage.AUTHORISED: _authorised,
    Stage.IN_WORK: _in_work,
    Stage.CHECKED: _checked,
    Stage.HANDED_OVER: _ended,
    Stage.CLOSED: _ended,
    Stage.NEVER_CAME: _ended,
}
