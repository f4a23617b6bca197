"""The forms of the handover: one row a thing, who takes it, how it is signed; and the page of a short visit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from labcases.bench.models import FaultClass, Result, WantedResult
from labcases.cases import words
from labcases.cases.forms.fields import SignatureField
from labcases.cases.intake import NewItem, Told, WantedLine
from labcases.cases.models import Case, Item
from labcases.cases.stages import EDGES, Stage
from labcases.core.forms import AmountField, CountField, HappenedField, LabForm, LineField, ProseField
from labcases.custody.models import MediumKind, Thing
from labcases.custody.noting.forms import SealsField
from labcases.handover.models import Handover, HandoverLine
from labcases.handover.quick import Price, Quick, Work
from labcases.office.models import Payment
from labcases.people.forms import PhoneField
from labcases.stock.models import Destination

Fate = HandoverLine.Fate
TAKEN = "Draw it, or tick that it is signed on paper."


@dataclass(frozen=True)
class Row:
    """What one line of the page draws: the thing, its fate, and for what came in several pieces the count."""

    thing: Thing
    came: int
    working: bool
    fate: Any
    count: Any = None
    note: Any = None


class HandOverForm(LabForm):
    """Fields ``fate-<code>``, ``count-<code>`` and ``note-<code>`` for each thing, ``out-<code>`` for each carrier."""

    manner = forms.ChoiceField(
        label="How", choices=Handover.Manner.choices, widget=forms.RadioSelect, initial=Handover.Manner.COLLECTED
    )
    carrier = LineField(label="Carrier", required=False, max_length=100, help_text="For a parcel: who takes it.")
    tracking = LineField(label="Tracking number", required=False, max_length=100, help_text="For a parcel.")
    collector_name = LineField(label="Name", error_messages={"required": "Say who collects it."})
    owners_word = ProseField(
        label="The owner’s word",
        rows=2,
        required=False,
        help_text="For somebody else: how the owner said so. A code sent to the owner’s phone will do.",
    )
    proof = forms.ChoiceField(
        label="Shown",
        choices=Handover.Proof.choices,
        widget=forms.RadioSelect,
        help_text="The kind of proof. No copy of it is kept.",
        error_messages={"required": "Say how they showed who they are."},
    )
    seals = SealsField(label="Seals", required=False, help_text="Numbers, with commas between them.")
    sample_opened = forms.BooleanField(label="the customer opened a sample", required=False)
    delivery_checked = forms.BooleanField(label="the delivery was checked against the copy", required=False)
    signature = SignatureField(label="Signature")
    on_paper = forms.BooleanField(label="signed on the printed receipt", required=False)
    happened = HappenedField()

    def __init__(
        self, *args: Any, case: Case, due: Sequence[Thing], carriers: Sequence[Destination], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.case, self.due, self.carriers = case, list(due), list(carriers)
        items = {item.thing_id: item for item in case.items.all()}
        self.working = {pk for pk, item in items.items() if Stage.HANDED_OVER not in EDGES[Stage(item.stage)]}
        some_work = any(_in_work(item) for item in items.values())
        for thing in self.due:
            self._add_thing(thing, later=some_work)
        for medium in self.carriers:
            label = f"{medium}, {medium.medium_words}"
            self.fields[f"out-{medium.thing.code}"] = forms.BooleanField(label=label, required=False)
        whose = [(value, _whose(case, value, label)) for value, label in Handover.Collector.choices]
        if case.bearer_id == case.owner_id:
            whose = [choice for choice in whose if choice[0] != Handover.Collector.BEARER]
        self.fields["collector"] = forms.ChoiceField(
            label="Who takes it",
            choices=whose,
            widget=forms.RadioSelect,
            error_messages={"required": "Say who takes it."},
        )
        self.order_fields(
            [*(name for name in self.fields if "-" in name), "manner", "carrier", "tracking", "collector"]
        )

    def _add_thing(self, thing: Thing, *, later: bool) -> None:
        working = thing.pk in self.working
        choices = [(Fate.OUT, "goes out"), (Fate.STAYS, "stays by signature")] if not working else []
        choices += [(Fate.LATER, "later")] if later else []
        self.fields[f"fate-{thing.code}"] = forms.ChoiceField(
            label=f"{thing}, {thing.words}",
            choices=choices,
            widget=forms.RadioSelect,
            initial=Fate.LATER if working else None,
            error_messages={"required": "Not counted yet: say what becomes of it."},
        )
        came = _came(thing)
        if came > 1:
            self.fields[f"count-{thing.code}"] = CountField(
                label=f"{thing}, pieces counted back", min_value=1, max_value=9_999, required=False
            )
            self.fields[f"note-{thing.code}"] = LineField(
                label=f"{thing}, why the count differs", required=False, max_length=200
            )

    def rows(self) -> Iterator[Row]:
        for thing in self.due:
            code, several = thing.code, f"count-{thing.code}" in self.fields
            count, note = (self[f"count-{code}"], self[f"note-{code}"]) if several else (None, None)
            yield Row(thing, _came(thing), thing.pk in self.working, self[f"fate-{code}"], count, note)

    def carrying(self) -> list[tuple[Destination, Any]]:
        return [(medium, self[f"out-{medium.thing.code}"]) for medium in self.carriers]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        posted = said.get("manner") == Handover.Manner.POSTED
        if posted and not said.get("tracking") and "tracking" not in self.errors:
            self.add_error("tracking", "A parcel goes tracked: note its number.")
        if posted and not said.get("carrier") and "carrier" not in self.errors:
            self.add_error("carrier", "Say who takes the parcel.")
        other = said.get("collector") == Handover.Collector.OTHER
        if other and not said.get("owners_word") and "owners_word" not in self.errors:
            self.add_error("owners_word", "Somebody else collects with the owner’s word: say how it was given.")
        drawn = said.get("signature") or "signature" in self.errors
        if not posted and not drawn and not said.get("on_paper"):
            self.add_error("on_paper", f"Nothing leaves unsigned. {TAKEN}")
        self._check_counts(said)
        return said

    def _check_counts(self, said: dict[str, Any]) -> None:
        for thing in self.due:
            code, came = thing.code, _came(thing)
            if came == 1 or said.get(f"fate-{code}") == Fate.LATER or f"count-{code}" in self.errors:
                continue
            counted = said.get(f"count-{code}")
            if counted is None:
                self.add_error(f"count-{code}", f"Count them: {came} came in.")
            elif counted != came and not said.get(f"note-{code}"):
                self.add_error(f"note-{code}", f"{came} came in, {counted} counted back: say why.")

    def told(self) -> dict[str, Any]:
        """What ``handover.actions.hand_over`` takes."""
        said = self.cleaned_data
        plain = (
            "manner",
            "carrier",
            "tracking",
            "collector",
            "collector_name",
            "owners_word",
            "proof",
            "seals",
            "happened",
        )
        counts = {thing.code: said.get(f"count-{thing.code}") for thing in self.due}
        return {
            **{name: said[name] for name in (*plain, "sample_opened", "delivery_checked", "signature")},
            "fates": {thing.code: said[f"fate-{thing.code}"] for thing in self.due},
            "counts": {code: count for code, count in counts.items() if count},
            "notes": {thing.code: said.get(f"note-{thing.code}", "") for thing in self.due},
            "deliveries": [medium.thing for medium in self.carriers if said[f"out-{medium.thing.code}"]],
            "signed_how": "screen" if said["signature"] else "paper" if said["on_paper"] else "",
        }


def _came(thing: Thing) -> int:
    return int(thing.accessory.count) if thing.kind == Thing.Kind.ACCESSORY else 1


def _in_work(item: Item) -> bool:
    stage = Stage(item.stage)
    return Stage.HANDED_OVER not in EDGES[stage] and stage not in (Stage.HANDED_OVER, Stage.CLOSED, Stage.NEVER_CAME)


def _whose(case: Case, value: str, label: str) -> str:
    names = {Handover.Collector.OWNER: case.owner.name, Handover.Collector.BEARER: case.bearer.name}
    return f"{label}: {names[Handover.Collector(value)]}" if value in names else label


class WhileYouWaitForm(LabForm):
    """A medium that comes in and goes out while its owner waits."""

    name = LineField(label="Name", error_messages={"required": "Say who brings it."})
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    kind = forms.ChoiceField(
        label="What it is", choices=MediumKind.choices, widget=forms.Select, initial=MediumKind.CARD
    )
    maker = LineField(label="Maker", required=False, max_length=100)
    model = LineField(label="Model", required=False, max_length=100, widget=forms.TextInput(attrs={"class": "code"}))
    serial = LineField(label="Serial", required=False, max_length=100, widget=forms.TextInput(attrs={"class": "code"}))
    marks = forms.MultipleChoiceField(
        label="Seen on it",
        choices=list(words.MARKS.items()),
        widget=forms.CheckboxSelectMultiple,
        initial=["nothing"],
        error_messages={"required": "Look at it, and say what is seen; “nothing seen” is an answer."},
    )
    stories = forms.MultipleChoiceField(
        label="What happened",
        choices=list(words.STORIES.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Ask what happened; “not known” is an answer."},
    )
    wanted = LineField(label="Wanted", error_messages={"required": "Say what they want back."})
    paid = forms.ChoiceField(label="Paid", choices=Payment.Method.choices, widget=forms.RadioSelect, required=False)
    faults = forms.MultipleChoiceField(
        label="Faults",
        choices=FaultClass.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Say what was wrong; “not faulty” is an answer."},
    )
    found = LineField(label="Found", error_messages={"required": "Say in a few words what was found."})
    done = ProseField(label="Done", rows=2, error_messages={"required": "Say what was done."})
    method = LineField(label="Method", required=False, max_length=200, help_text="Programs with their versions.")
    state = forms.ChoiceField(
        label="They got it",
        choices=WantedResult.State.choices[:3],
        widget=forms.RadioSelect,
        error_messages={"required": "Say how much of what they wanted they got."},
    )
    file_count = CountField(label="Files")
    byte_count = CountField(label="Bytes", required=False)
    not_recovered = LineField(label="Not recovered, and why", required=False)
    compared = forms.ChoiceField(
        label="Compared", choices=Result.Compared.choices, widget=forms.RadioSelect, initial="sampled"
    )
    samples = LineField(label="Samples opened", required=False)
    carrier = LineField(
        label="Files went onto", help_text="For example: the customer’s own stick; a stick we sold them."
    )
    proof = forms.ChoiceField(
        label="Shown", choices=Handover.Proof.choices[:5], widget=forms.RadioSelect, initial="known"
    )
    sample_opened = forms.BooleanField(label="the customer opened a sample", required=False)
    signature = SignatureField(label="Signature")
    on_paper = forms.BooleanField(label="signed on paper", required=False)
    happened = HappenedField()

    def __init__(self, *args: Any, country: str, currency: str, tax_rate: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tax_rate = tax_rate
        self.fields["phone"] = PhoneField(label="Phone", required=False, country=country)
        self.fields["price"] = AmountField(
            label=f"Price before tax, {currency}" if tax_rate else f"Price, {currency}",
            help_text=f"{tax_rate / 100:g} % tax is added." if tax_rate else "",
            currency=currency,
            error_messages={"required": "Say what it costs; 0 when it is free."},
        )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        reach = said.get("phone") or said.get("email") or {"phone", "email"} & {*self.errors}
        if not reach:
            self.add_error("phone", "Say how to reach them: a phone number or an e-mail address.")
        if said.get("price") and not said.get("paid"):
            self.add_error("paid", "Say how it was paid: nothing leaves unpaid.")
        partly = said.get("state") in (WantedResult.State.PARTIAL, WantedResult.State.NOT)
        if partly and not said.get("not_recovered"):
            self.add_error("not_recovered", "Say what they did not get, and why: it stands in the report.")
        if not (said.get("signature") or said.get("on_paper") or "signature" in self.errors):
            self.add_error("on_paper", f"One signature stands for the terms and for the handover. {TAKEN}")
        return said

    def reached(self) -> dict[str, str]:
        return {name: self.cleaned_data[name] for name in ("name", "phone", "email")}

    def quick(self) -> Quick:
        """What ``handover.actions.while_you_wait`` takes."""
        said = self.cleaned_data
        item = {name: said[name] for name in ("kind", "maker", "model", "serial", "marks")}
        work = ("faults", "found", "done", "method", "state", "compared", "samples", "not_recovered")
        return Quick(
            item=NewItem(**item, behaviours=["not known"]),
            told=Told(stories=said["stories"], tried=["not known"], wanted=[WantedLine(said["wanted"])]),
            work=Work(**{name: said[name] for name in work}, files=said["file_count"], size=said["byte_count"]),
            price=Price("While you wait", said["price"], self.tax_rate, said["paid"]),
            carrier=said["carrier"],
            signed_how="screen" if said["signature"] else "paper",
            signature=said["signature"],
            proof=said["proof"],
            sample_opened=said["sample_opened"],
        )
