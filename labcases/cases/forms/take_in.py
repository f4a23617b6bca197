"""The take-in page as one form: who, items, told, terms, what came along. Its parts keep to their own names."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.forms.utils import ErrorDict, ErrorList

from labcases.cases import slip as slips
from labcases.cases.forms.fields import CountedLines, OneOf
from labcases.cases.forms.item import KINDS, ItemForm, ItemFormSet
from labcases.cases.forms.mistakes import mistakes
from labcases.cases.forms.terms import TermsForm
from labcases.cases.forms.told import ToldForm
from labcases.cases.intake import NewItem
from labcases.cases.models import Case, Enquiry
from labcases.cases.pads.models import ReservedCode
from labcases.core.forms import HappenedField, LabForm, LineField
from labcases.core.money import Money
from labcases.lab.models import Profile
from labcases.people.forms import WhoForm
from labcases.people.models import Party


class TakeInForm(LabForm):
    """Everything of one intake. ``once`` is also the key of its draft."""

    version = forms.IntegerField(required=False, initial=0, min_value=0, max_value=2**31, widget=forms.HiddenInput)
    enquiry = forms.ModelChoiceField(
        Enquiry.objects.filter(case=None),
        required=False,
        widget=forms.HiddenInput,
        error_messages={"invalid_choice": "The enquiry this came from has become a case already. Look at the Counter."},
    )
    reserved = forms.ModelChoiceField(
        ReservedCode.objects.waiting(),
        to_field_name="code",
        required=False,
        widget=forms.HiddenInput,
        error_messages={
            "invalid_choice": "The sheet this is typed from is a case already, or void. Look at the paper pads."
        },
    )
    brought = OneOf({"owner": "the owner", "other": "somebody else"}, label="Brought by", initial="owner")
    pays = OneOf(
        {"owner": "the owner", "bearer": "whoever brings it", "other": "somebody else"},
        label="Paid by",
        initial="owner",
    )
    reference = LineField(label="Their own number", required=False, max_length=100)
    bare = forms.BooleanField(label="Papers go out without our letterhead", required=False)
    accessories = CountedLines(
        label="Counted",
        required=False,
        rows=2,
        max_length=4_000,
        help_text="One thing a line, with its number: 2 USB cables, power supply, caddy, seal bag, box.",
    )
    urgency = OneOf(dict(Case.Urgency.choices), label="Urgency", initial="normal")
    promised = forms.DateField(
        label="Promised for",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"invalid": "Write the date as 2026-11-25, or leave it blank."},
    )
    happened = HappenedField()

    def __init__(
        self,
        data: Any = None,
        files: Any = None,
        *,
        lab: Profile,
        can_sign: bool = True,
        who: dict[str, Any] | None = None,
        first_item: dict[str, Any] | None = None,
        told: dict[str, Any] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, files, **kwargs)
        about = {"country": lab.country}
        self.owner = WhoForm(data, prefix="owner", initial=who, **about)
        self.bearer = WhoForm(data, prefix="bearer", needed=self._says("brought", "other"), **about)
        self.payer = WhoForm(data, prefix="payer", needed=self._says("pays", "other"), **about)
        self.items = ItemFormSet(data, prefix="item", initial=[first_item] if first_item else None)
        self.told = ToldForm(data, prefix="told", initial=told)
        self.terms = TermsForm(data, files, prefix="terms", currency=lab.currency, can_sign=can_sign)
        self.currency = lab.currency
        if not self.is_bound and not who:
            self.owner.fields["phone"].widget.attrs["autofocus"] = True

    def _says(self, name: str, value: str) -> bool:
        return self.is_bound and self.data.get(name) == value

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if said.get("reserved") and not self.data.get("happened"):
            self.add_error("happened", "Write the date and the time that stand on the sheet.")
        return said

    @property
    def sheet(self) -> ReservedCode | None:
        """The sheet of a paper pad that is being typed in."""
        code = self["reserved"].value()
        return ReservedCode.objects.filter(code=code).first() if code else None

    # --- the parts together ------------------------------------------------------------------------------------------

    def parts(self) -> Iterator[tuple[str, forms.BaseForm]]:
        """Every part with the word that tells it from the others in a summary of errors."""
        yield "Owner", self.owner
        yield "Brought by", self.bearer
        yield "Paid by", self.payer
        for number, item in enumerate(self.item_forms(), 1):
            yield f"Item {number}", item
        yield "", self.told
        yield "", self.terms

    def item_forms(self) -> list[ItemForm]:
        return self.items.forms if not self.is_bound or self.items.management_form.is_valid() else []

    def is_valid(self) -> bool:
        """Every part is asked, so that all mistakes are said at once."""
        right = [super().is_valid(), self.items.is_valid(), *(form.is_valid() for _, form in self.parts())]
        return all(right)

    def wrongs(self) -> list[dict[str, Any]]:
        """One line for each mistake, with the id of the field it leads to (empty for what has no field)."""
        of_list = [{"said": str(said)} for said in self.items.non_form_errors()]
        return of_list + list(mistakes(self, self.parts()))

    def unjudged(self) -> TakeInForm:
        """The form as a draft shows it: what is typed is read, and nobody is told yet what is missing."""
        if self.is_bound:
            self.is_valid()
            every: list[Any] = [self, *(form for _, form in self.parts())]
            for form in every:
                form._errors = ErrorDict()
            items: Any = self.items
            items._non_form_errors = ErrorList()
        return self

    # --- the plain records -------------------------------------------------------------------------------------------

    def new_items(self) -> list[NewItem]:
        return [form.new_item() for form in self.item_forms()]

    def known_owner(self) -> Party | None:
        return self.owner.party

    def letterhead(self) -> bool:
        return not self.cleaned_data["bare"]

    def whoever_signs(self) -> str:
        """Who signs when nobody is named: whoever brings it."""
        who = self.bearer if self.bearer.needed else self.owner
        return str(who.cleaned_data["name"])

    def terms_said_signed(self) -> bool:
        return bool(self._said(self.terms).get("how"))

    def slip(self) -> slips.Slip:
        """What the customer is about to sign, of whatever is right so far."""
        said, told, terms = self._said(self), self.told.told(), self._said(self.terms)
        limit = terms.get("limit")
        return slips.Slip(
            owner=_named(self.owner),
            bearer=_named(self.bearer) if self.bearer.needed else "",
            payer=_named(self.payer) if self.payer.needed else "",
            items=slips.items_said(self.new_items(), KINDS),
            said=slips.story_said(told),
            wanted=slips.wanted_said(told),
            locks=slips.locks_said(told),
            allows=slips.allows_said(terms.get("allows") or []),
            limit=Money(limit, self.currency).words() if limit is not None else "",
            with_it=tuple(f"{count} × {words}" for words, count in said.get("accessories") or []),
        )

    @staticmethod
    def _said(form: forms.BaseForm) -> dict[str, Any]:
        return getattr(form, "cleaned_data", {})

    def lacks(self) -> list[str]:
        """What nobody can do without and is still missing, in the order of the page."""
        owner = self._said(self.owner) if self.is_bound else self.owner.initial
        reach = any(owner.get(name) for name in ("phone", "email", "address"))
        kinds = [item.kind for item in self.new_items()]
        lacking = {"name": not owner.get("name"), "how to reach them": not reach, "kind": not kinds or not all(kinds)}
        return [word for word, missing in lacking.items() if missing]


def _named(who: WhoForm) -> str:
    said = getattr(who, "cleaned_data", {}) or who.initial
    return ", ".join(part for part in (said.get("name"), said.get("company")) if part)
