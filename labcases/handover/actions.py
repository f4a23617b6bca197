"""The verbs of the handover: count back, identify, sign, let go; and print the report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from labcases.cases import queries as case_queries
from labcases.cases.actions import advance, close_if_all_ended
from labcases.cases.models import Case, Item
from labcases.cases.stages import EDGES, Stage, stops
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.custody.models import Thing, Whereabouts
from labcases.handover.models import Handover, HandoverLine
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right

OUT, STAYS = HandoverLine.Fate.OUT, HandoverLine.Fate.STAYS


class NotAllCounted(Refused):
    """Something that came in is neither going out nor staying by signature."""


class NotReleased(Refused):
    """An item may not leave: money, dispute, hold, or work that is not at its end."""


class NotHere(Refused):
    """A thing that was ticked is not in the lab."""


def due_back(case: Case) -> list[Thing]:
    """Everything of this case that is in the lab and came from the customer, in the order of its codes."""
    things = Thing.objects.in_the_lab().with_whereabouts().select_related("item", "accessory")
    return list(things.filter(item__case=case).order_by("code")) + list(
        things.filter(accessory__case=case).order_by("code")
    )


@recorded
def hand_over(
    *,
    case: Case,
    fates: Mapping[str, str],
    collector_name: str,
    proof: str,
    by: Actor,
    happened: datetime,
    counts: Mapping[str, int] | None = None,
    deliveries: Sequence[Thing] = (),
    signature: bytes = b"",
    signed_how: str = "",
    **about: Any,
) -> Handover:
    """Release what came in: ``fates`` says of each thing's folded code whether it goes ``out`` or ``stays``.

    ``deliveries`` are the lab's media that carry the files out. ``about`` are further fields of Handover.
    Raises NotAllCounted, NotReleased or NotHere; nothing is done then.
    """
    by.must(Right.HAND_OVER)
    due = {thing.code: thing for thing in due_back(case)}
    _must_be_counted(due, fates)
    items = list(case.items.select_related("thing", "case").filter(thing__code__in=fates))
    _must_be_released(items)
    digest = vault.put(signature) if signature else ""
    made = Handover.objects.create(
        case=case,
        collector_name=collector_name,
        proof=proof,
        signature=digest,
        signed_how=signed_how or ("screen" if digest else ""),
        **about,
        **Entry.stamp(by, happened),
    )
    to = Whereabouts(party=case.owner if made.collector == Handover.Collector.OWNER else case.bearer)
    for code, thing in due.items():
        _let_go(made, thing, fates[code], (counts or {}).get(code, 1), to, by, happened)
    for thing in deliveries:
        _let_go(made, thing, OUT, 1, to, by, happened)
    for item in items:
        advance(item=item, to=Stage.HANDED_OVER, by=by, happened=happened)
    close_if_all_ended(case=case, by=by, happened=happened)
    return made


def _must_be_counted(due: Mapping[str, Thing], fates: Mapping[str, str]) -> None:
    if foreign := [code for code in fates if code not in due]:
        raise NotHere(
            f"Not in the lab for this case: {', '.join(foreign)}.",
            mend="Reload the page and count again what lies there.",
        )
    if forgotten := [str(thing) for code, thing in due.items() if fates.get(code) not in (OUT, STAYS)]:
        raise NotAllCounted(
            f"Not counted yet: {', '.join(forgotten)}.",
            why="Everything that came in goes out, or stays by signature.",
            mend="Say of each what becomes of it.",
        )


def _must_be_released(items: Sequence[Item]) -> None:
    """``advance`` asks the guards again; here all items answer at once, before anything is done."""
    facts = case_queries.facts_for(items)
    why = []
    for item in items:
        stage = Stage(item.stage)
        if Stage.HANDED_OVER not in EDGES[stage]:
            why.append(f"{item} is “{stage}”: its work is not at an end.")
            continue
        why += [f"{item}: {stop.because} {stop.lift}" for stop in stops(stage, Stage.HANDED_OVER, facts[item.pk])]
    if why:
        raise NotReleased("This case may not leave yet.", why=list(dict.fromkeys(why)))


def _let_go(
    made: Handover, thing: Thing, fate: str, counted: int, to: Whereabouts, by: Actor, happened: datetime
) -> None:
    HandoverLine.objects.create(handover=made, thing=thing, fate=fate, counted=counted)
    words = f"{made.get_manner_display()}; {made.get_proof_display()}"
    if fate == OUT:
        record(
            "handed-over", thing=thing, by=by, happened=happened, to=to, because=words,
            authority=made.owners_word, seals=made.seals, case=made.case.code,
        )  # fmt: skip
    else:
        record("left-with-us", thing=thing, by=by, happened=happened, because=words, case=made.case.code)
