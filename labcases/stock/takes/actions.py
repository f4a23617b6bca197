"""The verbs of a stocktake: begin, count, answer what differs, sign off, drop.

Counting writes no event: it is what people do for hours, several at once. What they find out does: each answer is a
real event of its thing, and signing off is one of the lab. Of two who scan one thing, one counts it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Case, CharField, Exists, F, OuterRef, Q, Value, When

from labcases.core import codes
from labcases.core.refused import Refused
from labcases.core.text import folded_serial
from labcases.custody.actions import case_of, record, recorded
from labcases.custody.models import Thing, Whereabouts
from labcases.lab.models import Actor, Entry, Place
from labcases.lab.roles import Right
from labcases.stock.takes.models import Stocktake, TakeLine, TakeLineQuerySet

Outcome, Answer = TakeLine.Outcome, TakeLine.Answer
NOT_KNOWN = Whereabouts()
MOST = 50_000
AT_ONCE = 1_000
SHORTEST = 6  # what is shorter is a piece of a code that was read badly
ANSWERS: dict[str, tuple[str, ...]] = {
    Outcome.EXPECTED: (Answer.MISSING, Answer.NOTED),
    Outcome.MISPLACED: (Answer.HERE, Answer.BACK),
    Outcome.UNEXPECTED: (Answer.HERE, Answer.BACK),
    Outcome.UNKNOWN: (Answer.NOTED,),
}


class TakeOver(Refused):
    """The stocktake was signed off or dropped."""


class TakenAlready(Refused):
    """Another stocktake counts this place."""


class NotSettled(Refused):
    """Something that differs has no answer."""


class NoCode(Refused):
    """What was typed cannot be a code that was read from a label."""


@recorded
def begin_take(*, places: Sequence[Place], by: Actor, happened: datetime, words: str = "") -> Stocktake:
    """Begin a stocktake: what the book says lies at these places is expected.

    Parts that are still on their donor count with it. Raises TakenAlready, or Refused for more than anybody counts.
    """
    by.must(Right.KEEP_STOCK)
    _must_be_free(places)
    rows = list(_lying_at(places).values_list("code", "pk", "place_id")[: MOST + 1])
    if len(rows) > MOST:
        raise Refused(f"More than {MOST:,} things lie there.", mend="Count fewer places at once.")
    take = Stocktake.objects.create(words=words, **Entry.stamp(by, happened))
    take.places.set(places)
    expected = {"take": take, "outcome": Outcome.EXPECTED}
    TakeLine.objects.bulk_create(
        [TakeLine(code=code, thing_id=thing, expected_at_id=place, **expected) for code, thing, place in rows],
        batch_size=AT_ONCE,
    )
    because = f"{take}: {len(rows)} expected at {', '.join(place.name for place in places)}"
    record("stocktake-begun", thing=None, by=by, happened=happened, because=because)
    return take


def _must_be_free(places: Sequence[Place]) -> None:
    if not places:
        raise Refused("Choose at least one place.")
    other = Stocktake.objects.filter(state=Stocktake.State.OPEN, places__in=places).first()
    if other:
        raise TakenAlready(f"{other} counts one of these places already.", mend="Go on with that one, or drop it.")


def _lying_at(places: Sequence[Place]) -> Any:
    on_its_donor = Q(kind=Thing.Kind.PART, donor_part__stripped=None)
    there = Thing.objects.filter(place__in=places).exclude(kind=Thing.Kind.DOCKET)
    return there.exclude(on_its_donor).order_by("code")


# --- counting ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Counted:
    """What came of a scan. ``fresh`` is whether it counted now; ``place`` is set when a place's own label was read."""

    sentence: str
    outcome: str = ""
    fresh: bool = False
    line: TakeLine | None = None
    place: Place | None = None

    @property
    def loud(self) -> bool:
        """Whether somebody should look up."""
        return self.outcome not in ("", Outcome.FOUND) or not (self.fresh or self.place)


