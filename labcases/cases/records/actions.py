"""Old records out of a table: customers, closed cases and their media, written in lots and taken back in lots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from labcases.cases.families import family_of
from labcases.cases.models import Case, Item, StageStamp
from labcases.cases.records.models import OldRecord
from labcases.cases.records.queries import customers
from labcases.cases.stages import Stage
from labcases.core import codes
from labcases.core.text import folded_serial
from labcases.custody.actions import mint_many
from labcases.custody.models import MediumKind, Thing
from labcases.imports.kinds import Judged
from labcases.lab.models import Actor, Entry, Profile
from labcases.people.lookup import words_of
from labcases.people.models import Party, PartyWord

TOLD = ("name", "company", "phone", "email", "address")
OF_ITEM = ("kind", "maker", "model", "serial", "sectors", "note")
NOON = time(12)  # the hour is not known


def write(batch: int, judged: Sequence[Judged], by: Actor, happened: datetime) -> None:
    """Customers who are new, then cases, then what came with them. Call it inside a ``recorded`` action."""
    said = [one.ready for one in judged]
    _find_customers(batch, said)
    cases = _cases_of(batch, said, by)
    _add_items(batch, [(cases[row["folded"]], row) for row in said], by)


def _find_customers(batch: int, said: Sequence[dict[str, Any]]) -> None:
    """Give each row its customer: one who was known, one who came in with an earlier row, or a new one."""
    came = customers(Party._base_manager.filter(batch=batch), said)
    by_address: dict[tuple[str, str], Party] = {}
    new = []
    for row in said:
        if row["party"] is None:
            place = (row["name"], row.get("address", ""))
            row["party"] = came.meant_by(row) or by_address.get(place)
        if row["party"] is None:
            party = Party(batch_id=batch, **{name: row[name] for name in TOLD if row.get(name)})
            row["party"] = by_address[place] = party
            came.note(party)
            new.append(party)
    Party._base_manager.bulk_create(new)
    PartyWord.objects.bulk_create(
        [PartyWord(party=p, word=w) for p in new for w in sorted(words_of(p.name, p.company, p.email, p.phone))]
    )


def _cases_of(batch: int, said: Sequence[dict[str, Any]], by: Actor) -> dict[str, Case]:
    """The case of each old number: one that an earlier row made, or a new one."""
    first: dict[str, dict[str, Any]] = {}
    for row in said:
        first.setdefault(row["folded"], row)
    made = Case._base_manager.select_related("thing", "old_record").filter(
        old_record__folded__in=first, thing__batch=batch
    )
    cases = {case.old_record.folded: case for case in made}
    rows = [row for number, row in first.items() if number not in cases]
    return cases | _new_cases(batch, rows, by)


def _new_cases(batch: int, rows: Sequence[dict[str, Any]], by: Actor) -> dict[str, Case]:
    years = Counter(row["received"].year for row in rows)
    numbers = {year: iter(mint_many(f"{year % 100:02d}", count)) for year, count in years.items()}
    bodies = [codes.case_body(row["received"].year, next(numbers[row["received"].year])) for row in rows]
    things = Thing._base_manager.bulk_create(
        [
            Thing(code=codes.with_check(body), kind=Thing.Kind.DOCKET, words="Docket of an old record", batch_id=batch)
            for body in bodies
        ]
    )
    lab = Profile.current()
    cases = Case._base_manager.bulk_create(
        [_case(row, thing, by, lab) for row, thing in zip(rows, things, strict=True)]
    )
    OldRecord.objects.bulk_create(
        [OldRecord(case=c, number=r["number"], folded=r["folded"]) for c, r in zip(cases, rows, strict=True)]
    )
    return {row["folded"]: case for row, case in zip(rows, cases, strict=True)}


def _case(row: dict[str, Any], thing: Thing, by: Actor, lab: Profile) -> Case:
    came, gone = _moment(row["received"], lab), _moment(row["closed"], lab)
    people = {"owner": row["party"], "bearer": row["party"], "payer": row["party"]}
    about = {"story": row.get("story", ""), "intake_finished": came, "closed": gone, "currency": lab.currency}
    return Case(thing=thing, **people, **about, **Entry.stamp(by, came))


def _moment(day: date, lab: Profile) -> datetime:
    return datetime.combine(day, NOON, ZoneInfo(lab.time_zone or "UTC"))


def _add_items(batch: int, rows: Sequence[tuple[Case, dict[str, Any]]], by: Actor) -> None:
    lab, families = Profile.current(), dict[tuple[str, str], Any]()
    items = [_item(case, row, number, by, lab, families) for case, row, number in _numbered(rows)]
    things = [
        Thing(
            code=codes.with_check(codes.item_body(item.case.thing.code[:-1], "P", item.number)),
            kind=Thing.Kind.PATIENT,
            words=item.medium_words[:300],
            serial_folded=folded_serial(item.serial)[:100],
            party=item.case.owner,
            batch_id=batch,
        )
        for item in items
    ]
    for item, thing in zip(items, Thing._base_manager.bulk_create(things), strict=True):
        item.thing = thing
    Item._base_manager.bulk_create(items)
    StageStamp.objects.bulk_create(
        [stamp for item, (_, row) in zip(items, rows, strict=True) for stamp in _stamps(item, row, by, lab)]
    )


def _numbered(rows: Sequence[tuple[Case, dict[str, Any]]]) -> Iterator[tuple[Case, dict[str, Any], int]]:
    """Items of a case count on from those that earlier rows made."""
    cases = {case.pk for case, _ in rows}
    count = Counter(Item._base_manager.filter(case__in=cases).values_list("case", flat=True))
    for case, row in rows:
        count[case.pk] += 1
        yield case, row, count[case.pk]


def _item(case: Case, row: dict[str, Any], number: int, by: Actor, lab: Profile, families: dict[Any, Any]) -> Item:
    about = {name: row[name] for name in OF_ITEM if row.get(name)}
    if row.get("result"):
        about["note"] = "\n".join(filter(None, [about.get("note"), f"What came of it: {row['result']}"]))
    about.setdefault("kind", MediumKind.OTHER)
    key = (about.get("maker", ""), about.get("model", ""))
    if key not in families:
        families[key] = family_of(*key) if key[1] else None
    came = _moment(row["received"], lab)
    return Item(case=case, number=number, stage=Stage.CLOSED, family=families[key], **about, **Entry.stamp(by, came))


def _stamps(item: Item, row: dict[str, Any], by: Actor, lab: Profile) -> list[StageStamp]:
    came, gone = (Entry.stamp(by, _moment(row[name], lab)) for name in ("received", "closed"))
    return [
        StageStamp(item=item, stage=Stage.RECEIVED, **came),
        StageStamp(item=item, stage=Stage.CLOSED, **gone),
    ]


def clear(batch: int, most: int) -> int:
    """Remove up to so many rows of a batch: media first, then cases, then customers."""
    things = Thing._base_manager.filter(batch=batch)
    patients = list(things.filter(kind=Thing.Kind.PATIENT).values_list("pk", flat=True)[:most])
    if patients:
        StageStamp.objects.filter(item__thing__in=patients).delete()
        Item._base_manager.filter(thing__in=patients).delete()
        Thing._base_manager.filter(pk__in=patients).delete()
        return len(patients)
    dockets = list(things.values_list("pk", flat=True)[:most])
    if dockets:
        Case._base_manager.filter(thing__in=dockets).delete()
        Thing._base_manager.filter(pk__in=dockets).delete()
        return len(dockets)
    parties = list(Party._base_manager.filter(batch=batch).values_list("pk", flat=True)[:most])
    Party._base_manager.filter(pk__in=parties).delete()
    return len(parties)
