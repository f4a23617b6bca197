"""The one next safe step of an item, as a pure function of its facts.

The order is the trade's (common practice, no source): nothing before the terms allow it, no power before an inspection
where the story forbids it, no work before authority, nothing on the bench before there is somewhere to copy to, no word
"ready" before the result was checked, no release before money and ownership are settled. From the authority to the
result it is the item's own bench order that says what comes next (``bench.protocol``).

>>> from labcases.cases.facts import Facts
>>> step = next_step(Facts(stage=Stage.RECEIVED, in_the_lab=True, may_examine=True, terms_signed=True))
>>> step.what, step.verb, step.stopped_by
('Examine it', 'examine', ())
"""

from __future__ import annotations

from dataclasses import dataclass

from labcases.bench.cautions import CLEAN_AIR, NOISE, STATIC, WET
from labcases.bench.protocol import Standing, StepState, judge
from labcases.bench.protocol_defaults import DEFAULTS
from labcases.bench.protocol_facts import named
from labcases.cases.facts import Facts
from labcases.cases.stages import EXITS, GUARDS, RIGHT_ITEM, Guard, Stage
from labcases.lab.roles import Right


@dataclass(frozen=True)
class Step:
    """What to do now, why now, and which verb does it. ``stopped_by`` is what stands in the way; empty: go.

    ``right`` is what the person must hold; ``verb`` is empty when nobody here can do anything but wait. At the bench,
    ``reminders`` are what goes before it without holding it up, and ``grade`` says whether it may be passed by (ask).
    """

    what: str
    why: str
    verb: str
    right: Right
    stopped_by: tuple[Guard | Standing, ...] = ()
    cautions: tuple[str, ...] = ()
    reminders: tuple[str, ...] = ()
    grade: str = ""

    @property
    def open(self) -> bool:
        return bool(self.verb) and not self.stopped_by


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
    wet = [WET] if _soiled(facts) else []
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


def _at_bench(facts: Facts) -> Step:
    """The next step of the item's bench order; where all is stopped, the first of the stopped ones."""
    judged = judge(facts.bench_order or DEFAULTS["plain"], named(facts), facts.order_lifted)
    state = judged.next or judged.held
    if state is None:
        why = "Every step of its bench order is settled."
        return Step("Record what came of it", why, "record-result", Right.EXAMINE)
    verb = state.step.verb or "answer-order"
    right = Right.ASSIGN if verb in ("assign-donor", "assign-destination") else Right.EXAMINE
    why = f"The findings ask for: {facts.needs_part}." if verb == "assign-donor" else state.step.why
    reminders = tuple(f"{reminder.step.what}." for reminder in judged.reminders)
    cautions = _fitting(state, facts)
    graded = str(state.step.grade)
    return Step(state.step.what, why, verb, right, state.standing, cautions, reminders, graded)


def _fitting(state: StepState, facts: Facts) -> tuple[str, ...]:
    """The cautions of a step that apply: only what spins makes noise, only what got wet or burnt carries soil."""
    moot = set() if facts.spinning else {NOISE}
    moot |= set() if _soiled(facts) else {WET}
    return tuple(caution for caution in state.step.cautions if caution not in moot)


def _soiled(facts: Facts) -> bool:
    return any(word in reason for word in ("wet", "liquid", "fire", "burn") for reason in facts.no_power_because)


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
    Stage.AUTHORISED: _at_bench,
    Stage.IN_WORK: _at_bench,
    Stage.CHECKED: _checked,
    Stage.HANDED_OVER: _ended,
    Stage.CLOSED: _ended,
    Stage.NEVER_CAME: _ended,
}
