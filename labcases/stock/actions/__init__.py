"""The verbs of the stockroom: take into stock, assign, release, judge after use, retire.

Claims are conditional updates, the same on both engines: of two people who press at once one wins, and the other is
told who was faster.
"""

from __future__ import annotations

from labcases.stock.actions.buying import (
    drop_need,
    offer_to_needs,
    order_need,
    raise_need,
    receive_need,
    send_back,
    send_earlier_back,
    wrong_inside,
)
from labcases.stock.actions.donors import correct_part, note_test, scrap_donor, strip_part
from labcases.stock.actions.media import assign_destination, fit, give_out, release_destination, retire
from labcases.stock.actions.owned import note_consent
from labcases.stock.actions.parts import (
    asked_before,
    assign_donor,
    end_reservation,
    judge,
    judge_part,
    release_part,
    reserve_part,
)
from labcases.stock.actions.refusals import (
    AskedFirst,
    Changed,
    DestinationTaken,
    DoesNotFit,
    NotAMatch,
    NotNow,
    PartReserved,
    PartTaken,
    SerialTwice,
)
from labcases.stock.actions.ruling import keep_label_code, keep_rules
from labcases.stock.actions.stocking import (
    change_destination,
    change_donor,
    keep_family,
    labelled,
    list_part,
    stock_destination,
    stock_destinations,
    stock_donor,
)

__all__ = [
    "AskedFirst",
    "Changed",
    "DestinationTaken",
    "DoesNotFit",
    "NotAMatch",
    "NotNow",
    "PartReserved",
    "PartTaken",
    "SerialTwice",
    "asked_before",
    "assign_destination",
    "assign_donor",
    "change_destination",
    "change_donor",
    "correct_part",
    "drop_need",
    "end_reservation",
    "fit",
    "give_out",
    "judge",
    "judge_part",
    "keep_family",
    "keep_label_code",
    "keep_rules",
    "labelled",
    "list_part",
    "note_consent",
    "note_test",
    "offer_to_needs",
    "order_need",
    "raise_need",
    "receive_need",
    "release_destination",
    "release_part",
    "reserve_part",
    "retire",
    "scrap_donor",
    "send_back",
    "send_earlier_back",
    "stock_destination",
    "stock_destinations",
    "stock_donor",
    "strip_part",
    "wrong_inside",
]
