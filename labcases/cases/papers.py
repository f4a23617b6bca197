"""What the counter prints: the intake form with its receipt, and labels. Called outside any transaction."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from labcases.cases import slip, words
from labcases.cases.actions import note_labelled, note_printed
from labcases.cases.advice import PACKING
from labcases.cases.intake import Told
from labcases.cases.models import Case, Item
from labcases.cases.stages import Stage
from labcases.core import codes
from labcases.core.money import Money
from labcases.core.refused import Refused
from labcases.core.units import counted, si
from labcases.custody.models import Thing
from labcases.custody.photos.queries import for_paper
from labcases.lab.models import Actor, Profile, TermsVersion
from labcases.lab.symbols import qr_svg, svg_data_uri
from labcases.paper import actions, papers
from labcases.paper.labels import SIZES, Label, LabelTooSmall
from labcases.paper.models import Paper
from labcases.people import phone

TEMPLATE, TITLE, KIND = "paper/intake_form.html", "Intake form and receipt", "intake-form"
LANGUAGE = "en-GB"
WITNESS = "Mark witnessed, or terms read, by: ________________"


def print_receipt(case: Case, *, by: Actor, size: str) -> Paper:
    """The intake form as the case stands now; printed before with the same content, it is the same paper.

    Raises what ``paper.actions.freeze`` raises.
    """
    context = receipt_context(case)
    said = json.dumps(context, sort_keys=True, default=str).encode()
    key = f"{KIND}/{case.code}/{size}/{hashlib.sha256(said).hexdigest()[:16]}"
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    paper = actions.freeze(
        key=key,
        kind=KIND,
        template=TEMPLATE,
        context=context,
        title=TITLE,
        language=LANGUAGE,
        size=size,
        code=str(case),
        by=by,
        issued=timezone.now(),
        thing=case.thing,
        case_code=case.code,
    )
    note_printed(case=case, what=f"{TITLE.lower()}, {size}", by=by, happened=paper.happened)
    return paper


def receipt_context(case: Case) -> dict[str, Any]:
    """Everything on the paper, as plain values."""
    told = Case.objects.select_related("terms", "owner", "bearer", "payer", "by").get(pk=case.pk)
    lab = Profile.current()
    signed = told.terms_signed is not None
    terms = told.terms or TermsVersion.objects.first()
    return {
        "letterhead": told.letterhead,
        "photos": for_paper([told.thing, *(item.thing for item in told.items.select_related("thing"))]),
        "who": _who(told, lab.country),
        "about": _about(told),
        "way": told.get_way_display(),
        "items": [_item(item) for item in told.items.select_related("thing")],
        "along": [{"code": str(a.thing), "words": a.words, "count": a.count} for a in _along(told)],
        "story": _story(told),
        "wanted": [f"{line.what} (urgent)" if line.urgent else line.what for line in told.wanted.all()],
        "locks": slip.locks_said(_locks(told)),
        "no_power": bool(any(item.no_power_because for item in told.items.all())),
        "allows": [(words_, _allowed(told, name)) for name, words_ in slip.ALLOWS.items()],
        "limit": Money(told.spending_limit, told.currency).words() if told.spending_limit is not None else "",
        "currency": told.currency,
        "terms": {"version": terms.version, "text": terms.text, "digest": terms.digest} if terms else None,
        "signed": {
            "by": told.signed_by,
            "how": told.signed_how,
            "when": told.terms_signed,
            "picture": f"vault:{told.signature}" if told.signature else "",
        }
        if signed
        else None,
        "witness_line": "" if told.signature else WITNESS,
        "received_by": told.by.name if told.by else "",
        "received": told.happened,
    }


def _along(case: Case) -> Any:
    return case.accessories.select_related("thing")


def _allowed(case: Case, name: str) -> bool:
    return {"examine": case.may_examine, "open": case.may_open, "keep": case.may_keep_dead}[name]


def _locks(case: Case) -> Told:
    return Told(locks=[(lock.kind, lock.customer_knows) for lock in case.locks.all()])


def _who(case: Case, country: str) -> list[tuple[str, str]]:
    """The owner, then whoever else brings or pays; each sees how they are reached."""
    rows = [("Owner", _name(case.owner)), *_reach(case.owner, country)]
    if case.bearer_id != case.owner_id:
        rows += [("Brought by", _name(case.bearer)), *_reach(case.bearer, country, address=False)]
    if case.payer_id not in (case.owner_id, case.bearer_id):
        rows += [("Paid by", _name(case.payer))]
    elif case.payer_id != case.owner_id:
        rows += [("Paid by", "whoever brought it")]
    return rows + ([("Their number", case.reference)] if case.reference else [])


def _name(party: Any) -> str:
    return ", ".join(part for part in (party.name, party.company) if part)


def _reach(party: Any, country: str, *, address: bool = True) -> list[tuple[str, str]]:
    number = phone.shown(party.phone, country) if party.phone else ""
    rows = [("Phone", number), ("E-mail", party.email)]
    return rows + ([("Return address", party.address)] if address else [])


def _about(case: Case) -> list[tuple[str, str]]:
    rows: list[tuple[str, str]] = []
    if case.urgency != Case.Urgency.NORMAL:
        rows.append(("Urgency", case.get_urgency_display()))
    return rows + ([("Promised for", f"{case.promised:%-d %B %Y}")] if case.promised else [])


def _item(item: Item) -> dict[str, str]:
    seen, told = words.said(item.marks, words.MARKS), words.said(item.behaviours, words.BEHAVIOURS)
    state = [seen and f"seen: {seen}", told and f"told: {told}", item.note]
    name = " ".join(part for part in (item.maker, item.model) if part)
    sectors = f"{counted(item.sectors, 'sector')} ({si(item.bytes or 0)})" if item.sectors else ""
    return {
        "code": str(item),
        "kind": item.kind_words or item.get_kind_display(),
        "model": name,
        "serial": item.serial,
        "capacity": "\n".join(part for part in (sectors, item.label_codes) if part),
        "state": "\n".join(part for part in state if part),
        "slot": item.slot,
    }


def _story(case: Case) -> list[tuple[str, str]]:
    yes = words.YES_NO_UNKNOWN
    rows = [
        ("What happened", words.said(case.stories, words.STORIES)),
        ("When", case.story_when),
        ("Tried since", words.said(case.tried, words.TRIED)),
        ("Powered since", yes[case.powered_since] if case.powered_since else ""),
        ("In their words", case.story),
        ("About how much", case.wanted_about),
        ("A part is worth paying for", yes[case.partial_is_worth] if case.partial_is_worth else ""),
    ]
    return [(name, value) for name, value in rows if value]


# --- by post ----------------------------------------------------------------------------------------------------------

PACKING_SLIP = "packing-slip"


def print_packing_slip(case: Case, *, by: Actor, size: str) -> Paper:
    """The slip that goes into the box, with the label for its outside; printed before alike, it is the same paper.

    Raises what ``paper.actions.freeze`` raises.
    """
    context = packing_context(case)
    said = json.dumps([context, _lab_said()], sort_keys=True, default=str).encode()
    key = f"{PACKING_SLIP}/{case.code}/{size}/{hashlib.sha256(said).hexdigest()[:16]}"
    if earlier := Paper.objects.filter(key=key).first():
        return earlier
    paper = actions.freeze(
        key=key,
        kind=PACKING_SLIP,
        template="paper/packing_slip.html",
        context=context,
        title="Packing slip",
        language=LANGUAGE,
        size=size,
        code=str(case),
        by=by,
        issued=timezone.now(),
        thing=case.thing,
        case_code=case.code,
    )
    note_printed(case=case, what=f"packing slip, {size}", by=by, happened=paper.happened)
    return paper


def packing_context(case: Case) -> dict[str, Any]:
    """Everything on the slip but the lab's own address, as plain values."""
    expected = case.items.select_related("thing").filter(stage=Stage.EXPECTED)
    wet = any(reason in case.stories for reason in ("liquid", "fire"))
    return {
        "sender": [("Sender", _name(case.owner)), *_reach(case.owner, Profile.current().country)],
        "items": [(str(item), item.medium_words) for item in expected],
        "packing": list(PACKING),
        "wet": wet,
        "label_symbol": svg_data_uri(qr_svg(codes.symbol(case.code))),
    }


