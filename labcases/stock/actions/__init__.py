"""The verbs of the stockroom: take into stock, assign, release, judge after use, retire.

Claims are conditional updates, the same on both engines: of two people who press at once one wins, and the other is
told who was faster.
"""

from __future__ import annotations

from labcases.stock.actions.media import assign_destination, fit, give_out, release_destination, retire
from labcases.stock.actions.owned import note_consent
from labcases.stock.actions.parts import assign_donor, judge, judge_part, release_part
from labcases.stock.actions.refusals import (
    Changed,
    DestinationTaken,
    DoesNotFit,
    NotAMatch,
    NotNow,
    PartTaken,
    SerialTwice,
)
from labcases.stock.actions.stocking import (
    change_destination,
    change_donor,
    keep_family,
    labelled,
    list_part,
    note_test,
    stock_destination,
    stock_destinations,
    stock_donor,
)

__all__ = [
    "Changed",
    "DestinationTaken",
    "DoesNotFit",
    "NotAMatch",
    "NotNow",
    "PartTaken",
    "SerialTwice",
    "assign_destination",
    "assign_donor",
    "change_destination",
    "change_donor",
    "fit",
    "give_out",
    "judge",
    "judge_part",
    "keep_family",
    "labelled",
    "list_part",
    "note_consent",
    "note_test",
    "release_destination",
    "release_part",
    "retire",
    "stock_destination",
    "stock_destinations",
    "stock_donor",
]
