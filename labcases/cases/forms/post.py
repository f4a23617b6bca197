"""The forms for what is not on the counter yet: enquiries, refusals, parcels that are expected and that came."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Self

from django import forms
from django.db.models import Q
from django.forms.utils import ErrorDict

from labcases.cases import words
from labcases.cases.advice import ADVICE, in_words
from labcases.cases.forms.fields import CountedLines, OneOf, Picks
from labcases.cases.forms.item import GROUPED
from labcases.cases.forms.mistakes import mistakes
from labcases.cases.intake import NewItem, Told
from labcases.cases.models import Enquiry, Item
from labcases.core import codes
from labcases.core.forms import AmountField, CountField, HappenedField, LabForm, LineField, ProseField
from labcases.custody.models import MediumKind
from labcases.people.forms import WhoForm
from labcases.people.models import Party

ROWS = 4
MOST_ALIKE = 60
BELOW = {"negative": "A price is not below zero. Leave it blank when none was named."}


class AskedForm(LabForm):
    """Who asks, and about what. Only the name is needed: an enquiry may be a short call."""

    name = LineField(label="Who asks", error_messages={"required": "Say who it is. One name is enough."})
    reach = LineField(label="Reached by", required=False, help_text="Phone or e-mail, as told.")
    kind = forms.ChoiceField(
        label="About", required=False, choices=[("", "not known"), *MediumKind.choices], widget=forms.Select
    )
    asked = ProseField(label="Asked", required=False, help_text="What happened, and what they want to know.")
    happened = HappenedField()

    def told(self) -> dict[str, Any]:
        """The fields of Enquiry that say who asked about what."""
        return {name: self.cleaned_data[name] for name in ("name", "reach", "kind", "asked")}


class EnquiryForm(AskedForm):
    """An enquiry with what was answered: the standing advice as far as it was read out, and a price range."""

    ticked = Picks(ADVICE, label="Told them", help_text="Read out, and tick what you said.")
    own = ProseField(label="And also", required=False, rows=2, max_length=2_000)
    price_from = AmountField(label="Price from", required=False, error_messages=BELOW)
    price_to = AmountField(
        label="Price to", required=False, error_messages=BELOW, help_text="A range, said as a range: no promise."
    )
    field_order = ("name", "reach", "kind", "asked", "ticked", "own", "price_from", "price_to", "happened")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.currency = currency
        for field in self.fields.values():
            if isinstance(field, AmountField):
                field.currency, field.label = currency, f"{field.label}, {currency}"

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        low, high = said.get("price_from"), said.get("price_to")
        if low is not None and high is not None and high < low:
            self.add_error("price_to", "The upper price is not below the lower one.")
        return said

    def told(self) -> dict[str, Any]:
        said = self.cleaned_data
        advice = in_words(said["ticked"], said["own"])
        prices = {"price_from": said["price_from"], "price_to": said["price_to"], "currency": self.currency}
        return super().told() | {"advice": advice, **prices}


class ReasonForm(LabForm):
    """Why it is refused."""

    reason = ProseField(
        label="Why",
        rows=2,
        max_length=2_000,
        help_text="As it was said to them.",
        error_messages={"required": "Say why, in a few words."},
    )
    happened = HappenedField()


class RefuseForm(AskedForm, ReasonForm):
    """Somebody who was refused at the counter, and why."""

    field_order = ("name", "reach", "kind", "asked", "reason", "happened")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label, self.fields["kind"].label = "Who came", "Brought"
        self.fields["asked"].label, self.fields["asked"].help_text = "Wanted", "What they wanted done."


class EndForm(ReasonForm):
    """Nothing came of an enquiry; the reason is worth having, and need not be known."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = False
        self.fields["reason"].help_text = "Too dear, went elsewhere, found a copy … Leave it blank when nobody knows."


class EnquiryFilter(forms.Form):
    """What the list of enquiries is narrowed by."""

    q = LineField(label="Who or what", required=False)
    state = forms.ChoiceField(label="State", required=False, choices=[("", "every state"), *Enquiry.State.choices])
    kind = forms.ChoiceField(label="About", required=False, choices=[("", "every kind"), *MediumKind.choices])

    def narrow(self, enquiries: Any) -> Any:
        """Enquiries that fit; all of them when the filter itself is wrong."""
        if not self.is_valid():
            return enquiries
        said = self.cleaned_data
        for word in said["q"].split():
            enquiries = enquiries.filter(_holds(word))
        same = {name: said[name] for name in ("state", "kind") if said[name]}
        return enquiries.filter(**same)


