"""Reads about cases that need more than one table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

from django.http import Http404
from django.utils import timezone

from labcases.cases import facts, families, intake, slip, words
from labcases.cases.models import Accessory, Case, CaseQuerySet, Draft, Enquiry, Item
from labcases.cases.stages import ENDED, EXITS, Stage
from labcases.cases.words import UNKNOWN_SENDER
from labcases.core import codes
from labcases.core.text import folded_serial
from labcases.custody.models import SPINNING, MediumKind, Photo, Thing
from labcases.custody.photos.queries import photos_of, with_photos
from labcases.lab.models import Staff
from labcases.paper.models import Paper
from labcases.people.forms import typed_from
from labcases.people.models import Party


def facts_for(items: Iterable[Item]) -> dict[int, facts.Facts]:
    """The facts of each item by its key, read now; a fixed number of queries however many items."""
    fresh = list(Item.objects.with_context().filter(pk__in=[item.pk for item in items]))
    return facts.gather(fresh)


def own_facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """What this room itself knows (its provider)."""
    return {item.pk: _facts_of(item) for item in items}


def _facts_of(item: Item) -> dict[str, Any]:
    case, thing = item.case, item.thing
    return {
        "stage": Stage(item.stage),
        "kind": item.kind,
        "spinning": item.spinning,
        "nature": item.nature,
        "in_the_lab": thing.place_id is not None or thing.staff_id is not None,
        "intake_finished": case.intake_finished is not None,
        "terms_signed": case.terms_signed is not None,
        "may_examine": case.may_examine,
        "may_open": case.may_open,
        "spending_limit": case.spending_limit,
        "no_power_because": tuple(item.no_power_because),
        "disputed": case.disputed,
        "legal_hold": case.legal_hold,
    }


def _read_code(text: str) -> codes.Code:
    try:
        return codes.parse(text)
    except codes.MistypedCode as mistake:
        raise Http404(str(mistake)) from None


def case_for(user: Staff, code: str) -> Case:
    """The case of this code, for somebody who may look. The one door to a case; 404 with a sentence otherwise."""
    read = _read_code(code)
    case = Case.objects.with_people().filter(thing__code=read.folded).first()
    if case is None:
        raise Http404(f"There is no case {read.printed}.")
    return case


def item_for(user: Staff, code: str) -> Item:
    """The item of this code. The one door to an item."""
    read = _read_code(code)
    item = Item.objects.with_context().filter(thing__code=read.folded).first()
    if item is None:
        raise Http404(f"There is no item {read.printed}.")
    return item


@dataclass(frozen=True)
class Known:
    """A serial that was seen before. ``how`` is returning, other or stock: each is said differently."""

    how: str
    code: str
    sentence: str


def known_serials(serial: str, *, owner: Party | None = None, leave_out: Thing | None = None) -> list[Known]:
    """Where this serial was seen before, however it was typed: for the clerk to be told loudly."""
    things = Thing.objects.known_by_serial(serial).select_related("item__case__owner", "item__case__thing")
    return [_known(thing, owner) for thing in things if leave_out is None or thing.pk != leave_out.pk]


def _known(thing: Thing, owner: Party | None) -> Known:
    if thing.kind not in (Thing.Kind.PATIENT, Thing.Kind.CHIP):
        words = f"This serial is one of our own stock: {thing.printed_code}, {thing.words}."
        return Known("stock", thing.printed_code, words)
    case = thing.item.case
    if owner is not None and case.owner_id == owner.pk:
        return Known("returning", str(case), f"It was here before: case {case}, same owner.")
    return Known("other", str(case), f"This serial was here before for {case.owner}: case {case}. Ask whose it is.")


def still_missing(case: Case) -> list[str]:
    """What the intake of this case still lacks."""
    return intake.missing(case, list(case.items.all()), wanted=case.wanted.count())


# --- while somebody types -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ItemSaid:
    """What is said loudly beside an item while it is typed."""

    known: list[Known]
    no_power_because: list[str]
    hint: families.Hint | None = None


def said_while_typing(form: Any) -> dict[str, Any]:
    """What follows from a take-in form as it stands: the slip, the loud words of each item, what is still missing."""
    items, told, owner = form.new_items(), form.told.told(), form.known_owner()
    seen = _with_serials({folded_serial(item.serial) for item in items}, owner)
    hints = families.hints([(item.maker, item.model, _sectors_of_512(item)) for item in items])
    said = [
        ItemSaid(seen.get(folded_serial(item.serial), []), _no_power(item, told), hint)
        for item, hint in zip(items, hints, strict=True)
    ]
    as_case = SimpleNamespace(stories=told.stories, terms_signed=form.terms_said_signed() or None)
    follows = intake.missing(as_case, items, wanted=len(told.wanted))
    return {"slip": form.slip(), "said": said, "lacks": form.lacks(), "follows": follows}


def _sectors_of_512(item: intake.NewItem) -> int | None:
    return item.sectors * (item.sector_bytes or 512) // 512 if item.sectors else None


def _no_power(item: intake.NewItem, told: intake.Told) -> list[str]:
    spinning = item.kind in {kind.value for kind in SPINNING}
    told_and_seen = {"marks": list(item.marks), "behaviours": list(item.behaviours), "stories": list(told.stories)}
    return words.reasons_for_no_power(spinning=spinning, tried=list(told.tried), **told_and_seen)


def asked_for(asked: Mapping[str, str], country: str) -> dict[str, Any]:
    """What a fresh take-in form starts with: ``?party=`` a known customer, ``?enquiry=`` somebody who asked before."""
    if party := _by_key(Party.objects.select_related("merged_into"), asked.get("party", "")):
        return {"who": typed_from(party.stands_as, country)}
    enquiry = _by_key(Enquiry.objects.filter(case=None), asked.get("enquiry", ""))
    if enquiry is None:
        return {}
    reach = "email" if "@" in enquiry.reach else "phone"
    return {
        "who": {"name": enquiry.name, reach: enquiry.reach},
        "first_item": {"kind": enquiry.kind} if enquiry.kind else None,
        "told": {"story": enquiry.asked},
    }


def _by_key(rows: Any, key: str) -> Any:
    return rows.filter(pk=key).first() if key.isdecimal() and len(key) < 18 else None


# --- sections of the docket -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ItemRow:
    """One item on the docket: in words, with what was seen of its serial before."""

    item: Item
    marks: str
    behaviours: str
    known: list[Known]
    may_end: bool


@dataclass(frozen=True)
class ItemsSection:
    case: Case
    rows: list[ItemRow]
    accessories: list[Accessory]
    papers: list[Paper]
    parcel: list[Photo]


def items_section(case: Case) -> ItemsSection:
    """What the case is about, in seven queries however many items."""
    items = _chips_below(Item.objects.with_context().filter(case=case).prefetch_related(with_photos(), "readings"))
    seen = _seen_before(items, case.owner)
    rows = [
        ItemRow(
            item,
            words.said(item.marks, words.MARKS),
            words.said(item.behaviours, words.BEHAVIOURS),
            seen.get(item.thing.serial_folded, []),
            item.stage not in {*ENDED, *EXITS, Stage.HANDED_OVER, Stage.EXPECTED},
        )
        for item in items
    ]
    along = Accessory.objects.select_related("thing__place", "thing__staff", "thing__party").filter(case=case)
    papers = Paper.objects.of_case(case.code).filter(kind="intake-form")
    return ItemsSection(case, rows, list(along), list(papers[:5]), photos_of(case.thing))


def _chips_below(items: Iterable[Item]) -> list[Item]:
    """In the order of their numbers, but what was taken off an item stands right below it."""
    listed = list(items)
    numbers = {item.pk: item.number for item in listed}
    return sorted(listed, key=lambda item: (numbers.get(item.parent_id or item.pk, item.number), item.number))


def _seen_before(items: Sequence[Item], owner: Party) -> dict[str, list[Known]]:
    """Other things with these serials, by folded serial, in one query."""
    own = {item.thing_id for item in items}
    return _with_serials({item.thing.serial_folded for item in items}, owner, leave_out=own)


def _with_serials(serials: set[str], owner: Party | None, *, leave_out: Iterable[int] = ()) -> dict[str, list[Known]]:
    """Things with one of these folded serials, in one query; a serial of fewer than four characters says too little."""
    found: dict[str, list[Known]] = {}
    things = Thing.objects.filter(serial_folded__in={serial for serial in serials if len(serial) >= 4})
    for thing in things.exclude(pk__in=leave_out).select_related("item__case__owner", "item__case__thing"):
        found.setdefault(thing.serial_folded, []).append(_known(thing, owner))
    return found


@dataclass(frozen=True)
class WantedSection:
    case: Case
    happened: str
    tried: str
    wanted: list[Any]
    locks: str
    allows: str
    missing: list[str]
    scans: int


def wanted_section(case: Case) -> WantedSection:
    """The story, what is wanted, the locks and what was signed, in five queries."""
    fresh = Case.objects.select_related("terms").get(pk=case.pk)
    wanted, locks = list(fresh.wanted.all()), list(fresh.locks.all())
    told = intake.Told(locks=[(lock.kind, lock.customer_knows) for lock in locks])
    allowed = [("examine", fresh.may_examine), ("open", fresh.may_open), ("keep", fresh.may_keep_dead)]
    missing = [] if fresh.intake_finished else intake.missing(fresh, list(fresh.items.all()), wanted=len(wanted))
    return WantedSection(
        fresh,
        words.said(fresh.stories, words.STORIES),
        words.said(fresh.tried, words.TRIED),
        wanted,
        slip.locks_said(told),
        slip.allows_said([name for name, allowed_so in allowed if allowed_so]),
        missing,
        fresh.signed_papers.standing().count(),
    )


# --- parts of the Counter -------------------------------------------------------------------------------------------

SHOWN = 30  # rows of a part of the front page; the rest is behind its count
ON_PAPER = 500  # rows of a part of the day sheet, which is printed and has nothing behind it


@dataclass(frozen=True)
class DraftRow:
    """A draft by what is typed in it so far."""

    draft: Draft
    name: str
    what: str


@dataclass(frozen=True)
class Unfinished:
    """What waits for somebody at the counter to go on with it."""

    drafts: list[DraftRow]
    cases: list[Case]


def front_start(request: Any) -> None:
    """The first part of the Counter needs nothing from the database."""


def front_unfinished(request: Any, *, shown: int = SHOWN) -> Unfinished:
    """Drafts nobody has taken in yet, and intakes that lack something, the longest waiting first."""
    drafts = [_draft_row(draft) for draft in Draft.objects.waiting().select_related("person")[:shown]]
    cases = Case.objects.unfinished().exclude(items__stage=Stage.EXPECTED).for_lists().order_by("happened")
    return Unfinished(drafts, list(cases[:shown]))


def _draft_row(draft: Draft) -> DraftRow:
    typed = draft.as_typed()
    kinds = [
        label for kind, label in MediumKind.choices if kind in {v for k, v in typed.items() if k.endswith("-kind")}
    ]
    return DraftRow(draft, typed.get("owner-name") or typed.get("owner-phone") or "nobody named yet", ", ".join(kinds))


def front_today(request: Any) -> list[Case]:
    """What came in today, newest first; today is a day of the lab's own clock."""
    start = _start_of(timezone.localdate())
    came = Case.objects.filter(happened__gte=start, happened__lt=start + timedelta(days=1))
    return _rows(came.exclude(items__stage__in=[Stage.EXPECTED, Stage.NEVER_CAME]))


