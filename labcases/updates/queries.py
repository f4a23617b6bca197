"""Reads for talking to customers: wordings filled for a case, the docket's messages, what the office still owes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, Max, Q, QuerySet
from django.db.models.functions import Coalesce
from django.http import Http404, HttpRequest
from django.utils import timezone

from labcases.cases.models import Case, Item, StageStamp
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage
from labcases.core import clock
from labcases.core.money import Money
from labcases.lab.models import Profile, Staff
from labcases.people.models import Party
from labcases.updates import defaults, tasks, wordings
from labcases.updates.models import Message, Wording

READY = "ready"  # the wording, or the subject of a call, that says a thing is ready
QUIET_DAYS = 7  # common practice, no source: who heard nothing for a week is told so
SHOWN, FRONT = 50, 25
NAMED_ITEMS = 3


# --- wordings ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Words:
    """A wording as it counts now: the lab's own, or a default that nobody changed."""

    key: str
    language: str
    title: str
    subject: str
    body: str
    in_use: bool = True
    own: Wording | None = None

    @property
    def has_default(self) -> bool:
        return self.language == defaults.LANGUAGE and self.key in defaults.BY_KEY


def all_wordings() -> list[Words]:
    """Every wording, the defaults in the order of the work, then the lab's own by title."""
    own = {(row.key, row.language): row for row in Wording.objects.order_by("title", "language")}
    listed = [_words(own.pop((default.key, defaults.LANGUAGE), None), default) for default in defaults.DEFAULTS]
    return [*listed, *(_words(row) for row in own.values())]


def wording(key: str, language: str) -> Words:
    """One wording for its page; 404 with a sentence when there is none."""
    row = Wording.objects.filter(key=key, language=language).first()
    default = defaults.BY_KEY.get(key) if language == defaults.LANGUAGE else None
    if row is None and default is None:
        raise Http404("There is no such wording.")
    return _words(row, default)


def _words(row: Wording | None, default: defaults.Default | None = None) -> Words:
    if row is not None:
        return Words(row.key, row.language, row.title, row.subject, row.body, row.in_use, row)
    if default is None:
        raise ValueError("A wording is a row or a default.")
    return Words(default.key, defaults.LANGUAGE, default.title, default.subject, default.body)


def wordings_for(case: Case) -> list[Words]:
    """What the staff choose from: one a key, in the owner's language where there is one."""
    wanted = [case.owner.language, case.owner.language.partition("-")[0], defaults.LANGUAGE]
    best: dict[str, Words] = {}
    for words in (w for w in all_wordings() if w.in_use):
        rank = wanted.index(words.language) if words.language in wanted else len(wanted)
        now = best.get(words.key)
        if now is None or rank < (wanted.index(now.language) if now.language in wanted else len(wanted)):
            best[words.key] = words
    return list(best.values())


@dataclass(frozen=True)
class Draft:
    """A mail before anybody touched it."""

    wording: str = ""
    to: str = ""
    subject: str = ""
    body: str = ""


def draft(case: Case, choice: list[Words], key: str | None, by: Staff) -> Draft:
    """The mail that the wording ``key`` makes of this case; what fits its stage when None, empty when unknown."""
    if key is None:
        key = defaults.FITTING.get(case.stage, "")
    to = reader(case).email
    words = next((words for words in choice if words.key == key), None)
    if words is None:
        return Draft(to=to)
    values = gap_values(case, by)
    subject, body = (wordings.fill(text, values).text for text in (words.subject, words.body))
    return Draft(words.key, to, subject, body)


def reader(case: Case) -> Party:
    """Whom to write to unless said otherwise: the owner; the bearer where papers go out without our letterhead."""
    return case.owner if case.letterhead else case.bearer


def addresses(case: Case) -> list[tuple[str, str]]:
    """Who of a case can be written to: (who they are, address), each address once."""
    people = (("owner", case.owner), ("brought it", case.bearer), ("pays", case.payer))
    found: dict[str, str] = {}
    for role, party in people:
        if party.email:
            found.setdefault(party.email, f"{party.name}, {role}")
    return [(words, address) for address, words in found.items()]


