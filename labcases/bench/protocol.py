"""The order of the bench as data, and the judgement: which steps are done, open or stopped, by what, and which is next.

A **protocol** is a list of steps. Each says what to do and why, when it is needed, what makes it done by itself, which
steps come before it, what else must be so (its *stops*), and how strictly it precedes what comes after it:

- **stop**: nothing after it goes on before it is done. A manager may lift that, with a reason, on record.
- **ask**: likewise, but the engineer may pass it by with one tap and a ready reason, on record.
- **remind**: it is said, and holds nothing up.

The same three grades are used for the stops of a single step; one that says *always* is lifted by nobody. A step that
is marked *never* is a standing prohibition: it is always stopped, and nothing may come after it.

>>> disk = Protocol("disk", (
...     Step("inside", "Inspect it inside", "Crashed heads scrape.", applies=Condition(all=("power-forbidden",)),
...          done=Condition(all=("inspected-inside",))),
...     Step("board", "Check the board", "A short kills heads.", Grade.ASK, reasons=("no board there",)),
...     Step("copy", "Copy it", "Before all else.", after=("inside", "board"), done=Condition(all=("clone-noted",))),
... ))
>>> judge(disk, {"power-forbidden"}).next.step.key
'inside'
>>> told = judge(disk, {"power-forbidden", "board"})
>>> [(state.step.key, str(state.state)) for state in told.steps]
[('inside', 'open'), ('board', 'done'), ('copy', 'stopped')]
>>> judge(disk, {"board"}).next.step.key  # nothing forbids power: the inspection is not needed
'copy'
>>> judge(disk, {"power-forbidden"}, lifted={"inside", "board"}).next.step.key
'copy'

**How.** The steps are put in an order in which each follows all that come before it, keeping the list's own order
otherwise. A step is *done* when its own key is a fact or its ``done`` holds; conditions of ``done`` only ever ask for
facts that are there, so what is learned later undoes nothing. It is *needed* when ``applies`` holds. A needed step is
*stopped* by each of its stops that does not hold, and by each needed step anywhere before it, however far back, that is
neither done nor passed and is no mere reminder. The **next** step is the first one open that is no mere reminder.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter

from labcases.bench.protocol_facts import FACTS


class Grade(StrEnum):
    STOP = "stop"
    ASK = "ask"
    REMIND = "remind"


class State(StrEnum):
    DONE = "done"
    PASSED = "passed by"
    OPEN = "open"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class Condition:
    """All of these facts, at least one of those, none of the last. An empty condition asks nothing and holds."""

    all: tuple[str, ...] = ()
    any: tuple[str, ...] = ()
    none: tuple[str, ...] = ()

    def holds(self, true: Set[str]) -> bool:
        some = not self.any or not true.isdisjoint(self.any)
        return some and all(name in true for name in self.all) and true.isdisjoint(self.none)

    def __bool__(self) -> bool:
        return bool(self.all or self.any or self.none)

    def __iter__(self) -> Iterator[str]:
        return iter((*self.all, *self.any, *self.none))


@dataclass(frozen=True, slots=True)
class Stop:
    """What must be so before one step. ``lift`` is what makes it so, said to the person who is stopped."""

    key: str
    unless: Condition
    because: str
    lift: str
    grade: Grade = Grade.STOP
    always: bool = False
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One step. ``verb`` is the verb of the bench that does it; empty: it is noted as done with a tap.

    ``results`` are ready words for how it was done, ``reasons`` ready reasons to pass it by (only for ask).
    """

    key: str
    what: str
    why: str
    grade: Grade = Grade.STOP
    applies: Condition = Condition()
    done: Condition = Condition()
    after: tuple[str, ...] = ()
    stops: tuple[Stop, ...] = ()
    cautions: tuple[str, ...] = ()
    results: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    verb: str = ""
    never: bool = False

    def stop_key(self, stop: Stop) -> str:
        """How a lifting names one stop of this step."""
        return f"{self.key}/{stop.key}"


@dataclass(frozen=True, slots=True)
class Protocol:
    """The steps for one kind of medium, in the order in which they are read."""

    kind: str
    steps: tuple[Step, ...]

    def step(self, key: str) -> Step | None:
        return next((step for step in self.steps if step.key == key), None)


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands in a step's way. ``key`` is what a lifting or an answer must name; ``always``: nobody lifts it."""

    key: str
    grade: Grade
    because: str
    lift: str
    always: bool = False


@dataclass(frozen=True, slots=True)
class StepState:
    """How one step stands. ``reminders`` are stops of it that are only said."""

    step: Step
    state: State
    standing: tuple[Standing, ...] = ()
    reminders: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        return self.step.key


