"""What the lists of the stockroom are narrowed by. A filter that is wrong itself narrows nothing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone

from labcases.core import codes
from labcases.core.forms import CountField, LineField
from labcases.core.text import folded_serial
from labcases.lab.models import Place
from labcases.stock.models import Destination, DonorPart, Family, Need
from labcases.stock.rules import PartKind

SHELF, RESERVED = "shelf", "reserved"  # of parts: as they stand now, which is more than the state of a row
STANDINGS = [
    ("", "every state"),
    (SHELF, "free for anybody"),
    (RESERVED, "reserved"),
    *DonorPart.State.choices,
    ("left", "serves a patient that has left"),
]
PARTS = [(kind.value, kind.value) for kind in PartKind]
MORE_STATES = [
    ("clean", "clean"),
    ("left", "serves a patient that has left"),
    ("waits", "holds data, waits for a wipe"),
]


def by_words(typed: str, *, thing: str, medium: str) -> Q:
    """A code or its beginning, a serial however it is typed, or words of maker, model, board or family."""
    found = Q()
    for name in ("maker", "model", "board_number", "family__name"):
        found |= Q(**{f"{medium}{name}__icontains": typed})
    folded, serial = codes.fold(typed), folded_serial(typed)
    if folded[:1] in ("D", "W", "M"):
        found |= Q(**{f"{thing}__code__startswith": folded})
    if len(serial) >= 4:
        found |= Q(**{f"{medium}thing__serial_folded__startswith": serial})
    return found


class PartFilter(forms.Form):
    q = LineField(label="Code, serial or words", required=False, max_length=100)
    part = forms.ChoiceField(label="Part", required=False, choices=[("", "every part"), *PARTS])
    state = forms.ChoiceField(
        label="State", required=False, choices=[("", "every state"), *STANDINGS, *DonorPart.State.choices]
    )
    family = forms.ModelChoiceField(
        label="Family", required=False, queryset=Family.objects.all(), empty_label="every family"
    )
    shelf = forms.ModelChoiceField(
        label="Shelf", required=False, queryset=Place.objects.all(), empty_label="everywhere"
    )

    def narrow(self, parts: Any) -> Any:
        if not self.is_valid():
            return parts
        said = self.cleaned_data
        if said["q"]:
            parts = parts.filter(by_words(said["q"], thing="thing", medium="donor__"))
        exact = {"part": said["part"], "donor__family": said["family"], "thing__place": said["shelf"]}
        return _standing(parts.filter(**{name: value for name, value in exact.items() if value}), said["state"])


def _standing(parts: Any, state: str) -> Any:
    """What is reserved now is no longer free, whatever its row says; what ran out is free again."""
    now = timezone.now()
    if state == SHELF:
        return parts.unreserved(at=now)
    if state == "left":
        return parts.serving_nobody_here()
    if state == RESERVED:
        return parts.reserved(at=now)
    if state in DonorPart.ON_THE_SHELF:
        return parts.unreserved(at=now).filter(state=state)
    return parts.filter(state=state) if state else parts


class MediaFilter(forms.Form):
    q = LineField(label="Code, serial or words", required=False, max_length=100)
    use = forms.ChoiceField(label="Use", required=False, choices=[("", "both uses"), *Destination.Use.choices])
    state = forms.ChoiceField(
        label="State", required=False, choices=[("", "every state"), *MORE_STATES, *Destination.State.choices]
    )
    least = CountField(label="Sectors, at least", required=False, max_value=2**62)

    def narrow(self, media: Any) -> Any:
        """``least`` counts sectors of 512 bytes, so that media of all sector sizes compare."""
        if not self.is_valid():
            return media
        said = self.cleaned_data
        if said["q"]:
            media = media.filter(by_words(said["q"], thing="thing", medium=""))
        if said["use"]:
            media = media.filter(use=said["use"])
        if said["least"]:
            media = media.filter(capacity__gte=min(said["least"] * 512, 2**63 - 1))
        if said["state"] == "left":
            return media.serving_nobody_here()
        if said["state"] == "waits":
            return media.waiting_for_a_wipe()
        if said["state"] == "clean":
            return media.filter(state__in=Destination.CLEAN)
        return media.filter(state=said["state"]) if said["state"] else media


class FamilyFilter(forms.Form):
    q = LineField(label="Name or model", required=False, max_length=100)

    def narrow(self, families: Any) -> Any:
        if not self.is_valid() or not self.cleaned_data["q"]:
            return families
        typed = self.cleaned_data["q"]
        starts = Q(aliases__model_start__startswith=folded_serial(typed)) if folded_serial(typed) else Q()
        named = Q(name__icontains=typed) | Q(aliases__maker__icontains=typed)
        return families.filter(pk__in=families.filter(named | starts if starts else named).values("pk"))


class NeedFilter(forms.Form):
    q = LineField(label="Patient, supplier or words", required=False, max_length=100)
    part = forms.ChoiceField(label="Part", required=False, choices=[("", "every part"), *PARTS])
    state = forms.ChoiceField(
        label="State",
        required=False,
        choices=[("", "open"), ("all", "every state"), *Need.State.choices],
    )

    def narrow(self, needs: Any) -> Any:
        if not self.is_valid():
            return needs.still_open()
        said = self.cleaned_data
        if said["q"]:
            words = Q(supplier__icontains=said["q"]) | Q(note__icontains=said["q"])
            needs = needs.filter(words | Q(item__thing__code__startswith=codes.fold(said["q"]) or "-"))
        if said["part"]:
            needs = needs.filter(part=said["part"])
        if not said["state"]:
            return needs.still_open()
        return needs if said["state"] == "all" else needs.filter(state=said["state"])


class MatchFilter(forms.Form):
    """The match page: which part, how many to show, and whether to show what a must excludes."""

    part = forms.ChoiceField(label="Part", choices=PARTS)
    excluded = forms.BooleanField(label="also what does not fit", required=False)
