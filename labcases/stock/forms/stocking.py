"""What comes into stock, and correcting what is known of it. Blank is not known."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from labcases.cases.forms.inside import CodedField, InsideFields, MadeField
from labcases.cases.queries import known_serials
from labcases.core.forms import AmountField, CountField, HappenedField, LabForm, LineField, ProseField
from labcases.core.text import folded_serial
from labcases.custody.models import MediumKind, Thing
from labcases.lab.models import Place
from labcases.stock.actions.stocking import MOST_AT_ONCE, first_twice
from labcases.stock.forms.fields import CaseField, SizeFields
from labcases.stock.models import Destination, Donor, Family, FamilyAlias
from labcases.stock.rules import PartKind
from labcases.stock.sizes import NotASize, Size, sizes_said

SHORTEST_START = 3  # shorter beginnings of model numbers are not looked up
Groups = tuple[tuple[str, tuple[str, ...]], ...]


class PutForm(forms.Form):
    """Where it is put, and when it came."""

    place = forms.ModelChoiceField(
        label="Put in", queryset=Place.objects.filter(in_use=True), required=False, empty_label="my hands"
    )
    happened = HappenedField()


class MediumForm(SizeFields, LabForm):
    """What donors, destinations and delivery media share. ``layout`` is how the page groups the fields."""

    kind = forms.ChoiceField(label="Kind", choices=MediumKind.choices, initial=MediumKind.DISK_35)
    kind_words = LineField(
        label="in words", required=False, max_length=100, help_text="When the list has no word for it."
    )
    maker = LineField(label="Maker", required=False, max_length=100)
    model = CodedField(label="Model", required=False, max_length=100)
    serial = CodedField(label="Serial", required=False, max_length=100)
    interface = LineField(label="Interface", required=False, max_length=40)
    note = ProseField(label="Note", required=False, rows=2)
    anyway = forms.BooleanField(label="it is so: keep it all the same", required=False)

    layout: Groups = ()
    serial_field = "serial"

    def __init__(self, *args: Any, currency: str, leave_out: Thing | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.leave_out, self.asks_again = leave_out, False
        words = f"In {currency}."
        self.fields["cost"] = AmountField(label="Cost", currency=currency, help_text=words, required=False)

    def groups(self) -> list[tuple[str, list[Any]]]:
        """The fields as the page shows them."""
        return [(title, [self[name] for name in names if name in self.fields]) for title, names in self.layout]

    def about(self) -> dict[str, Any]:
        """The fields of the model."""
        out = {"once", "anyway", "place", "happened", "parts", "serials", "how_many", "own_of"}
        return {name: value for name, value in self.cleaned_data.items() if name not in out}

    def typed_serials(self, said: dict[str, Any]) -> list[str]:
        return [said["serial"]] if said.get("serial") else []

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        self.count_sectors(said)
        found = [known_serials(serial, leave_out=self.leave_out) for serial in self.typed_serials(said)]
        known = [one.sentence for several in found for one in several]
        self.asks_again = bool(known)
        if known and not said.get("anyway"):
            self.add_error(self.serial_field, [*known, "If this is right all the same, say so below."])
        return said


LABEL = ("kind", "kind_words", "maker", "model", "serials", "serial", "anyway", "how_many", "firmware", "interface")
SIZE = ("Size", ("sectors", "gigabytes", "sector_bytes"))


class DonorForm(InsideFields, MediumForm):
    """A donor: its label, what is known of its inside, where it came from."""

    firmware = CodedField(label="Firmware", required=False, max_length=60)
    made = MadeField(label="Made", required=False)
    plant = LineField(label="Plant code", required=False, max_length=60)
    family = forms.ModelChoiceField(
        label="Family", queryset=Family.objects.all(), required=False, empty_label="by its model number"
    )
    source = forms.ChoiceField(
        label="Source", choices=Donor.Source.choices, widget=forms.RadioSelect, initial=Donor.Source.BOUGHT
    )
    supplier = LineField(label="From whom", required=False, max_length=200)
    layout = (
        ("Parts", ("parts",)),
        ("Label", (*LABEL, "made", "plant", "codes")),
        SIZE,
        ("Board", InsideFields.BOARD),
        ("Inside", ("family", *InsideFields.PLATTERS)),
        ("Flash", InsideFields.FLASH),
        ("Bridge", InsideFields.BRIDGE),
        ("Source", ("source", "supplier", "cost", "note")),
        ("Shelf", ("place", "happened")),
    )


class NewDonorForm(PutForm, DonorForm):
    """A donor as it comes in, with its parts."""

    parts = forms.MultipleChoiceField(
        label="Parts it can give",
        choices=[(kind.value, kind.value) for kind in PartKind],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Say which parts it can give: stock counts parts."},
    )


class MediaForm(MediumForm):
    """A destination or a delivery medium."""

    use = forms.ChoiceField(
        label="Use", choices=Destination.Use.choices, widget=forms.RadioSelect, initial=Destination.Use.CLONE
    )
    layout = (
        ("Use", ("use", "state")),
        ("Label", LABEL),
        SIZE,
        ("Owner", ("own_of",)),
        ("Source", ("cost", "note")),
        ("Shelf", ("place", "happened")),
    )

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if not said.get("sectors") and not {"sectors", "gigabytes"} & self.errors.keys():
            self.add_error("sectors", "Say how many sectors it has, or which gigabytes are printed on it.")
        return said


class NewMediaForm(PutForm, MediaForm):
    """Media as they come in: one, or several that are alike."""

    serial = None  # type: ignore[assignment]
    serials = ProseField(
        label="Serials", required=False, rows=2, help_text="One a line: scan one after the other, or leave it."
    )
    how_many = CountField(
        label="How many", required=False, min_value=1, max_value=MOST_AT_ONCE, help_text="Alike in all else."
    )
    state = forms.ChoiceField(
        label="State",
        choices=[(state.value, state.label) for state in Destination.CLEAN],
        widget=forms.RadioSelect,
        initial=Destination.State.SEALED,
    )
    own_of = CaseField(
        label="Customer's own, of case",
        help_text="Empty when it is the lab's. Its owner's written consent is asked for next.",
    )
    serial_field = "serials"

    def clean_serials(self) -> list[str]:
        serials = [line for line in self.cleaned_data["serials"].split("\n") if line]
        if long := [serial for serial in serials if len(serial) > 100]:
            raise forms.ValidationError(f"“{long[0][:40]}…” is longer than a serial: 100 characters at most.")
        if twice := first_twice(serials):
            raise forms.ValidationError(f"{twice} is listed twice.")
        if len(serials) > MOST_AT_ONCE:
            raise forms.ValidationError(f"{len(serials)} at once are too many: {MOST_AT_ONCE} at most.")
        return serials

    def typed_serials(self, said: dict[str, Any]) -> list[str]:
        return list(said.get("serials") or [])

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        serials = self.typed_serials(said)
        if "how_many" not in self.errors:
            said["how_many"] = said.get("how_many") or max(len(serials), 1)
            if len(serials) > said["how_many"]:
                self.add_error("how_many", f"{len(serials)} serials are listed.")
        if said.get("own_of") and said.get("how_many", 1) > 1:
            self.add_error("own_of", "Add a customer's own media one by one.")
        return said


class SeenForm(forms.Form):
    """The last event of the thing when the page was opened: a correction of anything newer is refused."""

    seen = forms.IntegerField(widget=forms.HiddenInput, error_messages={"required": "Open the page again."})


class ChangeDonorForm(SeenForm, DonorForm):
    """Correct what is known of a donor."""

    def about(self) -> dict[str, Any]:
        return {name: value for name, value in super().about().items() if name != "seen"}


class ChangeMediaForm(SeenForm, MediaForm):
    """Correct what is known of a medium. Its state is changed by its own verbs."""

    def about(self) -> dict[str, Any]:
        return {name: value for name, value in super().about().items() if name != "seen"}


class FamilyForm(LabForm):
    """A family, what is expected of it, and the model numbers it is sold under."""

    name = LineField(label="Family", max_length=100)
    sold_as = ProseField(
        label="Sold as",
        required=False,
        rows=5,
        max_length=4000,
        help_text="The beginning of a model number on each line; a maker and a comma before it when others use it too.",
    )
    heads = CountField(label="Heads", required=False, max_value=99, help_text="When all sizes have the same.")
    platters = CountField(label="Platters", required=False, max_value=99)
    sizes = ProseField(
        label="Sizes",
        required=False,
        rows=3,
        max_length=4000,
        help_text="Where sizes differ inside, one a line: 500 GB, 2 heads, 1 platter.",
    )
    shingled = forms.BooleanField(label="shingled: its tracks overlap", required=False)
    helium = forms.BooleanField(label="filled with helium", required=False)
    low_not_outer = forms.BooleanField(label="a low sector number is not an outer track", required=False)
    quirks = ProseField(
        label="Quirks", required=False, rows=4, help_text="What to know before it is powered or opened."
    )

    def __init__(self, *args: Any, family: Family | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.family = family

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        others = Family.objects.exclude(pk=self.family.pk) if self.family else Family.objects.all()
        if others.filter(name__iexact=name).exists():
            raise forms.ValidationError(f"There is a family {name} already.")
        return name

    def clean_sold_as(self) -> list[tuple[str, str]]:
        """(maker or "", folded beginning of a model number), a line each."""
        lines = [line for line in self.cleaned_data["sold_as"].split("\n") if line]
        found = list(dict.fromkeys(_alias(line) for line in lines))
        self._must_be_ours(found)
        return found

    def clean_sizes(self) -> list[Size]:
        try:
            return sizes_said(self.cleaned_data["sizes"])
        except NotASize as wrong:
            raise forms.ValidationError(str(wrong)) from None

    def _must_be_ours(self, aliases: Iterable[tuple[str, str]]) -> None:
        others = FamilyAlias.objects.select_related("family").filter(model_start__in=[start for _, start in aliases])
        for other in others.exclude(family=self.family) if self.family else others:
            if (other.maker, other.model_start) in set(aliases):
                raise forms.ValidationError(f"“{other}” belongs to the family {other.family} already.")


def _alias(line: str) -> tuple[str, str]:
    maker, _, start = line.rpartition(",")
    key = folded_serial(start)
    if len(key) < SHORTEST_START:
        raise forms.ValidationError(f"“{line[:40]}” is too short: {SHORTEST_START} letters or digits at least.")
    if len(key) > 100 or len(maker) > 100:
        raise forms.ValidationError(f"“{line[:40]}…” is too long: 100 characters at most.")
    return maker.strip(), key
