"""What was scanned, looked up; who has to confirm; what waits for whom."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from labcases.core import codes
from labcases.custody.models import AskedHandover, CustodyRules, StaffPin, Thing
from labcases.custody.scanning import reading
from labcases.lab.models import Place, Staff
from labcases.lab.roles import MAY, Right

MOST = 500


@dataclass
class Understood:
    """Things in the order they were scanned, then those of the shelf; where they go; and what was not understood."""

    things: list[Thing] = field(default_factory=list)
    scanned: frozenset[str] = frozenset()
    source: Place | None = None
    place: Place | None = None
    staff: Staff | None = None
    wrong: list[str] = field(default_factory=list)

    @property
    def to(self) -> Place | Staff | None:
        return self.place or self.staff


def understood(text: str) -> Understood:
    """Look up what was scanned, in a fixed number of queries."""
    said = reading.read(text)
    found = Understood(scanned=frozenset(said.things), wrong=list(said.wrong))
    places = {place.code: place for place in Place.objects.filter(code__in=[said.source, said.target])}
    found.source = _place(found, places, said.source)
    _target(found, places, said.target)
    # The same shelf first and last: what was scanned between goes there, and what lies there stays out of it.
    whole = found.source is not None and found.source != found.place
    here = Q(place=found.source) & ~Q(kind=Thing.Kind.DOCKET) if whole else Q(pk__in=())
    rows = Thing.objects.with_whereabouts().filter(Q(code__in=said.things) | here).order_by("code")[: MOST + 1]
    by_code = {thing.code: thing for thing in rows}
    found.wrong += [f"Nothing carries the code {codes.printed(code)}." for code in said.things if code not in by_code]
    if len(by_code) > MOST:
        found.wrong.append(f"More than {MOST} things are too many for one go. Scan a part of them.")
    first = [by_code[code] for code in said.things if code in by_code]
    found.things = [*first, *(thing for code, thing in by_code.items() if code not in found.scanned)][:MOST]
    return found


def _place(found: Understood, places: dict[str, Place], code: str) -> Place | None:
    if code and code not in places:
        found.wrong.append(f"There is no place {codes.printed(code)}.")
    return places.get(code)


def _target(found: Understood, places: dict[str, Place], code: str) -> None:
    number = reading.badge_number(code) if code else None
    if number is None:
        found.place = _place(found, places, code)
        if found.place and not found.place.in_use:
            found.wrong.append(f"{found.place} is not in use any more.")
            found.place = None
        return
    found.staff = Staff.objects.filter(pk=number, is_active=True).first()
    if found.staff is None:
        found.wrong.append(f"The badge {codes.printed(code)} is nobody's who works here.")


def people_who_move() -> QuerySet[Staff]:
    """Everybody who can log in and may have things in hand."""
    return Staff.objects.filter(is_active=True, held_roles__role__in=MAY[Right.MOVE]).distinct()


def both_confirm() -> bool:
    """Whether a hand-over between people asks for both: as the lab has it, and never where one works alone."""
    return CustodyRules.current().both_confirm and people_who_move().count() > 1


def has_pin(person: Staff) -> bool:
    return StaffPin.objects.filter(staff=person).exists()


def waiting_for(person: Staff) -> list[AskedHandover]:
    """Hand-overs that wait for this person's word, in one query."""
    waiting = AskedHandover.objects.filter(to=person, state=AskedHandover.State.ASKED)
    return list(waiting.select_related("by"))
