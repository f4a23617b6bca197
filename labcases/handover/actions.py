"""The verbs of the handover: count back, identify, sign, let go; print the receipt and the report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Max, Q

from labcases.bench.actions import examine, make_ready, note_step, record_result, start_work
from labcases.bench.models import Prospects
from labcases.cases import queries as case_queries
from labcases.cases.actions import advance, close_if_all_ended, log_drive, note_printed
from labcases.cases.intake import Signed
from labcases.cases.models import Case, Item
from labcases.cases.stages import EDGES, ENDED, Stage, stops
from labcases.core import vault
from labcases.core.refused import NotAllowed, Refused
from labcases.custody.actions import keep_head, record, recorded
from labcases.custody.models import Event, EventText, Thing, Whereabouts
from labcases.handover import papers
from labcases.handover.models import Handover, HandoverLine
from labcases.handover.quick import Quick
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.office.actions import authorise_within_limit, take_payment
from labcases.office.pricing import tax_on
from labcases.office.queries import balance_of
from labcases.paper.models import Paper
from labcases.people.models import Party
from labcases.stock.actions import give_out
from labcases.stock.models import Destination, DestinationAssignment

Fate = HandoverLine.Fate
OUT, STAYS, LATER = Fate.OUT, Fate.STAYS, Fate.LATER
GONE = frozenset({Stage.HANDED_OVER, *ENDED})


class NotAllCounted(Refused):
    """Something that came in is neither going out, nor staying by signature, nor rightly left for later."""


class NotReleased(Refused):
    """An item may not leave: money, dispute, hold, or work that is not at its end."""


class NotHere(Refused):
    """A thing that was ticked is not in the lab."""


class NotProven(Refused):
    """Who collects, how they showed who they are, or the signature is missing."""


class NothingHandedOver(Refused):
    """A report of a handover that has not been."""


def due_back(case: Case) -> list[Thing]:
    """Everything of this case that is in the lab and came from the customer, in the order of its codes.

    What they left with us by signature is ours to dispose of, and is not due back any more.
    """
    left = HandoverLine.objects.filter(fate=STAYS).values("thing")
    things = Thing.objects.in_the_lab().with_whereabouts().select_related("item", "accessory")
    items = things.filter(item__case=case).exclude(Q(pk__in=left) & Q(item__stage__in=GONE))
    return list(items.order_by("code")) + list(
        things.filter(accessory__case=case).exclude(pk__in=left).order_by("code")
    )


def carriers(case: Case) -> list[Destination]:
    """The media of this case that carry files out: ours set aside for delivery, and any of the customer's own."""
    held = Destination.objects.with_context().filter(
        held_for=case, state__in=[Destination.State.ASSIGNED, Destination.State.HOLDS_DATA]
    )
    return list(held.filter(Q(use=Destination.Use.DELIVERY) | Q(owned_by__isnull=False)).order_by("thing__code"))


def in_work(case: Case) -> list[Item]:
    """The items that are not at their end yet: while there are some, the rest may go out before them."""
    return [item for item in case.items.select_related("thing") if not _at_its_end(item)]