@dataclass(frozen=True, slots=True)
class Judgement:
    """Every needed step in order; the next safe one; the reminders that go before it; what is not needed here."""

    steps: tuple[StepState, ...]
    next: StepState | None
    reminders: tuple[StepState, ...]
    not_needed: tuple[Step, ...]

    def state(self, key: str) -> StepState | None:
        return next((state for state in self.steps if state.key == key), None)

    @property
    def held(self) -> StepState | None:
        """Where it hangs when no step is open: the first stopped step of the work."""
        found = (state for state in self.steps if state.state is State.STOPPED and not state.step.never)
        return next(found, None) if self.next is None else None

    @property
    def asks(self) -> tuple[StepState, ...]:
        """What may be answered now: asks that are open, or that only wait for other asks."""
        return tuple(state for state in self.steps if _may_be_asked(state))


def _may_be_asked(state: StepState) -> bool:
    if state.step.grade is not Grade.ASK or state.state not in (State.OPEN, State.STOPPED):
        return False
    return all(standing.grade is Grade.ASK and "/" not in standing.key for standing in state.standing)


def judge(protocol: Protocol, facts: Set[str], lifted: Set[str] = frozenset()) -> Judgement:
    """How an item stands in its protocol. ``facts`` hold names of facts and the keys of steps noted as done;
    ``lifted`` the keys of steps and of stops that were passed by or lifted. Raises ValueError on a circle of steps."""
    plan = _plan(protocol)
    done = {s.key for s in plan.steps if not s.never and (s.key in facts or (bool(s.done) and s.done.holds(facts)))}
    needed = {s.key for s in plan.steps if s.key in done or s.applies.holds(facts)}
    passed = {s.key for s in plan.steps if s.key in lifted and s.key not in done and not s.never}
    known = _Known(facts, lifted, done, passed, needed, plan)
    states = tuple(known.state(step) for step in plan.steps if step.key in needed)
    found = next((s for s in states if s.state is State.OPEN and s.step.grade is not Grade.REMIND), None)
    before = plan.before[found.key] if found else frozenset(plan.before)
    said = (s for s in states if s.state is State.OPEN and s.step.grade is Grade.REMIND and s.key in before)
    return Judgement(states, found, tuple(said), tuple(s for s in plan.steps if s.key not in needed))


@dataclass(frozen=True, slots=True)
class _Plan:
    """The steps in order, and the keys of all that come before each, however far back."""

    steps: tuple[Step, ...]
    before: Mapping[str, frozenset[str]]


@lru_cache(maxsize=256)
def _plan(protocol: Protocol) -> _Plan:
    after = {step.key: {key for key in step.after if protocol.step(key)} for step in protocol.steps}
    placed: dict[str, Step] = {}
    before: dict[str, frozenset[str]] = {}
    waiting = list(protocol.steps)
    while waiting:
        step = next((step for step in waiting if after[step.key] <= placed.keys()), None)
        if step is None:
            raise ValueError(f"These steps wait for each other: {', '.join(step.key for step in waiting)}.")
        waiting.remove(step)
        placed[step.key] = step
        before[step.key] = frozenset(after[step.key]).union(*(before[key] for key in after[step.key]))
    return _Plan(tuple(placed.values()), before)


@dataclass(frozen=True, slots=True)
class _Known:
    """What one judgement goes by."""

    facts: Set[str]
    lifted: Set[str]
    done: Set[str]
    passed: Set[str]
    needed: Set[str]
    plan: _Plan

    def state(self, step: Step) -> StepState:
        if step.never:
            return StepState(
                step, State.STOPPED, (Standing(step.key, Grade.STOP, step.why, "Nothing lifts it.", True),)
            )
        if step.key in self.done:
            return StepState(step, State.DONE)
        if step.key in self.passed:
            return StepState(step, State.PASSED)
        unmet = [stop for stop in step.stops if self._stands(step, stop)]
        reminders = tuple(stop.because for stop in unmet if stop.grade is Grade.REMIND)
        standing = tuple(self._from_stops(step, unmet)) + tuple(self._from_before(step))
        return StepState(step, State.STOPPED if standing else State.OPEN, standing, reminders)

    def _stands(self, step: Step, stop: Stop) -> bool:
        settled = {s.key for s in self.plan.steps if not self._in_the_way(s)}
        true = (set(self.facts) - {s.key for s in self.plan.steps}) | settled
        return (stop.always or step.stop_key(stop) not in self.lifted) and not stop.unless.holds(true)

    def _in_the_way(self, step: Step) -> bool:
        return step.key in self.needed and step.key not in self.done and step.key not in self.passed

    def _from_stops(self, step: Step, unmet: Iterable[Stop]) -> Iterator[Standing]:
        for stop in unmet:
            if stop.grade is not Grade.REMIND:
                yield Standing(step.stop_key(stop), stop.grade, stop.because, stop.lift, stop.always)

    def _from_before(self, step: Step) -> Iterator[Standing]:
        for other in self.plan.steps:
            strict = other.grade is not Grade.REMIND or other.never
            if other.key in self.plan.before[step.key] and strict and self._in_the_way(other):
                because = f"Not done yet: {_lower(other.what)}."
                yield Standing(other.key, other.grade, because, _LIFT[other.grade], other.never)


