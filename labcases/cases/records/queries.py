"""What becomes of a row of old records: which customer is meant, and whether the case came in before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db.models import Q

from labcases.cases.models import Case
from labcases.cases.records.models import OldRecord
from labcases.core.importing import Fate, shown
from labcases.core.text import folded, folded_serial
from labcases.custody.firsts.queries import since_they_came
from labcases.custody.models import Thing
from labcases.imports.kinds import Judged, Said
from labcases.lab.models import Profile
from labcases.people import phone
from labcases.people.models import Party


class NotSo(ValueError):
    """What a row says cannot be; the text is a sentence."""


@dataclass
class Customers:
    """Customers by phone and by e-mail, of those that the rows of one lot name."""

    by_phone: dict[str, list[Party]] = field(default_factory=dict)
    by_email: dict[str, list[Party]] = field(default_factory=dict)

    def note(self, party: Party) -> None:
        if party.phone:
            self.by_phone.setdefault(party.phone, []).append(party)
        if party.email:
            self.by_email.setdefault(party.email.casefold(), []).append(party)

    def meant_by(self, said: dict[str, Any]) -> Party | None:
        """Who has this number or address; of several the one of that name, else the first."""
        found = self.by_phone.get(said.get("phone", ""), []) or self.by_email.get(said.get("email", ""), [])
        name = folded(said.get("name", ""))
        return next((party for party in found if folded(party.name) == name), found[0] if found else None)


def customers(parties: Any, said: Iterable[dict[str, Any]]) -> Customers:
    """Those of ``parties`` whom these rows may mean; of a merged record, whom it went into."""
    rows = list(said)
    phones = {row["phone"] for row in rows if row.get("phone")}
    emails = {row["email"] for row in rows if row.get("email")}
    found = Customers()
    for party in parties.filter(Q(phone__in=phones) | Q(email__in=emails)).select_related("merged_into").order_by("pk"):
        found.note(party)
    return found


def judge(batch: int | None, rows: Sequence[Said]) -> list[Judged]:
    """A verdict for each row; four queries for any number of rows."""
    country = Profile.current().country
    read: list[tuple[Said, dict[str, Any] | str]] = [(row, _read(row.values, country)) for row in rows]
    good = [said for _, said in read if isinstance(said, dict)]
    known = customers(Party.objects.all(), good)
    before = _known_numbers(said["folded"] for said in good)
    return [_judged(row, said, known, before) for row, said in read]


def _known_numbers(numbers: Iterable[str]) -> dict[str, Case]:
    cases = Case.objects.select_related("thing", "old_record").filter(old_record__folded__in=set(numbers))
    return {case.old_record.folded: case for case in cases}


def _read(values: dict[str, Any], country: str) -> dict[str, Any] | str:
    """The row with its phone as E.164, or a sentence that says what cannot be."""
    try:
        return _sound(dict(values), country)
    except NotSo as wrong:
        return str(wrong)


def _sound(said: dict[str, Any], country: str) -> dict[str, Any]:
    said["folded"] = folded_serial(said["number"])
    if not said["folded"]:
        raise NotSo(f"Old number: {shown(said['number'])} has no letter and no digit.")
    said["name"] = said.get("name") or said.get("company", "")
    if not said["name"]:
        raise NotSo("Customer: say a name or a company.")
    if "phone" in said:
        try:
            said["phone"] = phone.read(said["phone"], country)
        except phone.NotAPhone as wrong:
            raise NotSo(f"Phone: {wrong}") from None
    if "email" in said:
        said["email"] = said["email"].casefold()
        try:
            validate_email(said["email"])
        except ValidationError:
            raise NotSo(f"E-mail: {shown(said['email'])} is no address.") from None
    if not any(said.get(name) for name in ("phone", "email", "address")):
        raise NotSo("Customer: a phone number, an e-mail address or a postal address is needed.")
    said.setdefault("closed", said["received"])
    if said["closed"] < said["received"]:
        raise NotSo(f"Closed: {said['closed']} lies before {said['received']}, when it came in.")
    return said


def _judged(row: Said, said: dict[str, Any] | str, known: Customers, before: dict[str, Case]) -> Judged:
    if isinstance(said, str):
        return Judged(row.number, Fate.REFUSED, said)
    if case := before.get(said["folded"]):
        return Judged(row.number, Fate.SAME, f"It is case {case} already.", target=case.pk)
    serial = folded_serial(said.get("serial", ""))
    party = known.meant_by(said)
    if party:
        party = party.stands_as
        because = f"Of {party}, who is known by this {'number' if party.phone == said.get('phone') else 'address'}."
    else:
        because = ""
    key = f"number {said['folded']} serial {serial}" if serial else ""
    return Judged(row.number, Fate.NEW, because, key=key, ready=said | {"party": party})


def used(batch: int) -> list[str]:
    """What of a batch was used: things the ledger speaks of, customers who came again."""
    things = since_they_came(Thing.objects.filter(batch=batch))[:10]
    said = [f"{thing} ({thing.words})." for thing in things]
    theirs = Q(owner__batch=batch) | Q(bearer__batch=batch) | Q(payer__batch=batch)
    later = Case.objects.with_people().filter(theirs).exclude(thing__batch=batch)[:10]
    said += [f"{case.owner} came again with case {case}." for case in later]
    merged = Party.objects.filter(merged_into__batch=batch).exclude(batch=batch)[:10]
    said += [f"The record of {party.merged_into} holds that of {party.name}, too." for party in merged]
    gone = Party.objects.filter(batch=batch).exclude(merged_into=None)[:10]
    return said + [f"The record of {party.name} went into another." for party in gone]


def wanted_cases(words: str) -> Any:
    """Keys of cases that had this number in the former books."""
    key = folded_serial(words)[:60]
    return OldRecord.objects.filter(folded=key).values("case") if key else OldRecord.objects.none().values("case")