def gap_values(case: Case, by: Staff) -> dict[str, str]:
    """What the records say for each gap; what they do not know is empty. ``wordings.GAPS`` names them all."""
    profile, items = Profile.current(), list(Item.objects.filter(case=case).select_related("thing"))
    came = any(item.stage not in (Stage.EXPECTED, Stage.NEVER_CAME) for item in items)
    return {
        "reader": reader(case).name,
        "owner": case.owner.name,
        "case": str(case),
        "what": _what(items),
        "wanted": "\n".join(f"- {line.what}" for line in case.wanted.all()),
        "received": clock.long_day(timezone.localtime(case.happened).date()) if came else "",
        "promised": clock.long_day(case.promised) if case.promised else "",
        "balance": _balance(case, items),
        "keep_days": str(profile.keep_days),
        "lab": profile.name,
        "lab_address": profile.address,
        "lab_phone": profile.phone,
        "lab_email": profile.email,
        "by": by.name,
        "signature": "\n".join(filter(None, [by.name, profile.name, profile.phone, profile.email])),
    }


def _what(items: Sequence[Item]) -> str:
    named = [item.medium_words for item in items[:NAMED_ITEMS]]
    rest = len(items) - len(named)
    return "; ".join([*named, f"and {rest} more"] if rest else named)


def _balance(case: Case, items: Sequence[Item]) -> str:
    """The balance is the case's: each of its items tells the same."""
    owed = next((facts.balance for facts in facts_for(items[:1]).values()), 0)
    return Money(owed, case.currency).words() if owed > 0 else "nothing"


# --- the docket -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class MessagesSection:
    """The docket's section Messages: the newest first, and how many there are."""

    messages: list[Message]
    count: int

    @property
    def older(self) -> int:
        return self.count - len(self.messages)


def messages_of(case: Case) -> MessagesSection:
    """Everything that was said to and by the customer, newest first."""
    listed = case.messages.select_related("by").order_by("-happened", "-pk")
    shown = list(listed[:SHOWN])
    return MessagesSection(shown, len(shown) if len(shown) < SHOWN else listed.count())


def facts(items: Sequence[Item]) -> Mapping[int, Mapping[str, Any]]:
    """``told_ready``: since the item became ready, the customer was told so, or a mail that says it is under way."""
    ready = dict(
        StageStamp.objects.filter(item__in=[i.pk for i in items], stage=Stage.READY)
        .order_by()
        .values_list("item")
        .annotate(Max("happened"))
    )
    told = _last_told({item.case_id for item in items if item.pk in ready})
    return {item.pk: {"told_ready": _told_since(told.get(item.case_id), ready.get(item.pk))} for item in items}


def _last_told(cases: Iterable[int]) -> dict[int, datetime]:
    told = Message.objects.reached_or_under_way().filter(case__in=cases, wording=READY, incoming=False)
    return dict(told.order_by().values_list("case").annotate(Max("happened")))


def _told_since(told: datetime | None, ready: datetime | None) -> bool:
    """By the minute, as forms take moments: both may be entered later from the same note."""
    return told is not None and ready is not None and told >= ready.replace(second=0, microsecond=0)


# --- the office -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Unsent:
    """What should have gone out and has not, and why none goes out when that is so."""

    messages: list[Message]
    count: int
    hindrance: str


def unsent(request: HttpRequest) -> Unsent:
    """The mails that wait or failed, failed ones first."""
    listed = Message.objects.unsent().select_related("case__thing", "case__owner", "by").order_by("state", "due", "pk")
    shown = list(listed[:FRONT])
    return Unsent(shown, len(shown) if len(shown) < FRONT else listed.count(), tasks.hindrance())


@dataclass(frozen=True)
class Quiet:
    """Open cases whose customer heard nothing for a week; each case has its moment as ``last_word``."""

    cases: list[Case]
    count: int
    days: int = QUIET_DAYS


def quiet(request: HttpRequest) -> Quiet:
    """Who waits longest for a word comes first."""
    listed = nothing_heard_since(timezone.now() - timedelta(days=QUIET_DAYS))
    shown = list(listed[:FRONT])
    return Quiet(shown, len(shown) if len(shown) < FRONT else listed.count())


def nothing_heard_since(moment: datetime) -> QuerySet[Case]:
    """Open cases without a word since then, from when they came if there never was one."""
    lost = [Message.State.FAILED, Message.State.UNSENT]
    words = Max("messages__happened", filter=~Q(messages__state__in=lost))
    silent = Case.objects.still_open().annotate(last_word=Coalesce(words, F("happened")))
    return silent.filter(last_word__lt=moment).select_related("thing", "owner").order_by("last_word", "pk")


def outbox() -> QuerySet[Message]:
    """Every message with what a row of the list prints, newest first."""
    return Message.objects.select_related("case__thing", "case__owner", "by", "attached").order_by("-pk")