_LIFT = {
    Grade.STOP: "Do it first, or let a manager lift it with a reason.",
    Grade.ASK: "Do it first, or pass it by with a reason.",
    Grade.REMIND: "",
}


def _lower(sentence: str) -> str:
    first, rest = sentence[:1], sentence[1:]
    return sentence if rest[:1].isupper() else first.lower() + rest


def first_word(step: Step) -> tuple[str, str]:
    """The first ready answer to a step, as how it is noted and its words; for whoever plays or tries an order.

    >>> first_word(Step("a", "Look", "w", Grade.ASK, results=("clean",), reasons=("not there",)))
    ('done', 'clean')
    """
    return ("passed", step.reasons[0]) if step.reasons and not step.results else ("done", " ".join(step.results[:1]))


# --- what is wrong with a protocol --------------------------------------------------------------------------------


def mistakes(protocol: Protocol, known: Iterable[str] = FACTS) -> list[str]:
    """What makes this no protocol to work by, as sentences; empty when it is sound.

    >>> mistakes(Protocol("disk", (Step("a", "Open it", "x", after=("b",)), Step("b", "Close it", "x", after=("a",)))))
    ['These steps wait for each other: “Open it”, “Close it”.']
    """
    if not protocol.steps:
        return ["There is no step in it."]
    keys = [step.key for step in protocol.steps]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        return [f"Two steps have the same key: {', '.join(twice)}."]
    facts = set(known)
    found = [said for step in protocol.steps for said in _of_step(step, set(keys), facts)]
    return found + (_circle(protocol) or _out_of_reach(protocol))


def _of_step(step: Step, keys: Set[str], facts: Set[str]) -> Iterator[str]:
    name = f"“{step.what or step.key}”"
    if not step.what:
        yield f"The step {step.key} does not say what to do."
    if not step.key or "/" in step.key or step.key in facts:
        yield f"{name} needs a key of its own, without a stroke, that is no fact's name."
    for other in sorted(set(step.after) - keys):
        yield f"{name} comes after {other}, and there is no such step."
    for fact in sorted({*step.applies, *step.done} - facts):
        yield f"{name} speaks of {fact}, which is no known fact."
    for fact in sorted({fact for stop in step.stops for fact in stop.unless} - facts - keys):
        yield f"A stop of {name} speaks of {fact}, which is no known fact."
    if step.done.none:
        yield f"{name} would be done because something is not so: what is learned later would undo it."
    yield from _grades_of(step, name)


def _grades_of(step: Step, name: str) -> Iterator[str]:
    stops = [stop.key for stop in step.stops]
    if len(stops) > len(set(stops)):
        yield f"Two stops of {name} have the same key."
    if step.grade is Grade.ASK and not step.reasons:
        yield f"{name} asks, and offers no reason to pass it by."
    for stop in step.stops:
        if not stop.unless:
            yield f"A stop of {name} asks for nothing."
        if stop.always and stop.grade is not Grade.STOP:
            yield f"A stop of {name} holds always and is no stop."
        if stop.grade is Grade.ASK and not stop.reasons:
            yield f"A stop of {name} asks, and offers no reason to pass it by."


def _circle(protocol: Protocol) -> list[str]:
    """Steps that wait for each other, through their order or through a stop that asks for a step."""
    keys = {step.key for step in protocol.steps}
    waits = {step.key: {key for key in _waits_for(step) if key in keys} for step in protocol.steps}
    try:
        tuple(TopologicalSorter(waits).static_order())
    except CycleError as circle:
        round_ = set(circle.args[1])
        named = ", ".join(f"“{step.what}”" for step in protocol.steps if step.key in round_)
        return [f"These steps wait for each other: {named}."]
    return []


def _waits_for(step: Step) -> Iterator[str]:
    yield from step.after
    for stop in step.stops:
        yield from (*stop.unless.all, *stop.unless.any)


def _out_of_reach(protocol: Protocol) -> list[str]:
    """Steps that nobody can ever take: needed only when something is and is not so, or behind a prohibition."""
    forbidden = {step.key for step in protocol.steps if step.never}
    before = _plan(protocol).before
    found = []
    for step in protocol.steps:
        always = [stop.unless for stop in step.stops if stop.always]
        behind = forbidden & (before[step.key] | {key for asked in always for key in asked.all})
        if not step.never and (behind or _never_holds([step.applies, *always])):
            found.append(f"Nobody can reach “{step.what}”.")
    return found


def _never_holds(conditions: list[Condition]) -> bool:
    """Whether no set of facts satisfies all of these at once."""
    asked = {name for condition in conditions for name in condition.all}
    barred = {name for condition in conditions for name in condition.none}
    return bool(asked & barred) or any(condition.any and barred.issuperset(condition.any) for condition in conditions)
