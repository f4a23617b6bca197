"""Two records of one customer become one, and two again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.apps import apps
from django.db.models import Model, QuerySet

from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.people.merging import comparing
from labcases.people.merging.models import PartyMerge
from labcases.people.merging.queries import Naming, namings
from labcases.people.models import Party

CHOSEN = ("name", "company", "phone", "email", "address", "country", "tax_number", "language", "channel", "note")
REACH = ("phone", "email", "address")
AT_ONCE = 500  # keys in one question to the database


class NotTwoRecords(Refused):
    """A record cannot go into itself."""


class HasGone(Refused):
    """One of the two has gone into another record already."""


class CannotPart(Refused):
    """A merge that is undone already, or that stands under a later one."""


@recorded
def merge(
    *, kept: Party, gone: Party, by: Actor, happened: datetime, because: str, chosen: Mapping[str, str] | None = None
) -> PartyMerge:
    """``gone`` is the same customer as ``kept``: everything that names it names the kept one from now on.

    ``chosen`` says for a field which record is right: kept, gone or both. The gone record keeps every word of its own.
    Raises NotTwoRecords for one record, HasGone when either went into another before.
    """
    by.must(Right.TAKE_IN)
    if kept.pk == gone.pk:
        raise NotTwoRecords("This is one and the same record.", mend="Choose the other record of this customer.")
    kept = _still_standing(kept)
    gone = _still_standing(gone)
    if not Party.objects.standing().filter(pk=gone.pk).update(merged_into=kept):
        raise _has_gone(gone)
    filled = _fill(kept, gone, chosen or {})
    made = PartyMerge.objects.create(
        kept=kept, gone=gone, because=because, filled=filled, moved=_move(gone, kept), **Entry.stamp(by, happened)
    )
    _find_anew(kept, gone)
    record("customers-merged", thing=None, by=by, happened=happened, to=kept, because=f"{made}; {because}")
    return made


@recorded
def part(*, merge: PartyMerge, by: Actor, happened: datetime, because: str) -> PartyMerge:
    """Undo a merge: what moved and still stands with the kept record goes back; what came to it since stays there.

    A field that was taken over and was changed since stays as it is. Raises CannotPart for a merge that is undone,
    or whose kept record has gone into a third one.
    """
    by.must(Right.TAKE_IN)
    kept = Party.objects.select_related("merged_into").get(pk=merge.kept_id)
    if kept.merged_into:
        raise CannotPart(
            f"{kept.name} has itself gone into the record of {kept.merged_into.name} since.",
            mend="Undo that merge first; this one can be undone after it.",
        )
    undone = {"undone": happened, "undone_by": by.staff, "undone_because": because}
    if not PartyMerge.objects.standing().filter(pk=merge.pk).update(**undone):
        raise CannotPart("This merge has been undone already.", mend="Reload the page and look again.")
    merge.refresh_from_db()
    gone = merge.gone
    Party.objects.filter(pk=gone.pk, merged_into=kept).update(merged_into=None)
    _move_back(merge)
    _empty(kept, merge.filled)
    _find_anew(kept, gone)
    record("customers-parted", thing=None, by=by, happened=happened, to=gone, because=f"{merge}; {because}")
    return merge


def _still_standing(party: Party) -> Party:
    """Read now, under the ledger's lock: the caller's copy may be older."""
    fresh: Party = Party.objects.select_related("merged_into").get(pk=party.pk)
    if fresh.merged_into:
        raise _has_gone(fresh)
    return fresh


def _has_gone(party: Party) -> HasGone:
    party.refresh_from_db()
    return HasGone(
        f"The record of {party.name} has gone into that of {party.merged_into}.",
        mend=f"Open {party.merged_into} and go on from there, or undo that merge first.",
    )


def _move(gone: Party, kept: Party) -> list[dict[str, Any]]:
    """Everything that names the gone record names the kept one; gives what was moved."""
    return [entry for naming in namings() if (entry := _move_one(naming, gone, kept))["keys"]]


def _move_one(naming: Naming, gone: Party, kept: Party) -> dict[str, Any]:
    rows = naming.model._base_manager.filter(**{naming.field: gone})
    if naming.model is Party:
        rows = rows.exclude(pk=gone.pk)  # which has just been told where it goes
    keys = list(rows.order_by("pk").values_list("pk", flat=True))
    rows.update(**{naming.field: kept})
    return {"model": naming.model._meta.label, "field": naming.field, "keys": keys}


def _move_back(merge: PartyMerge) -> None:
    for entry in merge.moved:
        model, field, keys = apps.get_model(entry["model"]), entry["field"], entry["keys"]
        for start in range(0, len(keys), AT_ONCE):
            _still_with(model, field, keys[start : start + AT_ONCE], merge).update(**{field: merge.gone})


def _still_with(model: type[Model], field: str, keys: Sequence[Any], merge: PartyMerge) -> QuerySet[Any]:
    return model._base_manager.filter(pk__in=keys, **{field: merge.kept})


def _fill(kept: Party, gone: Party, chosen: Mapping[str, str]) -> dict[str, list[str]]:
    """Write what was chosen from the gone record into the kept one."""
    wanted = {name: choice for name, choice in chosen.items() if name in CHOSEN}
    filled = comparing.filled(said(kept), said(gone), wanted)
    _write(kept, {name: after for name, (_, after) in filled.items()})
    return filled


def _empty(kept: Party, filled: Mapping[str, Sequence[str]]) -> None:
    """Take back what the merge wrote and nobody changed since, unless nobody could reach them then."""
    back = {name: before for name, (before, after) in filled.items() if getattr(kept, name) == after}
    if not any(back.get(name, getattr(kept, name)) for name in REACH):
        back = {name: before for name, before in back.items() if name not in REACH}
    _write(kept, back)


def _write(party: Party, values: Mapping[str, str]) -> None:
    for name, value in values.items():
        setattr(party, name, value)
    if values:
        party.save(update_fields=list(values))


def _find_anew(*parties: Party) -> None:
    for party in parties:
        party.keep_words()


def said(party: Party) -> dict[str, str]:
    """The fields of a record that may differ, as they stand."""
    return {name: getattr(party, name) for name in CHOSEN}
