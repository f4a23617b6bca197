"""The form of an array: what holds for all of it, and a line of fields for each item of the case."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.html import format_html

from labcases.bench.arrays.actions import Found
from labcases.bench.arrays.models import ArrayFinding
from labcases.cases.models import Case, Item
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField

WHOLE = ("level", "members", "stripe_sectors", "parity", "copies")
OF_MEMBER = {"place": "Place", "slot": "Slot", "offset": "Data begins at sector", "state": "Its copy"}
MOST_OF_A_PIECE = 4 << 20
STATES = [("good", "usable"), ("stale", "stale: dropped out earlier"), ("unusable", "copy cannot be used")]


class ArrayForm(LabForm):
    level = forms.ChoiceField(label="Level", choices=ArrayFinding.Level.choices)
    members = CountField(label="Members it was made of", min_value=1, max_value=999)
    stripe_sectors = CountField(label="Stripe unit, sectors", required=False, max_value=2**31 - 1)
    parity = LineField(label="How parity rotates", required=False, max_length=40)
    copies = CountField(label="Copies, when mirrored", min_value=2, max_value=99, initial=2)
    note = ProseField(label="Note", required=False, rows=2)
    happened = HappenedField()

    def __init__(self, *args: Any, case: Case, last: ArrayFinding | None = None, **kwargs: Any) -> None:
        """It starts with what was found ``last``: a further finding mostly corrects one number."""
        super().__init__(*args, **kwargs)
        self.initial = {**_as_found(last), **(self.initial or {})}
        self.items = list(case.items.select_related("thing"))
        for item in self.items:
            self._add(item, "place", CountField(required=False, max_value=998, help_text="From 0. Empty: no member."))
            self._add(item, "slot", LineField(required=False, max_length=40, initial=item.slot))
            self._add(item, "offset", CountField(required=False, max_value=2**63 - 1))
            self._add(item, "state", forms.ChoiceField(choices=STATES))
        self.order_fields([*[f for f in self.fields if f not in ("note", "happened")], "note", "happened"])

    def _add(self, item: Item, name: str, field: forms.Field) -> None:
        field.label = format_html('{}<span class="unseen"> of {}</span>', OF_MEMBER[name], item)
        self.fields[f"{name}-{item.pk}"] = field

    @property
    def whole(self) -> list[Any]:
        """The fields that speak of the whole array."""
        return [self[name] for name in WHOLE]

    @property
    def rows(self) -> list[tuple[Item, list[Any]]]:
        """The fields of each item."""
        return [(item, [self[f"{name}-{item.pk}"] for name in OF_MEMBER]) for item in self.items]

    def found(self) -> list[Found]:
        """The items that were given a place."""
        said = self.cleaned_data
        return [
            Found(
                place=said[f"place-{item.pk}"], item=item, slot=said[f"slot-{item.pk}"],
                offset_sectors=said[f"offset-{item.pk}"] or 0, stale=said[f"state-{item.pk}"] == "stale",
                usable=said[f"state-{item.pk}"] != "unusable",
            )
            for item in self.items
            if said[f"place-{item.pk}"] is not None
        ]  # fmt: skip


def _as_found(last: ArrayFinding | None) -> dict[str, Any]:
    if last is None:
        return {}
    known: dict[str, Any] = {name: getattr(last, name) for name in WHOLE}
    for one in last.found.all():
        state = "unusable" if not one.usable else "stale" if one.stale else "good"
        values = zip(OF_MEMBER, (one.place, one.slot, one.offset_sectors, state), strict=True)
        known |= {f"{name}-{one.item_id}": value for name, value in values}
    return known


class CheckForm(LabForm):
    """The same stretch of each member's copy (fields ``piece-<place>``)."""

    where = LineField(
        label="Which stretch",
        max_length=100,
        required=False,
        help_text="For example: 1 MiB from the beginning of data.",
    )
    happened = HappenedField()

    def __init__(self, *args: Any, finding: ArrayFinding, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        items = {one.place: one.item for one in finding.found.all()}
        self.places = range(finding.members)
        for place in self.places:
            whose = f", {items[place]}" if items.get(place) else ""
            self.fields[f"piece-{place}"] = PieceField(label=f"Place {place}{whose}")
        self.order_fields([*(f"piece-{place}" for place in self.places), "where", "happened"])
        self.unhashed = frozenset(f"piece-{place}" for place in self.places)

    def pieces(self) -> dict[int, bytes]:
        return {place: self.cleaned_data[f"piece-{place}"] for place in self.places}


class PieceField(forms.FileField):
    """A piece of a copy, read whole."""

    def __init__(self, **kwargs: Any) -> None:
        missing = {"required": "Give the piece of this copy.", "empty": "This piece is empty."}
        super().__init__(error_messages=missing, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> bytes:
        upload = super().clean(data, initial)
        if upload.size > MOST_OF_A_PIECE:
            raise forms.ValidationError(f"A piece is {MOST_OF_A_PIECE >> 20} MiB at most. Cut it.")
        return bytes(upload.read())