def _at_its_end(item: Item) -> bool:
    return item.stage in GONE or Stage.HANDED_OVER in EDGES[Stage(item.stage)]


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
    notes: Mapping[str, str] | None = None,
    deliveries: Sequence[Thing] = (),
    signature: bytes = b"",
    signed_how: str = "",
    **about: Any,
) -> Handover:
    """Release what came in: ``fates`` says of each thing's folded code whether it goes ``out``, ``stays`` by
    signature, or goes out ``later`` (only while an item of the case is not at its end).

    ``counts`` are pieces counted back where several came in; ``notes`` say why a count differs. ``deliveries`` are
    the media that carry the files out. ``about`` are further fields of Handover.
    Raises NotAllCounted, NotReleased, NotHere or NotProven; nothing is done then.
    """
    by.must(Right.HAND_OVER)
    due = {thing.code: thing for thing in due_back(case)}
    counted = {code: (counts or {}).get(code, came_in(thing)) for code, thing in due.items()}
    _must_be_counted(due, fates, in_work(case))
    _must_be_whole(due, fates, counted, notes or {})
    leaving = [code for code, fate in fates.items() if fate != LATER]
    items = list(case.items.select_related("thing", "case").filter(thing__code__in=leaving))
    _must_be_released(items)
    out = _must_carry(case, items, deliveries)
    digest = vault.put(signature) if signature else ""
    signed = signed_how or ("screen" if digest else "")
    made = Handover(
        case=case,
        number=(case.handovers.aggregate(last=Max("number"))["last"] or 0) + 1,
        collector_name=collector_name,
        proof=proof,
        signature=digest,
        signed_how=signed,
        **about,
        **Entry.stamp(by, happened),
    )
    _must_be_proven(made, fates, bool(out))
    made.save()
    to = Whereabouts(party=case.bearer if made.collector == Handover.Collector.BEARER else case.owner)
    for code, thing in due.items():
        line = HandoverLine(
            handover=made, thing=thing, fate=fates[code], counted=counted[code], note=(notes or {}).get(code, "")
        )
        _let_go(line, to, by, happened)
    for medium in out:
        HandoverLine.objects.create(handover=made, thing=medium.thing, fate=OUT)
        because, authority = _words(made), made.owners_word
        give_out(
            destination=medium, by=by, happened=happened, to=to, because=because, authority=authority,
            seals=made.seals, parcel=_parcel(made),
        )  # fmt: skip
    for item in items:
        advance(item=item, to=Stage.HANDED_OVER, by=by, happened=happened)
    close_if_all_ended(case=case, by=by, happened=happened)
    keep_head(because="handover")
    return made


def came_in(thing: Thing) -> int:
    """How many pieces were counted in under this code."""
    return int(thing.accessory.count) if thing.kind == Thing.Kind.ACCESSORY else 1


def _must_be_counted(due: Mapping[str, Thing], fates: Mapping[str, str], working: Sequence[Item]) -> None:
    if foreign := [code for code in fates if code not in due]:
        raise NotHere(
            f"Not in the lab for this case: {', '.join(foreign)}.",
            mend="Reload the page and count again what lies there.",
        )
    if forgotten := [str(thing) for code, thing in due.items() if fates.get(code) not in Fate.values]:
        raise NotAllCounted(
            f"Not counted yet: {', '.join(forgotten)}.",
            why="Everything that came in goes out, or stays by signature.",
            mend="Say of each what becomes of it.",
        )
    if later := [str(due[code]) for code, fate in fates.items() if fate == LATER and not working]:
        raise NotAllCounted(
            f"Nothing is left for later any more: {', '.join(later)}.",
            why="Every item of the case is at its end, so this handover is the last one.",
            mend="Say whether it goes out now or stays by signature.",
        )
    if all(fate == LATER for fate in fates.values()):
        raise NotAllCounted("Nothing is handed over yet.", mend="Say of at least one thing that it goes out or stays.")