def count(*, take: Stocktake, read: str, place: Place, by: Actor, happened: datetime) -> Counted:
    """Count what was read from a label: a code of ours, a serial that one thing has, or something unknown.

    The label of a place of this stocktake changes the place. Raises TakeOver when it is over, NoCode for a code of
    ours that was mistyped (that is no difference of the stock).
    """
    by.must(Right.MOVE)
    _must_be_open(take)
    try:
        code = codes.parse(read)
    except codes.MistypedCode as mistake:
        if mistake.mistake in (codes.Mistake.WRONG_CHECK, codes.Mistake.EMPTY):
            raise NoCode(str(mistake)) from None
        if len(codes.fold(read)) < SHORTEST:
            raise NoCode(f"“{read}” is too short for a code.", mend="Scan the label again.") from None
        return _count(take, read, _by_serial(read), place, by, happened)
    if code.series is codes.Series.PLACE:
        return _change_place(take, code.folded)
    thing = Thing.objects.filter(code=code.folded).first()
    return _count(take, code.folded, thing, place, by, happened)


def _must_be_open(take: Stocktake) -> None:
    if not Stocktake.objects.filter(pk=take.pk, state=Stocktake.State.OPEN).exists():
        raise TakeOver(f"{take} is over: nothing more is counted.", mend="Begin a new one.")


def _by_serial(read: str) -> Thing | None:
    key = folded_serial(read)
    found = list(Thing.objects.filter(serial_folded=key)[:2]) if len(key) >= 4 else []
    return found[0] if len(found) == 1 else None


def _change_place(take: Stocktake, code: str) -> Counted:
    place = take.places.filter(code=code).first()
    if place is None:
        return Counted(f"{codes.printed(code)} is no place of this stocktake.")
    return Counted(f"Counting in {place} now.", place=place)


@transaction.atomic
def _count(take: Stocktake, read: str, thing: Thing | None, place: Place, by: Actor, happened: datetime) -> Counted:
    key = thing.code if thing else (codes.fold(read)[:40] or read[:40])
    new = {"found_at": place, "counted": happened, "counted_by": by.staff}
    lines = TakeLine.objects.filter(take=take, code=key)
    if _claim(lines, place, new):
        return _said(lines.with_context().get(), fresh=True)
    outcome = Outcome.UNEXPECTED if thing else Outcome.UNKNOWN
    line, made = TakeLine.objects.get_or_create(
        take=take, code=key, defaults={"thing": thing, "outcome": outcome, **new}
    )
    if made:
        return _said(lines.with_context().get(), fresh=True)
    return _again(lines, line, place, new)


def _claim(lines: TakeLineQuerySet, place: Place, new: dict[str, object]) -> int:
    """Count an expected line that nobody has counted yet. One update decides."""
    outcome = Case(_as_the_book_says(place), default=Value(Outcome.MISPLACED.value))
    return lines.filter(found_at=None).update(outcome=outcome, answer="", **new)


def _as_the_book_says(place: Place) -> When:
    """Expected here, and the book still says so: nobody has answered meanwhile that it is missing or elsewhere."""
    still = Exists(Thing.objects.filter(pk=OuterRef("thing"), place=place))
    return When(Q(still, expected_at=place), then=Value(Outcome.FOUND.value))


def _again(lines: Iterable[TakeLine], line: TakeLine, place: Place, new: dict[str, object]) -> Counted:
    """Counted before: in the same place nothing changes; read in another one, it lies there now."""
    rows = TakeLine.objects.filter(pk=line.pk)
    if line.found_at_id == place.pk:
        return _said(rows.with_context().get(), fresh=False)
    there = _as_the_book_says(place)
    elsewhere = When(~Q(expected_at=None), then=Value(Outcome.MISPLACED.value))
    outcome = Case(there, elsewhere, default=F("outcome"), output_field=CharField())
    rows.update(outcome=outcome, answer="", **new)
    return _said(rows.with_context().get(), fresh=True)


def _said(line: TakeLine, *, fresh: bool) -> Counted:
    what = f"{line}{f', {line.thing.words}' if line.thing else ''}"
    if not fresh:
        return Counted(f"{what}: counted already, by {line.counted_by}.", line.outcome, False, line)
    says = {
        Outcome.FOUND: f"{what}: found.",
        Outcome.MISPLACED: f"{what}: lies in {line.found_at}, {_book(line)}.",
        Outcome.UNEXPECTED: f"{what}: not expected. The book says: {line.thing.whereabouts if line.thing else ''}.",
        Outcome.UNKNOWN: f"{what}: no thing of the lab has this code.",
    }
    return Counted(says[Outcome(line.outcome)], line.outcome, True, line)


