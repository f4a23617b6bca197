"""Plays counter and office beside the cases: a paper pad, customers merged, old records, computers, a lost mail."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from labcases.api.actions import admit, revoke
from labcases.cases import actions as counter
from labcases.cases.pads.actions import note_pad_printed, reserve_pad, void_sheet
from labcases.demo import desk_told as told
from labcases.demo import people
from labcases.demo.clock import quietly, set_to
from labcases.demo.days import Days
from labcases.demo.shelves_days import bring_table
from labcases.people.actions import remember
from labcases.people.merging.actions import merge
from labcases.people.models import Party
from labcases.updates.actions import note_call, send_update
from labcases.updates.tasks import send_waiting


def furnish(days: Days) -> None:
    """A pad for days without power, old records, and the computers that may tell what they do."""
    moment = days.ago(60)
    sheets = days.do(moment, reserve_pad, "counter", count=told.PAD_SHEETS)
    note_pad_printed(pad=sheets[0].pad, happened=moment)
    days.do(days.ago(58), void_sheet, "counter", reserved=sheets[-1], because=told.SPOILT)
    bring_table(days, "records", told.OLD_RECORDS, "old-book.csv", days.ago(87), who="manager")
    for name, scopes, gone in told.COMPUTERS:
        computer, _ = days.do(days.ago(80), admit, "manager", name=name, scopes=scopes)
        if gone:
            days.do(days.ago(30), revoke, "manager", computer=computer, because=gone)


def play(days: Days) -> None:
    _enquiries(days)
    _customers(days)
    _mail(days)


def _enquiries(days: Days) -> None:
    for ago, refused, said in told.ENQUIRIES:
        days.do(days.ago(ago), counter.refuse if refused else counter.enquire, "counter", **said)


def party(told: tuple[str, str, str, str], n: int, **more: Any) -> Party:
    """One of the people of the invented lab; ``n`` makes the address of the mail."""
    name, company, digits, address = told
    return remember(
        name=name, company=company, phone=people.phone(digits), email=people.mail(name, n), address=address, **more
    )


def _customers(days: Days) -> None:
    """One who had written herself in twice, and two records of which nobody has said yet whether they are one."""
    kept = days.case("recipes").owner
    with set_to(days.ago(8), timezone):
        gone = party(told.WROTE_HERSELF, 71)
        party(told.LIKELY_TWIN, 72)
    about = {"kept": kept, "gone": gone, "because": told.MERGED_BECAUSE}
    days.do(days.ago(7), merge, "counter", **about)


def _mail(days: Days) -> None:
    """A mail to an address that nobody has comes back; somebody rings instead."""
    key, to, subject, body = told.BOUNCED
    moment = days.since(key, 0.4)
    days.do(moment, send_update, "counter", case=days.case(key), to=to, subject=subject, body=body)
    with set_to(moment, timezone), quietly("labcases.updates.tasks"):
        send_waiting()
    days.do(days.since(key, 0.6), note_call, "counter", case=days.case(key), **told.CALLED)
