"""Who somebody is and how to reach them, as typed at the counter."""

from __future__ import annotations

from typing import Any, cast

from django import forms

from labcases.core.forms import LabForm, LineField, ProseField
from labcases.people import phone
from labcases.people.models import Party

REACH = "Say how to reach them: a phone number, an e-mail address or a postal address."
WHO = "Say who it is. One name is enough."
LONGEST = {"max_length": "This is longer than %(limit_value)d characters. Shorten it; the rest fits into a note."}
CONTACT = ("phone", "name", "company", "email", "address", "tax_number", "language", "channel")


class PhoneField(LineField):
    """A number as people write it, read in the lab's country; gives E.164, or nothing when left blank."""

    def __init__(self, *args: Any, country: str = "", **kwargs: Any) -> None:
        self.country = country
        kwargs.setdefault("max_length", 60)
        kwargs.setdefault("widget", forms.TextInput(attrs={"class": "code", "inputmode": "tel", "autocomplete": "off"}))
        super().__init__(*args, **kwargs)

    def clean(self, value: Any) -> str:
        typed: str = super().clean(value)
        if not typed:
            return ""
        try:
            number = phone.read(typed, self.country)
        except phone.NotAPhone as mistake:
            raise forms.ValidationError(str(mistake)) from None
        if inside := phone.extension(typed, self.country):
            raise forms.ValidationError(f"Write the number alone here, and “ext. {inside}” behind the name.")
        return number


class _Contact(forms.Form):
    """The fields that say who somebody is and where they are reached."""

    phone = PhoneField(label="Phone", required=False)
    name = LineField(
        label="Name", required=False, error_messages=LONGEST, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    email = forms.EmailField(
        label="E-mail",
        required=False,
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
        error_messages={"invalid": "Write the e-mail address like name@example.com.", **LONGEST},
    )
    company = LineField(label="Firm", required=False, error_messages=LONGEST)
    address = ProseField(label="Address for return", required=False, rows=2, max_length=2_000, error_messages=LONGEST)
    tax_number = LineField(label="Tax number", required=False, max_length=60, error_messages=LONGEST)
    language = LineField(label="Language", required=False, max_length=10, help_text="as a tag: en, pa, pt-BR")
    channel = forms.ChoiceField(
        label="Best reached by", required=False, choices=[("", "not known"), *Party.Channel.choices]
    )

    def __init__(self, *args: Any, country: str, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        cast(PhoneField, self.fields["phone"]).country = country

    def _needs_name_and_reach(self, said: dict[str, Any]) -> None:
        """The two things nobody can do without; a field that is wrong already says so itself."""
        if not said.get("name") and "name" not in self.errors:
            self.add_error("name", WHO)
        if not any(said.get(field) for field in ("phone", "email", "address")) and not {"phone", "email"} & {
            *self.errors
        }:
            self.add_error("phone", REACH)


class WhoForm(_Contact):
    """An owner, bearer or payer at the counter. ``known`` is the party that was taken from the list, if any.

    With ``needed`` False nothing is asked for: somebody else than this one brings or pays.
    """

    known = forms.ModelChoiceField(
        Party.objects.select_related("merged_into"),
        required=False,
        widget=forms.HiddenInput,
        error_messages={"invalid_choice": "The customer taken from the list is not on file any more. Look again."},
    )

    def __init__(self, *args: Any, needed: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.needed = needed
        self.fields["name"].required = needed
        self.fields["name"].error_messages["required"] = WHO

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if not self.needed:
            return said
        self._needs_name_and_reach(said)
        known = said.get("known")
        if known and known.merged_into:
            self.add_error(
                "name",
                f"The record of {known.name} has gone into that of {known.merged_into.name}. Take that one instead: "
                "the button stands above the name.",
            )
        elif known and said.get("name") and said["name"].casefold() != known.name.casefold():
            self.add_error(
                "name",
                f"You took {known.name} from the list, and the name now says something else. For a new customer press "
                "“Somebody else”; a wrong name is corrected on the customer's own page.",
            )
        return said

    def told(self) -> dict[str, Any]:
        """What ``people.actions.remember`` takes."""
        return {"party": self.cleaned_data.get("known"), **{name: self.cleaned_data[name] for name in CONTACT}}

    @property
    def party(self) -> Party | None:
        """Who was taken from the list."""
        return getattr(self, "cleaned_data", {}).get("known") or self.initial.get("known")


class PartyForm(LabForm, _Contact):
    """Everything known of a party, to correct it."""

    note = ProseField(label="Note", required=False, help_text="Seen by staff only.")
    on_account = forms.BooleanField(label="Is billed monthly", required=False)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        self._needs_name_and_reach(said)
        return said


def typed_from(party: Party, country: str) -> dict[str, Any]:
    """A known party as the fields show it."""
    values = {name: getattr(party, name) for name in CONTACT}
    return {**values, "phone": phone.shown(party.phone, country) if party.phone else "", "known": party.pk}
