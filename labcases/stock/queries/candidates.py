"""Candidates for a patient: parts in the order of ``matching.rank``, media in the order of ``fitting.best``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Case, F, IntegerField, Q, Value, When
from django.db.models.functions import Lower, Replace

from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.core.text import folded_serial
from labcases.stock import fitting, matching
from labcases.stock.actions.media import QUESTIONS, need_of
from labcases.stock.models import Destination, DestinationAssignment, DonorPart, Family, PartAssignment
from labcases.stock.queries.inside import with_families
from labcases.stock.rules import RULES, Comparator, Level, PartKind, Rule, fold

JUDGED = 2_000  # no more rows than this are judged for one page
SHOWN = 6
HELD = 200
NEAR_MISSES = 5
WHY_NOT = 6
_TEXTS = frozenset({"maker", "model", "serial", "firmware", "interface", "plant", "board_number", "preamplifier"})
SEPARATORS = " -._/,:#*+()\N{EN DASH}\N{NON-BREAKING HYPHEN}"  # what stands between groups on labels
_NUMBERS = frozenset({"sectors", "heads", "platters"})


def wanted_part(item: Item) -> PartKind:
    """The part that the newest findings ask for, or the one that most often is (common practice, no source)."""
    asked = facts_for([item])[item.pk].needs_part.casefold()
    named = next((kind for kind in PartKind if kind.casefold() in asked), None)
    return named or (PartKind.HEAD_STACK if item.spinning else PartKind.WHOLE_TWIN)


@dataclass(frozen=True)
class PartCandidate:
    """A part as ``matching.rank`` wants it, with its row."""

    part: DonorPart
    traits: Any
    cost_minor: int | None
    missed: float = 0.0
    success: float | None = None

    @property
    def key(self) -> int:
        return self.part.pk


@dataclass(frozen=True)
class Taken:
    """A part that would suit and serves somebody else."""

    part: DonorPart
    verdict: matching.Verdict
    serves: PartAssignment | None


@dataclass(frozen=True)
class Match:
    """The match page: the best ``shown`` of ``found``, and who holds what would suit as well."""

    kind: PartKind
    shown: list[matching.Ranked[PartCandidate]]
    found: int
    excluded: int
    capped: bool
    held: list[Taken]
    free_of_kind: int

    @property
    def more(self) -> int:
        return self.found - len(self.shown)

    @property
    def lines(self) -> list[tuple[matching.Reason, list[matching.Reason]]]:
        """The comparison attribute by attribute: the patient's reason of the first, and everybody's."""
        columns = [ranked.verdict.reasons for ranked in self.shown[:3]]
        return [(rows[0], list(rows)) for rows in zip(*columns, strict=True)] if columns else []


def match(item: Item, kind: PartKind, *, shown: int = SHOWN, excluded: bool = False) -> Match:
    """Free parts of this kind for this patient, best first; what a must excludes only when asked for."""
    free = _with_bare(DonorPart.objects.free().filter(part=kind), RULES[kind])
    narrowed = free if excluded else free.filter(not_known_to_differ(item, RULES[kind]))
    rows = list(by_likeness(narrowed, item, RULES[kind]).with_context()[: JUDGED + 1])
    ranked = _rank(item, kind, rows[:JUDGED])
    kept = ranked if excluded else [one for one in ranked if not one.verdict.excluded]
    count = free.count()
    return Match(
        kind=kind,
        shown=kept[:shown],
        found=len(kept),
        excluded=count - len(kept),
        capped=len(rows) > JUDGED,
        held=_held(item, kind),
        free_of_kind=count,
    )


def _rank(item: Item, kind: PartKind, rows: Sequence[DonorPart]) -> list[matching.Ranked[PartCandidate]]:
    with_families(row.donor for row in rows)
    candidates = [PartCandidate(row, row.traits(), row.cost_minor) for row in rows]
    return matching.rank(item.traits(), candidates, RULES[kind])


def _held(item: Item, kind: PartKind) -> list[Taken]:
    """The best of those that serve another patient now."""
    taken = _with_bare(DonorPart.objects.filter(part=kind, state=DonorPart.State.ASSIGNED), RULES[kind])
    taken = taken.filter(not_known_to_differ(item, RULES[kind])).exclude(assignments__in=_standing(item))
    ranked = _rank(item, kind, list(by_likeness(taken, item, RULES[kind]).with_context()[:HELD]))
    best = [one for one in ranked if not one.verdict.excluded][:NEAR_MISSES]
    standing = PartAssignment.objects.filter(ended=None, part__in=[one.candidate.key for one in best])
    serves = {row.part_id: row for row in standing.select_related("item__thing", "item__case__thing", "by")}
    return [Taken(one.candidate.part, one.verdict, serves.get(one.candidate.key)) for one in best]


def _standing(item: Item) -> Any:
    return PartAssignment.objects.filter(item=item, ended=None)


def not_known_to_differ(item: Item, rules: Sequence[Rule]) -> Q:
    """What the database can leave out: where a must is known of both, and differs. Unknown and near are kept."""
    kept = Q()
    for rule in rules:
        if rule.level is Level.MUST and (alike := _alike(item, rule)):
            kept &= alike | _unknown(rule.attribute)
    return kept


def by_likeness(parts: Any, item: Item, rules: Sequence[Rule]) -> Any:
    """The likeliest first, so that what is not judged where there is too much is the least like it.

    ``parts`` have their bare columns.
    """
    score: Any = Value(0)
    for rule in rules:
        if alike := _alike(item, rule):
            weight = Value(int(rule.weight))
            score = score + Case(When(alike, then=weight), default=Value(0), output_field=IntegerField())
    return parts.annotate(likeness=score).order_by("-likeness", "pk")


def _with_bare(parts: Any, rules: Sequence[Rule]) -> Any:
    """``bare_<name>``: the texts that are compared, in small letters and without what separates groups on labels."""
    names = {rule.attribute for rule in rules if rule.comparator is Comparator.EQUAL} & _TEXTS
    return parts.alias(**{f"bare_{name}": _bare(F(f"donor__{name}")) for name in names})


def _bare(column: Any) -> Any:
    for mark in SEPARATORS:
        column = Replace(column, Value(mark), Value(""))
    return Lower(column)


def _alike(item: Item, rule: Rule) -> Q | None:
    """The condition under which this rule finds both values the same or near; None where SQL cannot say."""
    name, value = rule.attribute, getattr(item, rule.attribute, None)
    if not value:
        return None
    if name == "family" and rule.comparator is Comparator.ONE_OF:
        return Q(donor__family__in=_families_called(str(value)))
    if rule.comparator is not Comparator.EQUAL:
        return None
    if name in _NUMBERS:
        return Q(**{f"donor__{name}": value})
    bare = "".join(character for character in fold(str(value)) if character not in SEPARATORS)
    # A database folds case in ASCII only, and odd marks are not looked for: such values are judged one by one.
    return Q(**{f"bare_{name}": bare}) if name in _TEXTS and bare.isascii() and bare.isalnum() else None


def _families_called(name: str) -> list[int]:
    """Families of this name, however it is written: there are few families."""
    wanted = folded_serial(name)
    return [pk for pk, other in Family.objects.order_by().values_list("pk", "name") if folded_serial(other) == wanted]


def _unknown(name: str) -> Q:
    column = f"donor__{name}"
    return Q(**{column: None}) if name == "family" or name in _NUMBERS else Q(**{column: ""})


# --- somewhere to copy to -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Room:
    """A medium, the answer about it, and the patient it serves now, if any."""

    medium: Destination
    fit: fitting.Fit
    serves: str = ""


@dataclass(frozen=True)
class Rooms:
    """Media that fit, the smallest first; and why others do not."""

    use: str
    shown: list[Room]
    found: int
    need: fitting.Need
    why_not: list[Room] = field(default_factory=list)

    @property
    def more(self) -> int:
        return self.found - len(self.shown)


def rooms(item: Item, use: str, *, shown: int = SHOWN, planned: bool = False) -> Rooms:
    """Somewhere to copy to (or to deliver on) for this patient, or for what its plan reads."""
    need, asked = need_of(item, planned=planned), QUESTIONS[Destination.Use(use)]
    media = Destination.objects.with_context().with_bytes().filter(use=use)
    serving = DestinationAssignment.objects.filter(ended=None).values("destination")
    free = media.assignable_to(item.case).exclude(pk__in=serving)
    if use == Destination.Use.CLONE:
        wanted = need.bytes if need.planned_bytes is None else need.planned_bytes
        free = free.filter(capacity__gte=wanted) if wanted else free.none()
    rows = {row.pk: row for row in free.order_by("capacity", "pk")[:JUDGED]}
    answers = fitting.best(need, (row.room() for row in rows.values()), asked=asked)
    fits = [Room(rows[answer.key], answer) for answer in answers]
    return Rooms(use, fits[:shown], len(fits), need, _why_not(media, need, asked))


def _why_not(media: Any, need: fitting.Need, asked: Any) -> list[Room]:
    """The nearest of those that do not: first the large enough ones that are held, then the largest too small."""
    others = media.with_serving().exclude(state__in=[Destination.State.RETIRED, Destination.State.GONE])
    held = others.exclude(state__in=Destination.CLEAN).filter(capacity__gte=need.bytes or 0).order_by("capacity", "pk")
    small = others.filter(state__in=Destination.CLEAN, capacity__lt=need.bytes or 0).order_by("-capacity", "pk")
    nearest = [*held[:WHY_NOT], *(small[:WHY_NOT] if asked is fitting.fits else ())]
    answers = [Room(row, asked(need, row.room()), row.serves or "") for row in nearest]
    return [answer for answer in answers if not answer.fit.fits][:WHY_NOT]
