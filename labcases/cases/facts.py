"""The facts about one item that decide what may happen next.

Each room that knows some of them registers one provider when it starts; ``cases.queries.facts_for`` asks them all,
in a fixed number of queries. Stages and the next safe step are pure functions of these facts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any

from labcases.cases.stages import Stage


@dataclass(frozen=True)
class Facts:
    """One item as its case stands now. Money is in minor units of the lab's currency."""

    # cases
    stage: Stage = Stage.RECEIVED
    kind: str = ""
    spinning: bool = False
    nature: frozenset[str] = frozenset()  # shingled, helium: what its kind alone does not say
    in_the_lab: bool = False
    intake_finished: bool = False
    terms_signed: bool = False
    may_examine: bool = False
    may_open: bool = False
    spending_limit: int | None = None
    no_power_because: tuple[str, ...] = ()
    disputed: bool = False
    legal_hold: bool = False
    # what it said of itself
    identified: bool = False
    differs: tuple[str, ...] = ()  # attributes that nobody has answered for
    wrong_item: bool = False
    locked: bool = False
    secret_kept: bool = False
    # stock
    donor_parts: int = 0
    destinations: int = 0
    # bench
    examined: bool = False
    inspected_inside: bool = False
    found: str = ""
    faults: frozenset[str] = frozenset()  # classes of fault that the newest findings name
    prospects: str = ""
    needs_part: str = ""
    clone_noted: bool = False
    planned_bytes: int | None = None  # what the plan reads, where that is less than the whole
    planned_end: int | None = None  # number of the first sector past the last one it reads
    result_checked: bool = False
    coverage_read: int | None = None  # sectors, as the uploads say; None when nothing was uploaded
    coverage_total: int | None = None
    bench_order: Any = None  # the bench protocol that this item keeps (bench/protocol.py); None: the plainest
    bench_known: frozenset[str] = frozenset()  # further facts by the names of bench/protocol_facts.py
    order_noted: frozenset[str] = frozenset()  # steps of the protocol that an engineer noted as done
    order_lifted: frozenset[str] = frozenset()  # steps and stops of it that were passed by, on record
    # office
    quote: str = ""  # "", draft, sent, accepted, declined, expired
    quote_total: int | None = None
    authorised: bool = False
    balance: int = 0
    money_settled: bool = False
    # updates
    told_ready: bool = False
    extra: Mapping[str, Any] = field(default_factory=dict)


NAMES = frozenset(f.name for f in fields(Facts))
Provider = Callable[[Sequence[Any]], Mapping[int, Mapping[str, Any]]]
PROVIDERS: dict[str, Provider] = {}


def provide(room: str, provider: Provider) -> None:
    """Register a room's provider: items in, ``{item pk: {fact: value}}`` out, in a fixed number of queries."""
    PROVIDERS[room] = provider


def gather(items: Sequence[Any]) -> dict[int, Facts]:
    """Run every provider once. Raises ValueError when one speaks of a fact that is not declared above."""
    known: dict[int, dict[str, Any]] = {item.pk: {} for item in items}
    for room, provider in PROVIDERS.items():
        for pk, facts in provider(items).items():
            if unknown := facts.keys() - NAMES:
                raise ValueError(f"The room {room} speaks of undeclared facts: {', '.join(sorted(unknown))}.")
            known[pk].update(facts)
    return {pk: Facts(**facts) for pk, facts in known.items()}