def expecting() -> CaseQuerySet:
    """Cases of which something is still to come by post, the longest expected first."""
    return Case.objects.still_open().filter(items__stage=Stage.EXPECTED).order_by("happened", "pk").distinct()


@dataclass(frozen=True)
class ByPost:
    """What is on its way, and what came from nobody knows whom."""

    expected: list[Case]
    unknown: list[Case]


def front_expected(request: Any, *, shown: int = SHOWN) -> ByPost:
    """The parcels of the Counter, the longest expected first."""
    unknown = Case.objects.still_open().filter(owner__name=UNKNOWN_SENDER).order_by("happened", "pk")
    return ByPost(_rows(expecting(), shown), _rows(unknown, shown))


@dataclass(frozen=True)
class Asked:
    """Enquiries that wait for a word or a medium, the newest first, and how many there are."""

    waiting: list[Enquiry]
    count: int


def front_enquiries(request: Any) -> Asked:
    """What was asked and has come to nothing yet."""
    waiting = Enquiry.objects.filter(state=Enquiry.State.OPEN)
    return Asked(list(waiting[:SHOWN]), waiting.count())


def _rows(cases: CaseQuerySet, shown: int = SHOWN) -> list[Case]:
    return list(cases.for_lists().distinct()[:shown])


def _start_of(day: date) -> datetime:
    return timezone.make_aware(datetime(day.year, day.month, day.day))
