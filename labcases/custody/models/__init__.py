"""Things, the ledger of what happened to them, and what a thing says of itself."""

from __future__ import annotations

from labcases.custody.models.handing import AskedHandover, CustodyRules, StaffPin, Witness
from labcases.custody.models.ledger import Event, EventText, Head, KeptHead, LedgerCheck, TreeNode
from labcases.custody.models.line import Break, LineCheck
from labcases.custody.models.medium import SPINNING, Medium, MediumKind
from labcases.custody.models.photo import Photo, PhotoQuerySet
from labcases.custody.models.thing import Series, Thing, ThingQuerySet, Whereabouts

__all__ = [
    "SPINNING",
    "AskedHandover",
    "Break",
    "CustodyRules",
    "Event",
    "EventText",
    "Head",
    "KeptHead",
    "LedgerCheck",
    "LineCheck",
    "Medium",
    "MediumKind",
    "Photo",
    "PhotoQuerySet",
    "Series",
    "StaffPin",
    "Thing",
    "ThingQuerySet",
    "TreeNode",
    "Whereabouts",
    "Witness",
]
