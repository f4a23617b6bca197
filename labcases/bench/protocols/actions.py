"""The verbs of the bench order: note steps, pass an ask by, lift a stop, take a note back; versions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from labcases.bench.protocol import Grade, Judgement, Protocol, Standing, State, StepState, mistakes
from labcases.bench.protocol_defaults import DEFAULTS, KINDS, kind_of
from labcases.bench.protocol_record import as_record
from labcases.bench.protocols.models import KeptProtocol, OrderNote, ProtocolVersion
from labcases.bench.protocols.queries import LIKE_DISKS, judged, newest, protocol_of
from labcases.cases.actions import NotYet
from labcases.cases.facts import Facts
from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.readings.actions import must_be_the_right_item
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.custody.models import Event
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

How = OrderNote.How


class NotInThisOrder(NotYet):
    """A step that the bench order stops, or does not know."""


class NotAProtocol(Refused):
    """What was written is no order that anybody could work by."""


class SomeoneWasFaster(Refused):
    """The order was changed between looking and pressing."""


# --- the order of one patient ----------------------------------------------------------------------------------------


def must_be_open(item: Item, key: str) -> None:
    """For verbs that could do harm. Raises NotInThisOrder while a stop stands before this step of the item's order.

    Asks do not refuse here: they stand on the page before the step, and are answered there.
    """
    state = judged(facts_for([item])[item.pk]).state(key)
    stops = [standing for standing in state.standing if standing.grade is Grade.STOP] if state else []
    if state and stops:
        raise _stopped(state, stops)


def _stopped(state: StepState, stops: Sequence[Standing]) -> NotInThisOrder:
    return NotInThisOrder(
        f"Stopped: {state.step.what}.",
        why=" ".join(dict.fromkeys(stop.because for stop in stops)),
        mend=stops[0].lift,
    )


@recorded
def keep_version(*, item: Item, by: Actor, happened: datetime) -> ProtocolVersion:
    """The version that this patient goes by from its first step on: the newest of its kind, once and for all.

    While nothing of its order is noted and nobody has moved it, learning that it is shingled or helium-filled gives it
    the order of that kind, on record. After that only a manager moves it.
    """
    fresh = Item.objects.with_context().get(pk=item.pk)
    kind = kind_of(fresh.kind, fresh.nature)
    kept = KeptProtocol.objects.filter(item=item).select_related("version").first()
    if kept and not _may_follow(fresh, kept.version.kind, kind):
        return kept.version
    version = newest(kind) or _delivered(kind, happened)
    KeptProtocol.objects.update_or_create(item=item, defaults={"version": version})
    if kept:
        said = f"from {kept.version} to {version}: it is known as a {KINDS[kind]} by now"
        record("protocol-moved", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return version


def _may_follow(item: Item, was: str, kind: str) -> bool:
    """Whether an order follows what was learned of its medium by itself."""
    alike = was != kind and was in LIKE_DISKS and kind in LIKE_DISKS
    noted = OrderNote.objects.filter(item=item).exists()
    return alike and not noted and not Event.objects.filter(kind="protocol-moved", thing_code=item.thing.code).exists()


def version_named(name: str, happened: datetime) -> ProtocolVersion:
    """A version by its key, or the newest of a kind by its name: as delivered, where nobody has begun by it yet."""
    if name in KINDS:
        return newest(name) or _delivered(name, happened)
    return ProtocolVersion.objects.get(pk=name)


def _delivered(kind: str, happened: datetime) -> ProtocolVersion:
    stamp = Entry.stamp(Actor.worker(), happened)
    steps = as_record(DEFAULTS[kind])
    return ProtocolVersion.objects.create(kind=kind, number=1, steps=steps, because="as delivered", **stamp)


@recorded
def answer(*, item: Item, answers: Mapping[str, tuple[str, str]], by: Actor, happened: datetime) -> list[OrderNote]:
    """Note steps of the bench order, several at once: ``{step key: (done or passed, words)}``.

    Raises NotInThisOrder when one of them is stopped even after the others, is no step of this order, or is a stop
    that only a manager lifts.
    """
    by.must(Right.EXAMINE)
    must_be_the_right_item(item)
    keep_version(item=item, by=by, happened=happened)
    facts = facts_for([item])[item.pk]
    made = []
    for key in _in_order(facts, answers):
        how, words = answers[key]
        made.append(_noted(item, judged(facts), key, how, words, by, happened))
        name = "order_noted" if how == How.DONE else "order_lifted"
        facts = replace(facts, **{name: getattr(facts, name) | {key}})
    if by.staff:
        item.case.engineers.add(by.staff)
    said = "; ".join(_said(facts.bench_order, note) for note in made)
    record("order-noted", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made


def _in_order(facts: Facts, answers: Mapping[str, tuple[str, str]]) -> list[str]:
    ordered = [state.key for state in judged(facts).steps if state.key in answers]
    stops = [key for key in answers if "/" in key]
    left = [key for key in answers if key not in ordered and key not in stops]
    if left or not answers:
        said = f"This order has no step {left[0]} that is needed here." if left else "Nothing was answered."
        raise NotInThisOrder(said, mend="Open the bench order again, and answer what it asks.")
    return stops + ordered


def _step(key: str) -> str:
    return key.partition("/")[0]


def _noted(
    item: Item, judgement: Judgement, key: str, how: str, words: str, by: Actor, happened: datetime
) -> OrderNote:
    state = judgement.state(_step(key))
    if state is None:
        raise NotInThisOrder(f"This order has no step {_step(key)}.", mend="Open the bench order again.")
    if "/" in key or how == How.PASSED:
        _must_be_an_ask(state, key)
    elif state.state is State.STOPPED:
        raise _stopped(state, state.standing)
    if how == How.PASSED and not words:
        raise NotInThisOrder(f"Say why it is passed by: {state.step.what}.", mend="Choose a reason, or write one.")
    return OrderNote.objects.create(item=item, key=key, how=how, because=words, **Entry.stamp(by, happened))


def _must_be_an_ask(state: StepState, key: str) -> None:
    grades = {standing.key: standing.grade for standing in state.standing} | {state.key: state.step.grade}
    if state.step.never or grades.get(key) is not Grade.ASK:
        raise NotInThisOrder(
            f"This is not passed by at the bench: {state.step.what}.", mend="A manager may lift it, with a reason."
        )


def _said(protocol: Protocol, note: OrderNote) -> str:
    step = protocol.step(_step(note.key))
    what = step.what if step else note.key
    if note.how == How.DONE:
        return f"{what}: {note.because or 'done'}"
    return f"{what}: passed by, {note.because}"


@recorded
def lift(*, item: Item, key: str, because: str, by: Actor, happened: datetime) -> OrderNote:
    """A manager lets a patient go on past a step or a stop of its order, with the reason.

    Raises NotInThisOrder when it does not stand in the way, or is one that nobody lifts.
    """
    by.must(Right.LIFT_STOP)
    facts = facts_for([item])[item.pk]
    standing = liftable(judged(facts)).get(key)
    if standing is None:
        raise NotInThisOrder("Nobody lifts this, or nothing stands there any more.", mend="Open the bench order again.")
    keep_version(item=item, by=by, happened=happened)
    made = OrderNote.objects.create(item=item, key=key, how=How.LIFTED, because=because, **Entry.stamp(by, happened))
    said = f"{standing.because} {because}"
    record("stop-lifted", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return made


def liftable(judgement: Judgement) -> dict[str, Standing]:
    """What stands in the way of some step now and may be lifted or passed by, by its key."""
    standing = (one for state in judgement.steps for one in state.standing)
    return {one.key: one for one in standing if not one.always}


@recorded
def take_back(*, item: Item, key: str, because: str, by: Actor, happened: datetime) -> None:
    """A note, a passing by or a lifting does not hold any more; it stays on record as it was."""
    note = OrderNote.objects.standing().filter(item=item, key=key).first()
    by.must(Right.LIFT_STOP if note and note.how == How.LIFTED else Right.EXAMINE)
    if not OrderNote.objects.standing().filter(item=item, key=key).update(ended=happened, ended_by=by.staff):
        raise SomeoneWasFaster("This does not stand any more.", mend="Open the bench order again.")
    protocol = facts_for([item])[item.pk].bench_order
    step = protocol.step(_step(key))
    said = f"{step.what if step else key}: {because}"
    record("order-taken-back", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)


# --- versions --------------------------------------------------------------------------------------------------------


def checked(kind: str, protocol: Protocol) -> Protocol:
    """The protocol, when it can be worked by. Raises NotAProtocol with every mistake as a sentence."""
    if kind not in KINDS:
        raise NotAProtocol("There is no protocol of this kind.")
    wrong = mistakes(protocol)
    if wrong:
        raise NotAProtocol("This cannot be worked by.", why=" ".join(wrong), mend="Mend each of these steps.")
    return protocol


@recorded
def publish(*, protocol: Protocol, seen: int, because: str, by: Actor, happened: datetime) -> ProtocolVersion:
    """A new version of a protocol. ``seen`` is the number of the version it was written from; 0 for none.

    Raises NotAProtocol, and SomeoneWasFaster when a newer version is there by now.
    """
    by.must(Right.KEEP_LAB)
    kind = protocol.kind
    checked(kind, protocol)
    last = newest(kind)
    if seen != (last.number if last else 0):
        raise SomeoneWasFaster(
            "Somebody made a version of this protocol in the meantime.", mend="Open it again, and change that one."
        )
    last = last or _delivered(kind, happened)
    if protocol_of(last) == protocol:
        raise NotAProtocol("Nothing is changed.", mend="Change a step, or leave it.")
    stamp = Entry.stamp(by, happened)
    made = ProtocolVersion.objects.create(
        kind=kind, number=last.number + 1, steps=as_record(protocol), because=because, **stamp
    )
    said = f"{made}: {because}"
    record("protocol-published", thing=None, by=by, happened=happened, because=said)
    return made


@recorded
def move_to(*, item: Item, version: ProtocolVersion, because: str, by: Actor, happened: datetime) -> KeptProtocol:
    """A manager lets a patient go by another version, or by another kind's order, with the reason."""
    by.must(Right.LIFT_STOP)
    was = keep_version(item=item, by=by, happened=happened)
    if was.pk == version.pk:
        raise SomeoneWasFaster(f"{item} goes by {version} already.", mend="Choose another version, or leave it.")
    KeptProtocol.objects.filter(item=item).update(version=version)
    said = f"from {was} to {version}: {because}"
    record("protocol-moved", thing=item.thing, by=by, happened=happened, because=said, case=item.case.code)
    return KeptProtocol.objects.select_related("version").get(item=item)
