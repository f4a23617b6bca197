"""A protocol as JSON keeps it, and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields
from typing import Any

from labcases.bench.protocol import Condition, Grade, Protocol, Step, Stop


def as_record(protocol: Protocol) -> list[dict[str, Any]]:
    """The steps as JSON keeps them."""
    return [asdict(step) for step in protocol.steps]


def from_record(kind: str, steps: Iterable[Mapping[str, Any]]) -> Protocol:
    """A stored protocol.

    >>> from labcases.bench.protocol_defaults import DEFAULTS
    >>> from_record("disk", as_record(DEFAULTS["disk"])) == DEFAULTS["disk"]
    True
    """
    return Protocol(kind, tuple(_step_of(said) for said in steps))


def _step_of(said: Mapping[str, Any]) -> Step:
    made: dict[str, Any] = {name: _tuples(said[name]) for name in (f.name for f in fields(Step)) if name in said}
    for name in ("applies", "done"):
        made[name] = _condition_of(said.get(name, {}))
    made["grade"] = Grade(said.get("grade", Grade.STOP))
    made["stops"] = tuple(_stop_of(stop) for stop in said.get("stops", ()))
    return Step(**made)


def _stop_of(said: Mapping[str, Any]) -> Stop:
    made: dict[str, Any] = {name: _tuples(said[name]) for name in (f.name for f in fields(Stop)) if name in said}
    made["unless"], made["grade"] = _condition_of(said["unless"]), Grade(said.get("grade", Grade.STOP))
    return Stop(**made)


def _condition_of(said: Mapping[str, Any]) -> Condition:
    return Condition(**{name: tuple(said.get(name, ())) for name in ("all", "any", "none")})


def _tuples(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