def _must_be_whole(
    due: Mapping[str, Thing], fates: Mapping[str, str], counted: Mapping[str, int], notes: Mapping[str, str]
) -> None:
    short = [
        f"{due[code]}, {due[code].words}: {came_in(due[code])} came in, {counted[code]} counted back."
        for code, fate in fates.items()
        if fate != LATER and counted[code] != came_in(due[code]) and not notes.get(code)
    ]
    if short:
        raise NotAllCounted(
            "The count differs from what came in.", why=short, mend="Count again, or note beside it why it differs."
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


def _must_carry(case: Case, items: Sequence[Item], deliveries: Sequence[Thing]) -> list[Destination]:
    """The media that go out. One that was set aside for an item that leaves is not forgotten on the shelf."""
    there = {medium.thing_id: medium for medium in carriers(case)}
    if foreign := [str(thing) for thing in deliveries if thing.pk not in there]:
        raise NotHere(
            f"Not set aside for this case: {', '.join(foreign)}.",
            mend="Assign it as this case's delivery medium first, or leave it out.",
        )
    out = [there[thing.pk] for thing in deliveries]
    left = [medium for medium in there.values() if medium not in out]
    serves = DestinationAssignment.objects.filter(ended=None, item__in=items).values_list("destination", flat=True)
    needed, last = set(serves), not in_work(case)
    forgotten = [medium for medium in left if medium.pk in needed or (medium.owned_by_id and last)]
    if forgotten:
        raise NotAllCounted(
            f"Set aside for this case and not among what goes out: {', '.join(map(str, forgotten))}.",
            why="A delivery medium goes out with its item; a customer's own medium goes back.",
            mend="Tick it, or release it in the stockroom first.",
        )
    return out


def _must_be_proven(made: Handover, fates: Mapping[str, str], carries: bool) -> None:
    try:
        made.validate_constraints()
    except ValidationError as missing:
        raise NotProven("This handover is not complete.", why=missing.messages) from None
    if STAYS in fates.values() and not made.signed_how:
        raise NotProven(
            "What stays with the lab stays by signature.",
            mend="Draw the signature, or have the printed receipt signed and say so.",
        )
    if made.manner == Handover.Manner.DISPOSED and (carries or OUT in fates.values()):
        raise NotProven(
            "Left for disposal, and something goes out: one of the two is wrong.",
            mend="Choose “collected”, or let everything stay by signature.",
        )


def _words(made: Handover) -> str:
    parcel = "".join(f" {said}" for said in (made.carrier, made.tracking) if said)
    return f"{made.get_manner_display()}{parcel}; {made.collector_name}; {made.get_proof_display()}"


def _parcel(made: Handover) -> dict[str, str]:
    """What the ledger says of a parcel; nothing when somebody took it from the counter."""
    if made.manner != Handover.Manner.POSTED:
        return {}
    return {"carrier": made.carrier, "tracking": made.tracking}


def _let_go(line: HandoverLine, to: Whereabouts, by: Actor, happened: datetime) -> None:
    made, thing = line.handover, line.thing
    line.save()
    words = f"{_words(made)}; {line.note}" if line.note else _words(made)
    if line.fate == OUT:
        parcel = _parcel(made)
        record(
            "shipped" if parcel else "handed-over", thing=thing, by=by, happened=happened, to=to, because=words,
            authority=made.owners_word, seals=made.seals, case=made.case.code, details=parcel,
        )  # fmt: skip
    elif line.fate == STAYS:
        record("left-with-us", thing=thing, by=by, happened=happened, because=words, case=made.case.code)


# --- papers: set outside any transaction, then recorded ---------------------------------------------------------------


def print_handover_report(*, case: Case, by: Actor, happened: datetime, handover: Handover | None = None) -> Paper:
    """The report of a handover (the newest unless said), frozen: asked for again, the same bytes come back.

    Call it outside a transaction. Raises NothingHandedOver, or what ``paper.actions.freeze`` raises.
    """
    by.must(Right.HAND_OVER)
    which = handover or case.handovers.select_related("case__thing", "by").first()
    if which is None or which.case_id != case.pk:
        raise NothingHandedOver(f"Nothing of case {case} has been handed over yet.", mend="Hand it over first.")
    paper = papers.report(which, by=by, issued=happened)
    _note_report(case=case, paper=paper, by=by, happened=happened)
    return paper


@recorded
def _note_report(*, case: Case, paper: Paper, by: Actor, happened: datetime) -> None:
    """One event a report, whoever presses again; also when a power cut came between the paper and its event."""
    printed = list(Event.objects.filter(kind="report-printed", case_code=case.code).values_list("sequence", flat=True))
    said = EventText.objects.filter(sequence__in=printed, field="because", text__contains=paper.sha256)
    if not said.exists():
        because = f"{paper.title}, sha-256 {paper.sha256}"
        record("report-printed", thing=case.thing, by=by, happened=happened, because=because, case=case.code)


def print_handover_receipt(*, case: Case, by: Actor, happened: datetime) -> Paper:
    """What is due back now, to be counted and signed with a pen. Unchanged, it is the same paper again."""
    by.must(Right.HAND_OVER)
    due = due_back(case)
    if not due:
        raise NothingHandedOver(f"Nothing of case {case} is in the lab, so there is nothing to sign for.")
    paper, fresh = papers.receipt(case, due, carriers(case), by=by, issued=happened)
    if fresh:
        note_printed(case=case, what=paper.title.lower(), by=by, happened=happened)
    return paper


# --- while you wait ---------------------------------------------------------------------------------------------------

WAIT_NEEDS = (Right.TAKE_IN, Right.EXAMINE, Right.TELL, Right.TAKE_MONEY, Right.HAND_OVER)


def may_serve_at_once(by: Actor) -> None:
    """Raises NotAllowed unless this one person may take in, examine, take money and hand over."""
    if lacking := [right.value for right in WAIT_NEEDS if not by.may(right)]:
        raise NotAllowed(
            f"While you wait needs one person who may do all of it; your roles do not let you {', '.join(lacking)}.",
            why="Taking in and handing over is the counter's or a manager's work, examining is an engineer's.",
            mend="Take it in at the counter as a case; a colleague does the rest. Or a manager gives you the role.",
        )


@recorded
def while_you_wait(*, owner: Party, said: Quick, by: Actor, happened: datetime) -> Handover:
    """A medium comes in, is read, paid and goes out with its files: every room's own verb, in one transaction.

    Each step is recorded in the role that may do it. The price is signed as the spending limit, so that the work
    begins on the customer's own word. Raises NotAllowed, or what any of the rooms' verbs refuses; nothing is done then.
    """
    may_serve_at_once(by)
    case = _taken_in(owner, said, by, happened)
    item = case.items.get()
    _worked_on(item, said, by, happened)
    total = balance_of(case)
    if total:
        take_payment(case=case, amount=total, method=said.price.paid, by=_as(by, Right.TAKE_MONEY), happened=happened)
    return hand_over(
        case=case,
        fates={thing.code: OUT for thing in due_back(case)},
        collector_name=owner.name,
        proof=said.proof,
        signature=said.signature,
        signed_how=said.signed_how,
        sample_opened=said.sample_opened,
        delivery_checked=said.work.compared != "not",
        by=_as(by, Right.HAND_OVER),
        happened=happened,
    )


def _as(by: Actor, right: Right) -> Actor:
    """The same person in the role that lets them do this: the record says in which role a step was taken."""
    return by.staff.acting(right) if by.staff else by


def _taken_in(owner: Party, said: Quick, by: Actor, happened: datetime) -> Case:
    price = said.price
    total = price.net + tax_on(price.net, Decimal(price.tax_rate) / 100)
    signed = Signed(signed_by=owner.name, how=said.signed_how, signature=said.signature, spending_limit=total)
    return log_drive(
        owner=owner,
        items=[said.item],
        told=said.told,
        signed=signed,
        way=Case.Way.WAIT,
        by=_as(by, Right.TAKE_IN),
        happened=happened,
    )


def _worked_on(item: Item, said: Quick, by: Actor, happened: datetime) -> None:
    engineer, work, price = _as(by, Right.EXAMINE), said.work, said.price
    examine(
        item=item, by=engineer, happened=happened, faults=list(work.faults), found=work.found, prospects=Prospects.GOOD
    )
    authorise_within_limit(
        case=item.case, lines=[(price.words, price.net)], tax_rate=price.tax_rate, by=_as(by, Right.TELL),
        happened=happened,
    )  # fmt: skip
    item.refresh_from_db(fields=["stage"])
    start_work(item=item, by=engineer, happened=happened)
    done = f"{work.done} The files went onto {said.carrier}." if said.carrier else work.done
    note_step(item=item, what=done, method=work.method, by=engineer, happened=happened)
    record_result(
        item=item,
        by=engineer,
        happened=happened,
        wanted={line.pk: (work.state, work.words) for line in item.case.wanted.all()},
        files=work.files,
        bytes=work.size,
        compared=work.compared,
        samples=work.samples,
        not_recovered=work.not_recovered,
        sectors_total=item.sectors,
    )
    make_ready(item=item, by=engineer, happened=happened)