def _holds(word: str) -> Q:
    return Q(name__icontains=word) | Q(reach__icontains=word) | Q(asked__icontains=word)


class SeveralForm(LabForm):
    """What is in a parcel, as far as it was said: rows of kind, words and number. Fields ``kind-1``, ``model-1`` …"""

    needs_one = True
    rows_shown = ROWS

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for n in range(1, self.rows_shown + 1):
            self.fields[f"kind-{n}"] = forms.ChoiceField(
                label=f"Kind {n}", required=False, choices=[("", "–"), *GROUPED], widget=forms.Select
            )
            self.fields[f"model-{n}"] = LineField(label=f"Maker and model {n}", required=False, max_length=100)
            self.fields[f"count-{n}"] = CountField(
                label=f"Number {n}", required=False, min_value=1, max_value=MOST_ALIKE, initial=1
            )
            self.fields[f"count-{n}"].widget.attrs["class"] = "code short"

    def rows(self) -> Iterator[tuple[Any, Any, Any]]:
        """The fields of each row, for the page."""
        for n in range(1, self.rows_shown + 1):
            yield self[f"kind-{n}"], self[f"model-{n}"], self[f"count-{n}"]

    def further_rows_said(self) -> bool:
        """Whether anything stands in a row but the first: then they are not folded away."""
        rows = list(self.rows())[1:]
        return any(kind.value() or model.value() or kind.errors or count.errors for kind, model, count in rows)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        for n in range(1, self.rows_shown + 1):
            if said.get(f"model-{n}") and not said.get(f"kind-{n}") and f"kind-{n}" not in self.errors:
                self.add_error(f"kind-{n}", "Say what kind of thing it is; “something else” is a kind too.")
        if self.needs_one and not self.errors and not self.new_items():
            self.add_error("kind-1", "Say what comes: at least one thing with its kind.")
        return said

    def new_items(self) -> list[NewItem]:
        """One record a thing; of a row with a number, that many alike."""
        said = self.cleaned_data
        found: list[NewItem] = []
        for n in range(1, self.rows_shown + 1):
            if kind := said.get(f"kind-{n}"):
                model = said.get(f"model-{n}") or ""
                other = kind == MediumKind.OTHER
                new = NewItem(kind, kind_words=model) if other else NewItem(kind, model=model)
                found += [new] * (said.get(f"count-{n}") or 1)
        return found


class WithOwner(LabForm):
    """A form beside which the owner has a form of its own."""

    def __init__(self, data: Any = None, files: Any = None, *, country: str, who: Any = None, **kwargs: Any) -> None:
        super().__init__(data, files, **kwargs)
        self.owner = WhoForm(data, prefix="owner", initial=who, country=country)

    def is_valid(self) -> bool:
        """Both are asked, so that all mistakes are said at once."""
        return all([super().is_valid(), self.owner.is_valid()])

    def wrongs(self) -> list[dict[str, Any]]:
        """One line for each mistake, none before anything was sent."""
        return list(mistakes(self, [("Owner", self.owner)])) if self.is_bound else []

    def unjudged(self) -> Self:
        """The form after a button that only changed what is typed: nobody is told yet what is missing."""
        self.is_valid()
        form: Any
        for form in (self, self.owner):
            form._errors = ErrorDict()
        return self


class ExpectForm(WithOwner, SeveralForm):
    """Whom a parcel is expected from, what is in it and what was told of it. ``owner`` is a form of its own."""

    stories = Picks(words.STORIES, label="What happened")
    story = ProseField(label="In their words", required=False, rows=2)
    reference = LineField(label="Their own number", required=False, max_length=100)
    enquiry = forms.ModelChoiceField(
        Enquiry.objects.filter(case=None),
        required=False,
        widget=forms.HiddenInput,
        error_messages={"invalid_choice": "The enquiry this came from has become a case already. Look at the Counter."},
    )
    happened = HappenedField()

    def told(self) -> Told:
        return Told(stories=self.cleaned_data["stories"], story=self.cleaned_data["story"])