def _lab_said() -> list[str]:
    """What the slip says of the lab: when it moves house, an earlier slip is not the same paper."""
    lab = Profile.current()
    return [lab.name, lab.address, lab.phone, lab.email]


# --- labels -----------------------------------------------------------------------------------------------------------


def labels_of(case: Case) -> list[Label]:
    """One label for the docket, one for each item and each accessory, in the order of their codes."""
    owner = case.owner.name if case.letterhead else case.reference or str(case.bearer)
    docket = [_label(case.thing, owner, counted(case.items.count(), "item"))]
    items = [_label(i.thing, i.medium_words, i.serial) for i in case.items.select_related("thing")]
    along = [_label(a.thing, a.words, f"{a.count} pieces" if a.count > 1 else "") for a in _along(case)]
    return docket + items + along


def _label(thing: Thing, first: str, second: str) -> Label:
    return Label(thing.printed_code, codes.symbol(thing.code), first[:60], second[:60])


def print_labels(case: Case, labels: Sequence[Label], *, size: str, first: int, by: Actor, happened: datetime) -> bytes:
    """A PDF of labels; the line of each thing says that it was labelled.

    Raises LabelDoesNotFit and what ``paper`` raises.
    """
    try:
        data = papers.label_sheet(
            labels, SIZES[size], title=f"Labels {case}", language=LANGUAGE, issued=happened, first=first
        )
    except LabelTooSmall as small:
        raise LabelDoesNotFit(str(small), mend="Choose a wider label.") from None
    things = Thing.objects.filter(code__in=[codes.fold(label.code) for label in labels]).order_by("code")
    note_labelled(case=case, things=list(things), by=by, happened=happened)
    return data


class LabelDoesNotFit(Refused):
    """The symbol would be too small to be read on this label."""