def _book(line: TakeLine) -> str:
    if line.thing and line.expected_at_id == line.found_at_id:
        return f"and the book says: {line.thing.whereabouts}"
    return f"belongs in {line.expected_at}"


# --- answering and signing --------------------------------------------------------------------------------------------


@recorded
def answer(
    *, take: Stocktake, lines: Sequence[TakeLine], how: str, by: Actor, happened: datetime, because: str = ""
) -> int:
    """Answer what differs, each by a real event of its thing; gives how many were answered now.

    ``here``: it lies where it was found, from now on. ``missing``: nobody knows where it is.
    ``back``: it is carried back; ``noted``: no thing is concerned.
    Raises NotSettled for an answer that does not go with a line.
    """
    by.must(Right.KEEP_STOCK)
    _must_be_open(take)
    fresh = list(TakeLine.objects.with_context().filter(take=take, pk__in=[line.pk for line in lines], answer=""))
    for line in fresh:
        if how not in ANSWERS.get(line.outcome, ()):
            words = Answer(how).label
            raise NotSettled(f"{line} is {line.get_outcome_display()}: “{words}” is no answer to that.")
        if how == Answer.NOTED and not because:
            raise NotSettled(f"Say what is the matter with {line}.")
    done = [
        line for line in fresh if TakeLine.objects.filter(pk=line.pk, answer="").update(answer=how, because=because)
    ]
    for line in done:
        _put_right(take, line, how, by=by, happened=happened, because=because)
    return len(done)


def _put_right(take: Stocktake, line: TakeLine, how: str, *, by: Actor, happened: datetime, because: str) -> None:
    thing, found_at = line.thing, line.found_at
    if thing is None:
        return
    words = f"{take}. {because}".strip()
    same: dict[str, Any] = {"by": by, "happened": happened, "case": case_of(thing), "because": words}
    if how == Answer.HERE and found_at and thing.place_id != found_at.pk:
        now = Whereabouts(place=found_at)
        # Where the book knew nothing, nothing contradicts it: its line goes on from there.
        was = now if thing.whereabouts != NOT_KNOWN else NOT_KNOWN
        record("found", thing=thing, was=was, to=now, **same)
    elif how == Answer.MISSING:
        record("not-found", thing=thing, to=NOT_KNOWN, **same)


def unanswered(take: Stocktake) -> list[TakeLine]:
    """What differs and has no answer; what the book says was moved since the beginning needs none."""
    lines = take.lines.with_context().differing().filter(answer="")
    return [line for line in lines if not line.moved_meanwhile]


@recorded
def sign_off(*, take: Stocktake, by: Actor, happened: datetime, because: str = "") -> Stocktake:
    """Sign a stocktake off. Raises NotSettled while something that differs has no answer."""
    by.must(Right.KEEP_STOCK)
    _must_be_open(take)
    if left := unanswered(take):
        some = ", ".join(str(line) for line in left[:5]) + (" …" if len(left) > 5 else "")
        raise NotSettled(f"{len(left)} without an answer: {some}.", mend="Answer what differs first.")
    return _close(take, Stocktake.State.SIGNED, "stocktake-signed", by=by, happened=happened, because=because)


@recorded
def drop_take(*, take: Stocktake, by: Actor, happened: datetime, because: str) -> Stocktake:
    """Give a stocktake up. What was answered stays answered: those were real events."""
    by.must(Right.KEEP_STOCK)
    return _close(take, Stocktake.State.DROPPED, "stocktake-dropped", by=by, happened=happened, because=because)


def _close(take: Stocktake, state: str, kind: str, *, by: Actor, happened: datetime, because: str) -> Stocktake:
    if happened < take.happened:
        raise TakeOver(f"It was begun {take.happened:%d %b %Y, %H:%M} UTC: this lies before.")
    who = {"ended": happened, "ended_by": by.staff, "ended_role": by.role, "because": because}
    if not Stocktake.objects.filter(pk=take.pk, state=Stocktake.State.OPEN).update(state=state, **who):
        raise TakeOver(f"{take} is over already.", mend="Reload the page and look again.")
    counts = take.lines.counts()
    said = ", ".join(f"{number} {outcome}" for outcome, number in counts.items() if number)
    record(kind, thing=None, by=by, happened=happened, because=f"{take}: {said or 'nothing'}. {because}".strip())
    take.refresh_from_db()
    return take
