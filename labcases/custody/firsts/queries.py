"""Which things have had nothing happen to them since they came in."""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, OuterRef

from labcases.custody.firsts.beginning import BROUGHT_IN
from labcases.custody.models import Event


def since_they_came(things: Any) -> Any:
    """Those of ``things`` that the ledger says more of than how they came in."""
    first = Event.objects.filter(sequence=OuterRef("last_event"), kind=BROUGHT_IN)
    return things.exclude(last_event=0).exclude(Exists(first))