class ParcelFields(SeveralForm):
    """A parcel on the counter: what it looked like, what came along, and what nobody had announced."""

    closed = ProseField(
        label="Closed",
        rows=2,
        max_length=2_000,
        help_text="Before it is opened: whole, dented, wet, opened before; seals with their numbers; the sender on it.",
        error_messages={"required": "Say what the closed parcel looked like; “whole and dry” is enough."},
    )
    opened = ProseField(
        label="Opened",
        rows=2,
        max_length=2_000,
        help_text="How it lay in the box: padded or loose, bagged or bare, dry or damp.",
        error_messages={"required": "Say how it lay in the opened box."},
    )
    accessories = CountedLines(
        label="With it",
        required=False,
        rows=2,
        max_length=4_000,
        help_text="One thing a line, with its number: 2 USB cables, power supply, caddy, box.",
    )
    happened = HappenedField()

    def condition(self) -> str:
        """The parcel in one sentence, as the ledger keeps it."""
        return f"closed: {self.cleaned_data['closed']}; opened: {self.cleaned_data['opened']}"


class ArriveForm(ParcelFields):
    """A parcel of a case that was expected: which of its items came, and what each had suffered on the way."""

    needs_one = False
    rows_shown = 2

    def __init__(self, *args: Any, waiting: Sequence[Item], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.waiting = list(waiting)
        for item in self.waiting:
            self.fields[f"came-{item.pk}"] = forms.BooleanField(
                label=f"{item} {item.medium_words}", required=False, initial=True
            )
            self.fields[f"damage-{item.pk}"] = LineField(
                label="Damaged on the way", required=False, max_length=500, help_text="Blank: no damage is seen."
            )

    def item_rows(self) -> list[tuple[Item, Any, Any]]:
        """Each expected item with its two fields."""
        return [(item, self[f"came-{item.pk}"], self[f"damage-{item.pk}"]) for item in self.waiting]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        for item in self.waiting:
            if said.get(f"damage-{item.pk}") and not said.get(f"came-{item.pk}"):
                self.add_error(f"damage-{item.pk}", "This item did not come, so its damage cannot be seen. Tick it.")
        if not self.errors and not self.came() and not self.new_items():
            self.add_error(None, "Say what came: tick an item, or name what nobody announced.")
        return said

    def came(self) -> list[Item]:
        return [item for item in self.waiting if self.cleaned_data.get(f"came-{item.pk}")]

    def damage(self) -> dict[int, str]:
        """Words about each item that was damaged on the way, by its key."""
        said = {item.pk: self.cleaned_data.get(f"damage-{item.pk}") or "" for item in self.came()}
        return {pk: words for pk, words in said.items() if words}


class UnknownSenderForm(ParcelFields):
    """A parcel that nobody announced and that names no sender we know."""

    written = ProseField(
        label="On the parcel",
        rows=3,
        max_length=2_000,
        required=False,
        help_text="Everything that stands on it and in it: sender, carrier, number, postmark. Blank: nothing.",
    )
    damage = LineField(label="Damaged on the way", required=False, max_length=500, help_text="Blank: none is seen.")


class NeverCameForm(LabForm):
    """An expected item that will not come."""

    how = OneOf(
        {"never came": "it never came", "sent elsewhere": "it was sent elsewhere instead"},
        label="What became of it",
        required=True,
        error_messages={"required": "Say what became of it."},
    )
    because = ProseField(
        label="In words",
        rows=2,
        max_length=2_000,
        help_text="Who said so, and where it is now as far as anybody knows.",
        error_messages={"required": "Say who said so, in a few words."},
    )
    happened = HappenedField()


class WhoseForm(WithOwner):
    """Whose a parcel without a sender is."""

    because = LineField(
        label="Known from",
        help_text="For example: they rang and named the serial number.",
        error_messages={"required": "Say how it is known now whose it is."},
    )
    happened = HappenedField()


class ParcelFilter(forms.Form):
    """What stands on a parcel: the cases that expect one are narrowed by it."""

    q = LineField(label="Code, name, firm or model", required=False)

    def narrow(self, cases: Any) -> Any:
        """Cases that fit; all that expect something when nothing is asked."""
        if not self.is_valid() or not self.cleaned_data["q"]:
            return cases
        typed = self.cleaned_data["q"]
        people = Party.objects.found_by(typed)
        by_item = Q(items__model__icontains=typed) | Q(items__serial__icontains=typed)
        by_code = Q(thing__code__startswith=codes.fold(typed)) | Q(items__thing__code=codes.fold(typed))
        return cases.filter(by_code | by_item | Q(owner__in=people) | Q(bearer__in=people)).distinct()
