"""A protocol read out: every step with its conditions in words.

>>> from labcases.bench.protocol import Condition
>>> in_words(Condition(all=("authorised",), none=("legal-hold",)), {})
"the customer's yes is on file; not: the law holds it"
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labcases.bench.protocol import Condition, Protocol, Step, Stop
from labcases.bench.protocol_facts import FACTS


@dataclass(frozen=True)
class ReadStep:
    """A step of a protocol as a page reads it out."""

    step: Step
    needed: str
    done: str
    after: Sequence[str]
    stops: Sequence[tuple[Stop, str]]


def as_read(protocol: Protocol) -> list[ReadStep]:
    """Every step with its conditions in words."""
    whats = {step.key: step.what for step in protocol.steps}
    return [
        ReadStep(
            step,
            in_words(step.applies, whats),
            in_words(step.done, whats),
            [whats.get(key, key) for key in step.after],
            [(stop, in_words(stop.unless, whats)) for stop in step.stops],
        )
        for step in protocol.steps
    ]


def in_words(condition: Condition, whats: Mapping[str, str]) -> str:
    """A condition as a sentence's end; empty when it asks nothing."""
    said = {name: FACTS.get(name) or f"“{whats.get(name, name)}” is done" for name in condition}
    parts = [" and ".join(said[name] for name in condition.all)]
    parts += ["one of: " + ", ".join(said[name] for name in condition.any)] if condition.any else []
    parts += ["not: " + ", ".join(said[name] for name in condition.none)] if condition.none else []
    return "; ".join(part for part in parts if part)
