"""The verbs of the counter: log a drive, expect a parcel, finish an intake, refuse, correct.

``advance`` is the one door for stages, whichever room's verb asks.
"""

from __future__ import annotations

from labcases.cases.actions.correcting import CORRECTABLE, correct_item
from labcases.cases.actions.enquiring import end_enquiry, enquire, refuse
from labcases.cases.actions.posting import arrive, arrive_unknown, expect, name_owner, never_came
from labcases.cases.actions.refusals import NothingToTakeIn, NotYet, OwnerIsKnown, SomeoneWasFaster
from labcases.cases.actions.staging import advance, close_if_all_ended, end_item
from labcases.cases.actions.stopping import dispute, end_hold, hold_by_law, settle_dispute
from labcases.cases.actions.taking_in import complete_intake, log_drive, note_labelled, note_printed

__all__ = [
    "CORRECTABLE",
    "NotYet",
    "NothingToTakeIn",
    "OwnerIsKnown",
    "SomeoneWasFaster",
    "advance",
    "arrive",
    "arrive_unknown",
    "close_if_all_ended",
    "complete_intake",
    "correct_item",
    "dispute",
    "end_enquiry",
    "end_hold",
    "end_item",
    "enquire",
    "expect",
    "hold_by_law",
    "log_drive",
    "name_owner",
    "never_came",
    "note_labelled",
    "note_printed",
    "refuse",
    "settle_dispute",
]
