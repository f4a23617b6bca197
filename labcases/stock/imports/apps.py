"""What of the stockroom comes in from tables: made known when the room starts."""

from __future__ import annotations

from typing import Any

from labcases.imports import kinds
from labcases.lab.roles import Right
from labcases.stock.actions.buying import offer_batch
from labcases.stock.imports import actions, fields, queries
from labcases.stock.models import Destination, Donor

KEEPS = (
    "What is in stock already is known by its code or its serial, and corrected where a row says something else; "
    "empty cells leave what is known."
)


def register() -> None:
    """Donors with their parts, and destinations."""
    words = dict(queries.KIND_WORDS)
    shared: dict[str, Any] = {"place": "Stockroom", "right": Right.KEEP_STOCK, "key_words": "This serial or code"}
    shared |= {"used": queries.used, "clear": actions.clear, "things": queries.things}
    kinds.add(
        kinds.Kind(
            key="donors", title="Donors and their parts", unit="donor", lead=f"One row a donor. {KEEPS}",
            fields=fields.donor_fields(words), shown_at="stock:parts", judge=queries.judge_donors,
            write=actions.write_donors, change=actions.change_one_donor,
            last_events=queries.last_events_of(Donor), shown=offer_batch, **shared,
        )
    )  # fmt: skip
    kinds.add(
        kinds.Kind(
            key="media", title="Destinations and delivery media", unit="medium", lead=f"One row a medium. {KEEPS}",
            fields=fields.media_fields(words), shown_at="stock:destinations", judge=queries.judge_media,
            write=actions.write_media, change=actions.change_one_medium,
            last_events=queries.last_events_of(Destination), **shared,
        )
    )  # fmt: skip
