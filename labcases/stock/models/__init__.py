"""What stands in the stockroom, and what was assigned to whom.

What can never be false: a part serves one patient at a time; a destination holds one case's data at a time, and is
not assigned to another before its wipe is on record; what is retired or used up is never assigned.
"""

from __future__ import annotations

from labcases.stock.models.buying import EarlierOrder, Need
from labcases.stock.models.donors import Donor, DonorPart, PartAssignment
from labcases.stock.models.families import Family, FamilyAlias, FamilySize
from labcases.stock.models.media import ConsentPaper, Destination, DestinationAssignment
from labcases.stock.models.ruling import LabelCode, RuleSet
from labcases.stock.pools.models import Pool, PoolImage
from labcases.stock.takes.models import Stocktake, TakeLine
from labcases.stock.wiping.models import HealthCheck, Wipe

__all__ = [
    "ConsentPaper",
    "Destination",
    "DestinationAssignment",
    "Donor",
    "DonorPart",
    "EarlierOrder",
    "Family",
    "FamilyAlias",
    "FamilySize",
    "HealthCheck",
    "LabelCode",
    "Need",
    "PartAssignment",
    "Pool",
    "PoolImage",
    "RuleSet",
    "Stocktake",
    "TakeLine",
    "Wipe",
]
