"""Changing a protocol step by step: put, move, retire. Each gives a new protocol.

>>> from labcases.bench.protocol import Step
>>> two = Protocol("plain", (Step("a", "Open it", "w"), Step("b", "Close it", "w", after=("a",))))
>>> [step.key for step in moved(two, "b", -1).steps]
['b', 'a']
>>> retired(two, "a").steps[0].after
()
>>> fresh_key("Rinse & dry it", {"rinse-dry-it"})
'rinse-dry-it-2'
"""

from __future__ import annotations

import re
from collections.abc import Set
from dataclasses import replace

from labcases.bench.protocol import Condition, Protocol, Step, Stop
from labcases.bench.protocol_facts import FACTS


def fresh_key(what: str, taken: Set[str]) -> str:
    """A key for a new step from its words, that no other step and no fact has."""
    words = re.sub(r"[^a-z0-9]+", "-", what.lower()).strip("-")[:30].strip("-") or "step"
    taken = taken | FACTS.keys()
    numbered = (words if n == 1 else f"{words}-{n}" for n in range(1, len(taken) + 2))
    return next(key for key in numbered if key not in taken)


def put(protocol: Protocol, step: Step) -> Protocol:
    """The step in the place of the one with its key; at the end when there is none."""
    if protocol.step(step.key) is None:
        return replace(protocol, steps=(*protocol.steps, step))
    return replace(protocol, steps=tuple(step if old.key == step.key else old for old in protocol.steps))


def moved(protocol: Protocol, key: str, places: int) -> Protocol:
    """The step so many places further down (or up, when negative); it stays where the list ends."""
    steps = list(protocol.steps)
    at = next((n for n, step in enumerate(steps) if step.key == key), None)
    if at is None:
        return protocol
    step = steps.pop(at)
    steps.insert(max(0, at + places), step)
    return replace(protocol, steps=tuple(steps))


def retired(protocol: Protocol, key: str) -> Protocol:
    """The protocol without a step; whatever asked for it asks no more. A stop that asked for nothing else goes too."""
    kept = (step for step in protocol.steps if step.key != key)
    return replace(protocol, steps=tuple(_without(step, key) for step in kept))


def _without(step: Step, key: str) -> Step:
    stops = (_stop_without(stop, key) for stop in step.stops)
    after = tuple(other for other in step.after if other != key)
    return replace(step, after=after, stops=tuple(stop for stop in stops if stop.unless))


def _stop_without(stop: Stop, key: str) -> Stop:
    asked = {name: tuple(n for n in getattr(stop.unless, name) if n != key) for name in ("all", "any", "none")}
    return replace(stop, unless=Condition(**asked))
