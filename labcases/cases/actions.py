"""The verbs of the counter: log a drive, expect a parcel, finish an intake, refuse, correct.

``advance`` is the one door for stages, whichever room's verb asks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import Max
from django.utils import timezone

from labcases.cases import queries, stages
from labcases.cases.families import family_of
from labcases.cases.intake import NewItem, Signed, Told
from labcases.cases.models import Accessory, Case, Enquiry, Item, Lock, StageStamp, Wanted
from labcases.cases.pads.actions import claim, must_be_free
from labcases.cases.pads.models import ReservedCode
from labcases.cases.stages import Stage
from labcases.cases.words import UNKNOWN_SENDER
from labcases.core import codes, vault
from labcases.core.refused import Refused
from labcases.core.text import folded_serial
from labcases.custody.actions import mint, new_thing, record, record_many, recorded
from labcases.custody.models import Thing, Whereabouts
from labcases.lab.models import Actor, Entry, Place, Profile, TermsVersion
from labcases.lab.roles import Right
from labcases.people.models import Party


class NotYet(Refused):
    """A stage that may not be entered now; the reasons say what is missing and what lifts it."""


class SomeoneWasFaster(Refused):
    """The record was changed between looking and pressing."""


class NothingToTakeIn(Refused):
    """An intake without an item."""


class OwnerIsKnown(Refused):
    """The case has an owner already."""


@recorded
def log_drive(
    *,
    owner: Party,
    items: Sequence[NewItem],
    by: Actor,
    happened: datetime,
    bearer: Party | None = None,
    payer: Party | None = None,
    way: str = Case.Way.COUNTER,
    urgency: str = Case.Urgency.NORMAL,
    promised: date | None = None,
    reference: str = "",
    letterhead: bool = True,
    told: Told | None = None,
    signed: Signed | None = None,
    accessories: Sequence[tuple[str, int]] = (),
    at: Place | None = None,
    enquiry: Enquiry | None = None,
    reserved: ReservedCode | None = None,
) -> Case:
    """Take one or several media in: a case, its items, what came along, and what was told and signed so far.

    Each thing goes from the bearer's hands to the place ``at`` (the counter when left out, else to whoever takes it).
    With ``reserved`` it is typed in from a sheet of a paper pad: the case gets that very code.
    Raises NothingToTakeIn without an item, and what ``pads.actions.must_be_free`` raises.
    """
    by.must(Right.TAKE_IN)
    case = _open_case(
        owner, items, by, happened, bearer=bearer, payer=payer, way=way, urgency=urgency, promised=promised,
        reference=reference, letterhead=letterhead, reserved=reserved,
    )  # fmt: skip
    to = _where(at, by)
    made = [_add_item(case, new, number, Stage.RECEIVED, by, happened) for number, new in enumerate(items, 1)]
    record_many("received", things=[i.thing for i in made], by=by, happened=happened, to=to, case=case.code)
    _move_docket(case, to)
    for words, count in accessories:
        _add_accessory(case, words, count, by, happened, to)
    _note_told(case, told)
    if signed:
        _note_signed(case, signed, by, happened)
    _close_intake_if_nothing_is_missing(case, happened)
    if enquiry:
        _became(enquiry, case)
    return case


@recorded
def expect(
    *, owner: Party, items: Sequence[NewItem], by: Actor, happened: datetime, told: Told | None = None, **about: Any
) -> Case:
    """A case for media that are on their way by post; nothing is in the lab yet. ``about`` as in ``log_drive``."""
    by.must(Right.TAKE_IN)
    enquiry = about.pop("enquiry", None)
    case = _open_case(owner, items, by, happened, way=Case.Way.POST, **about)
    made = [_add_item(case, new, number, Stage.EXPECTED, by, happened) for number, new in enumerate(items, 1)]
    record_many("expected", things=[i.thing for i in made], by=by, happened=happened, case=case.code)
    _note_told(case, told)
    if enquiry:
        _became(enquiry, case)
    return case


@recorded
def arrive(
    *,
    case: Case,
    by: Actor,
    happened: datetime,
    items: Sequence[Item] | None = None,
    also: Sequence[NewItem] = (),
    at: Place | None = None,
    condition: str = "",
    damage: Mapping[int, str] | None = None,
    accessories: Sequence[tuple[str, int]] = (),
) -> Case:
    """A parcel of a case came in. ``condition`` is what it looked like, closed and opened.

    ``items`` are those that lay in it (all that are expected, when left out), ``also`` what nobody had announced;
    ``damage`` says of an item, by its key, what it suffered on the way. Raises NothingToTakeIn for an empty parcel.
    """
    by.must(Right.TAKE_IN)
    came = list(items if items is not None else case.items.filter(stage=Stage.EXPECTED))
    if not came and not also:
        raise NothingToTakeIn("Nothing of this case is expected any more.", mend="Open the case to see what came when.")
    to = _where(at, by)
    if condition:
        record("parcel-arrived", thing=case.thing, by=by, happened=happened, because=condition, case=case.code)
    for item in came:
        advance(item=item, to=Stage.RECEIVED, by=by, happened=happened)
    first = (case.items.aggregate(last=Max("number"))["last"] or 0) + 1
    came += [_add_item(case, new, number, Stage.RECEIVED, by, happened) for number, new in enumerate(also, first)]
    things = [item.thing for item in came]
    record_many("received", things=things, by=by, happened=happened, to=to, because=condition, case=case.code)
    _note_damage(came, damage or {}, by, happened)
    _move_docket(case, to)
    for words, count in accessories:
        _add_accessory(case, words, count, by, happened, to)
    return case


def _note_damage(items: Sequence[Item], damage: Mapping[int, str], by: Actor, happened: datetime) -> None:
    """What an item suffered on the way stands in its note, and as an event of its own."""
    for item in items:
        if words := damage.get(item.pk):
            item.note = "\n".join(part for part in (item.note, f"Damaged on the way: {words}") if part)
            item.save(update_fields=["note"])
            record(
                "arrived-damaged", thing=item.thing, by=by, happened=happened, because=words, case=item.case.code
            )  # fmt: skip


@recorded
def arrive_unknown(
    *, written: str, items: Sequence[NewItem], condition: str, damage: str, by: Actor, happened: datetime, **about: Any
) -> Case:
    """A parcel that names no sender we know: a case of its own, kept safe until somebody says whose it is.

    ``written`` is everything that stands on it and in it. ``about`` as in ``log_drive``.
    """
    by.must(Right.TAKE_IN)
    owner = Party.objects.create(name=UNKNOWN_SENDER, address=written or "Nothing stands on the parcel.")
    case = log_drive(owner=owner, items=items, way=Case.Way.POST, by=by, happened=happened, **about)
    record("parcel-arrived", thing=case.thing, by=by, happened=happened, because=condition, case=case.code)
    every = list(case.items.select_related("thing", "case"))
    _note_damage(every, dict.fromkeys([item.pk for item in every], damage), by, happened)
    return case


@recorded
def name_owner(*, case: Case, owner: Party, by: Actor, happened: datetime, because: str) -> Case:
    """It is known now whose a parcel is: they take the place of the unknown sender wherever that one stood.

    Raises OwnerIsKnown for a case that has an owner; ownership of that one is disputed, not named.
    """
    by.must(Right.TAKE_IN)
    unknown = case.owner
    won = Case.objects.filter(pk=case.pk, owner__name=UNKNOWN_SENDER).update(owner=owner)
    if not won:
        raise OwnerIsKnown(
            f"Case {case} has an owner: {unknown}.",
            mend="When somebody else says it is theirs, note that ownership is disputed.",
        )
    case.owner = owner
    for role in ("bearer", "payer"):
        if getattr(case, f"{role}_id") == unknown.pk:
            setattr(case, role, owner)
    case.save(update_fields=["bearer", "payer"])
    record("owner-named", thing=case.thing, by=by, happened=happened, because=f"{owner}; {because}", case=case.code)
    return case


@recorded
def never_came(*, item: Item, by: Actor, happened: datetime, because: str, how: str = "never came") -> Item:
    """An expected item that will not come, or went elsewhere. It was never here, so nothing is handed over."""
    by.must(Right.TAKE_IN)
    advance(item=item, to=Stage.NEVER_CAME, by=by, happened=happened, because=f"{how}: {because}")
    record("ended", thing=item.thing, by=by, happened=happened, because=f"{how}: {because}", case=item.case.code)
    _close_if_all_ended(item.case, happened)
    return item


@recorded
def complete_intake(
    *,
    case: Case,
    by: Actor,
    happened: datetime,
    told: Told | None = None,
    signed: Signed | None = None,
    finished: bool = False,
) -> Case:
    """The rest of an intake. With ``finished`` what is still blank counts as asked and not known."""
    by.must(Right.TAKE_IN)
    _note_told(case, told)
    if signed:
        _note_signed(case, signed, by, happened)
    if finished and case.intake_finished is None:
        _mark_finished(case, happened)
        record("intake-finished", thing=case.thing, by=by, happened=happened, case=case.code)
    else:
        _close_intake_if_nothing_is_missing(case, happened)
    return case


CORRECTABLE = (
    "kind", "kind_words", "maker", "model", "serial", "firmware", "interface", "sectors", "sector_bytes", "heads",
    "platters", "made", "plant", "board_number", "preamplifier", "family", "slot", "marks", "behaviours", "label_codes",
    "note",
)  # fmt: skip


@recorded
def correct_item(*, item: Item, changes: dict[str, Any], by: Actor, happened: datetime, because: str = "") -> Item:
    """Change what was noted about an item; the old and the new value stand in the day-book."""
    if not (by.may(Right.TAKE_IN) or by.may(Right.EXAMINE)):
        by.must(Right.TAKE_IN)
    changed = {name: value for name, value in changes.items() if name in CORRECTABLE and getattr(item, name) != value}
    if not changed:
        return item
    was = "; ".join(f"{name} {_said(getattr(item, name))} → {_said(value)}" for name, value in changed.items())
    for name, value in changed.items():
        setattr(item, name, value)
    item.save(update_fields=list(changed))
    Thing.objects.filter(pk=item.thing_id).update(
        serial_folded=folded_serial(item.serial)[:100], words=item.medium_words[:300]
    )
    reason = f"{was} ({because})" if because else was
    record("intake-changed", thing=item.thing, by=by, happened=happened, because=reason, case=item.case.code)
    return item


def _said(value: Any) -> str:
    return (
        ", ".join(value)
        if isinstance(value, list) and value
        else "not known"
        if value in (None, "", [])
        else str(value)
    )


@recorded
def advance(*, item: Item, to: Stage, by: Actor, happened: datetime, because: str = "") -> Item:
    """The one door for stages. Guards are asked again here, in the transaction; the calling verb records the event.

    Raises NotYet with every reason, or SomeoneWasFaster when the item is no longer at the stage the caller saw.
    """
    known = queries.facts_for([item])[item.pk]
    if item.parent_id and known.stage == to:
        item.stage = to  # it went along with what it was taken off
        return item
    if known.stage != item.stage:
        raise SomeoneWasFaster(
            f"{item} is “{known.stage}” now, not “{item.stage}”.", mend="Reload the page and look again."
        )
    try:
        standing = stages.stops(Stage(item.stage), to, known)
    except stages.NoSuchWay as none:
        raise NotYet(f"{item} cannot become “{to}” now.", why=str(none), mend="See its next safe step.") from None
    if standing:
        reasons = [stop.because for stop in standing]
        raise NotYet(f"{item} cannot become “{to}” yet.", why=reasons, mend=" ".join(stop.lift for stop in standing))
    along = list(item.chips.filter(stage=item.stage)) if to not in _EACH_BY_ITSELF else []
    for one in (item, *along):
        Item.objects.filter(pk=one.pk, stage=one.stage).update(stage=to)
        one.stage = to
        StageStamp.objects.create(item=one, stage=to, because=because, **Entry.stamp(by, happened))
    return item


# A chip goes the way of what it was taken off, but comes and leaves as a thing of its own.
_EACH_BY_ITSELF = (Stage.RECEIVED, Stage.HANDED_OVER, Stage.CLOSED)


@recorded
def end_item(*, item: Item, to: Stage, by: Actor, happened: datetime, because: str) -> Item:
    """An exit: declined, unrecoverable, withdrawn or abandoned, with its reason. A handover still follows."""
    if not (by.may(Right.EXAMINE) or by.may(Right.TAKE_IN)):
        by.must(Right.EXAMINE)
    if to not in stages.EXITS:
        raise ValueError(f"{to} is no exit.")
    advance(item=item, to=to, by=by, happened=happened, because=because)
    record("ended", thing=item.thing, by=by, happened=happened, because=f"{to}: {because}", case=item.case.code)
    return item


@recorded
def dispute(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    """Ownership is disputed: nothing is released until it is settled."""
    by.must(Right.TAKE_IN)
    return _set_stop(case, "disputed", True, "ownership-disputed", by, happened, because)


@recorded
def settle_dispute(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    by.must(Right.LIFT_STOP)
    return _set_stop(case, "disputed", False, "dispute-settled", by, happened, because)


@recorded
def hold_by_law(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    """An order holds the case. The app records it and gives no legal advice."""
    if not by.may(Right.TAKE_IN):
        by.must(Right.LIFT_STOP)
    return _set_stop(case, "legal_hold", True, "held-by-law", by, happened, because)


@recorded
def end_hold(*, case: Case, by: Actor, happened: datetime, because: str) -> Case:
    by.must(Right.LIFT_STOP)
    return _set_stop(case, "legal_hold", False, "hold-ended", by, happened, because)


@recorded
def enquire(*, by: Actor, happened: datetime, **told: Any) -> Enquiry:
    """Somebody asked and nothing was received: what was asked, which advice and price range were given."""
    by.must(Right.TAKE_IN)
    enquiry = Enquiry.objects.create(**told, **Entry.stamp(by, happened))
    record("enquired", thing=None, by=by, happened=happened, because=enquiry.asked)
    return enquiry


@recorded
def refuse(*, by: Actor, happened: datetime, reason: str, enquiry: Enquiry | None = None, **told: Any) -> Enquiry:
    """Refused at the counter, or an enquiry refused, with the reason that was given."""
    by.must(Right.TAKE_IN)
    if enquiry is None:
        refused = Enquiry.State.REFUSED
        enquiry = Enquiry.objects.create(state=refused, reason=reason, **told, **Entry.stamp(by, happened))
    else:
        _answered(enquiry, Enquiry.State.REFUSED, reason)
    record("refused", thing=None, by=by, happened=happened, because=reason)
    return enquiry


@recorded
def end_enquiry(*, enquiry: Enquiry, by: Actor, happened: datetime, reason: str = "") -> Enquiry:
    """Nothing came of it."""
    by.must(Right.TAKE_IN)
    _answered(enquiry, Enquiry.State.ENDED, reason)
    record("enquiry-ended", thing=None, by=by, happened=happened, because=reason)
    return enquiry


def _answered(enquiry: Enquiry, state: str, reason: str) -> None:
    """Claim a waiting enquiry for its end."""
    waiting = Enquiry.objects.filter(pk=enquiry.pk, state=Enquiry.State.OPEN)
    if not waiting.update(state=state, reason=reason):
        raise SomeoneWasFaster("This enquiry is not waiting any more.", mend="Reload the page and look again.")
    enquiry.refresh_from_db()


def _became(enquiry: Enquiry, case: Case) -> None:
    """An enquiry becomes one case, also after it was ended or refused: people come back."""
    if not Enquiry.objects.filter(pk=enquiry.pk, case=None).update(state=Enquiry.State.CASE, case=case):
        raise SomeoneWasFaster(
            "This enquiry has become a case already.", mend="Open the enquiry to see which, and go on there."
        )


@recorded
def close_if_all_ended(*, case: Case, by: Actor, happened: datetime) -> bool:
    """Close a case whose items have all been handed over; returns whether it is closed now."""
    if case.closed or case.items.exclude(stage__in=[Stage.HANDED_OVER, *stages.ENDED]).exists():
        return case.closed is not None
    for item in case.items.filter(stage=Stage.HANDED_OVER):
        advance(item=item, to=Stage.CLOSED, by=by, happened=happened)
    record("closed", thing=case.thing, by=by, happened=happened, case=case.code)
    _close_if_all_ended(case, happened)
    return True


@recorded
def note_printed(*, case: Case, what: str, by: Actor, happened: datetime) -> Case:
    """A paper or labels of this case were printed."""
    by.must(Right.TAKE_IN)
    record("paper-printed", thing=case.thing, by=by, happened=happened, because=what, case=case.code)
    return case


# --- the parts that verbs share -------------------------------------------------------------------------------------


def _open_case(owner: Party, items: Sequence[NewItem], by: Actor, happened: datetime, **about: Any) -> Case:
    if not items:
        raise NothingToTakeIn("Say what comes in: at least one item with its kind.", mend="Add an item.")
    reserved = about.pop("reserved", None)
    body = _body_for(happened, reserved)
    thing = new_thing(body, kind=Thing.Kind.DOCKET, words=f"Docket for {len(items)} item{'s' * (len(items) > 1)}")
    people = {"bearer": about.pop("bearer", None) or owner, "payer": about.pop("payer", None) or owner}
    currency = Profile.current().currency
    case = Case.objects.create(
        thing=thing, owner=owner, currency=currency, **people, **about, **Entry.stamp(by, happened)
    )
    if reserved:
        claim(reserved, case)
    return case


def _body_for(happened: datetime, reserved: ReservedCode | None) -> str:
    """The body of the code on the sheet, or of the next of the year."""
    if reserved:
        must_be_free(reserved, happened)
        return str(reserved.code[:-1])
    year = timezone.localtime(happened).year
    return codes.case_body(year, mint(f"{year % 100:02d}"))


def _add_item(case: Case, new: NewItem, number: int, stage: Stage, by: Actor, happened: datetime) -> Item:
    fields = {**new.__dict__, "marks": list(new.marks), "behaviours": list(new.behaviours)}
    item = Item(
        case=case,
        number=number,
        stage=stage,
        family=family_of(new.maker, new.model),
        **fields,
        **Entry.stamp(by, happened),
    )
    item.thing = new_thing(
        codes.item_body(case.code[:-1], "P", number),
        kind=Thing.Kind.PATIENT,
        words=item.medium_words,
        serial=item.serial,
        at=case.bearer,
    )
    item.save()
    StageStamp.objects.create(item=item, stage=stage, **Entry.stamp(by, happened))
    return item


def _add_accessory(case: Case, words: str, count: int, by: Actor, happened: datetime, to: Whereabouts) -> Accessory:
    body = codes.item_body(case.code[:-1], "A", case.accessories.count() + 1)
    thing = new_thing(body, kind=Thing.Kind.ACCESSORY, words=words, at=case.bearer)
    made = Accessory.objects.create(case=case, thing=thing, words=words, count=count, **Entry.stamp(by, happened))
    record("received", thing=thing, by=by, happened=happened, to=to, case=case.code)
    return made


def _where(at: Place | None, by: Actor) -> Whereabouts:
    place = at or Place.objects.filter(kind=Place.Kind.COUNTER, in_use=True).order_by("pk").first()
    return Whereabouts(place=place) if place else Whereabouts(staff=by.staff)


def _move_docket(case: Case, to: Whereabouts) -> None:
    """The docket lies where its items came in; it has no event of its own for that."""
    Thing.objects.filter(pk=case.thing_id).update(place=to.place, staff=to.staff)
    case.thing.place, case.thing.staff = to.place, to.staff


def _note_told(case: Case, told: Told | None) -> None:
    if told is None:
        return
    for name in ("stories", "tried"):
        setattr(case, name, list(getattr(told, name)) or getattr(case, name))
    for name in ("story", "story_when", "powered_since", "wanted_about", "partial_is_worth"):
        setattr(case, name, getattr(told, name) or getattr(case, name))
    case.save(
        update_fields=["stories", "tried", "story", "story_when", "powered_since", "wanted_about", "partial_is_worth"]
    )
    first = case.wanted.count() + 1
    Wanted.objects.bulk_create(
        [Wanted(case=case, number=n, what=line.what, urgent=line.urgent) for n, line in enumerate(told.wanted, first)]
    )
    Lock.objects.bulk_create([Lock(case=case, kind=kind, customer_knows=knows) for kind, knows in told.locks])


def _note_signed(case: Case, signed: Signed, by: Actor, happened: datetime) -> None:
    terms = TermsVersion.objects.order_by("-since", "-pk").first()
    if terms is None:
        raise Refused(
            "There are no terms to sign yet.", mend="A manager publishes the lab's terms first (Office, the lab)."
        )
    case.terms, case.terms_signed = terms, happened
    case.signed_by, case.signed_how = signed.signed_by, signed.how
    case.signature = vault.put(signed.signature) if signed.signature else ""
    for name in ("may_examine", "may_open", "may_keep_dead", "spending_limit"):
        setattr(case, name, getattr(signed, name))
    case.save(
        update_fields=[
            "terms", "terms_signed", "signed_by", "signed_how", "signature", "may_examine", "may_open", "may_keep_dead",
            "spending_limit",
        ]
    )  # fmt: skip
    allowed = ["examine"] * signed.may_examine + ["open for inspection in clean air"] * signed.may_open
    because = f"terms {terms.version}; allows to {' and '.join(allowed) or 'keep it safe'}"
    record(
        "terms-signed",
        thing=case.thing,
        by=by,
        happened=happened,
        because=because,
        authority=f"{signed.signed_by}, under the text of SHA-256 {terms.digest}",
        case=case.code,
    )


def _close_intake_if_nothing_is_missing(case: Case, happened: datetime) -> None:
    if case.intake_finished is None and not queries.still_missing(case):
        _mark_finished(case, happened)


def _mark_finished(case: Case, happened: datetime) -> None:
    case.intake_finished = happened
    case.save(update_fields=["intake_finished"])


def _set_stop(case: Case, field: str, value: bool, kind: str, by: Actor, happened: datetime, because: str) -> Case:
    setattr(case, field, value)
    case.stop_words = because
    case.save(update_fields=[field, "stop_words"])
    record(kind, thing=case.thing, by=by, happened=happened, because=because, case=case.code)
    return case


def _close_if_all_ended(case: Case, happened: datetime) -> None:
    if not case.items.still_open().exists():
        case.closed = happened
        case.save(update_fields=["closed"])
