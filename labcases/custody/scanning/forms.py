"""Scanning, confirming, PINs, and what the lab asks for."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from labcases.core.forms import CountField, HappenedField, LabForm, ProseField
from labcases.custody.models import CustodyRules, Witness
from labcases.custody.scanning import actions, queries
from labcases.lab.models import Place, Staff
from labcases.paper.labels import SIZES

MOST_WITNESSES = 20
DIGITS = {"inputmode": "numeric", "autocomplete": "off", "class": "code short"}


class Listed(forms.MultipleChoiceField):
    """Codes that the page itself listed; those that are not among the things mean nothing."""

    def valid_value(self, value: Any) -> bool:
        return True


class ScanForm(LabForm):
    """Things, then where they go: scanned in that order, or typed; nothing that was typed is ever cleared."""

    scanned = forms.CharField(
        label="Scanned",
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 4, "class": "code", "data-scanned": "", "autocapitalize": "characters"}),
        help_text="Things first, then the place or badge they go to. A shelf that is scanned first brings all that "
        "lies on it. Or type the codes, with blanks between.",
    )
    place = forms.ModelChoiceField(
        label="or put in", queryset=Place.objects.filter(in_use=True), required=False, empty_label="as scanned"
    )
    staff = forms.ModelChoiceField(
        label="or hand to", queryset=Staff.objects.filter(is_active=True), required=False, empty_label="as scanned"
    )
    leave = Listed(required=False)
    pin = forms.CharField(
        label="PIN of who takes it", required=False, max_length=12, widget=forms.PasswordInput(attrs=DIGITS)
    )
    because = ProseField(label="Why", required=False, rows=1, max_length=500)
    happened = HappenedField()
    unhashed = frozenset({"pin"})

    def __init__(self, *args: Any, by: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by = by
        self.understood = queries.Understood()
        self.confirmed = ""

    def look(self, scanned: str, place: Place | None, staff: Staff | None) -> queries.Understood:
        """What was scanned; a place or colleague that was chosen counts before one that was scanned."""
        self.understood = queries.understood(scanned)
        if place or staff:
            self.understood.place, self.understood.staff = place, None if place else staff
        return self.understood

    @property
    def asks_other(self) -> Staff | None:
        """Who else has to confirm, None when nobody has to."""
        to = self.understood.staff
        return to if to and to != self.by and queries.both_confirm() else None

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("place") and said.get("staff"):
            raise ValidationError("Say where they go: one place, or one colleague.")
        found = self.look(said.get("scanned", ""), said.get("place"), said.get("staff"))
        if found.wrong:
            self.add_error("scanned", found.wrong)
        left = {str(code) for code in said.get("leave", [])}
        said["things"] = [thing for thing in found.things if thing.code not in left]
        if not said["things"] and not found.wrong:
            self.add_error("scanned", "Nothing was scanned that could go anywhere. Scan the things first.")
        if found.to is None and not found.wrong:
            self.add_error("scanned", "Say where they go: scan a place or a badge, or choose one.")
        self._confirm(said)
        return said

    def _confirm(self, said: dict[str, Any]) -> None:
        """A PIN is tried only when all else is right, so that a wrong form costs no try."""
        other, pin = self.asks_other, str(said.get("pin") or "")
        if other is None or not pin or self.errors:
            return
        if trouble := actions.pin_trouble(other, pin):
            self.add_error("pin", trouble)
        else:
            self.confirmed = f"{other}, with a PIN"


class PinForm(LabForm):
    """One's own PIN; the password is asked for, since a screen may stand open."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    pin = forms.CharField(
        label="New PIN", max_length=12, widget=forms.PasswordInput(attrs=DIGITS),
        help_text="4 to 12 digits, no plain row. You confirm with it at a colleague's screen that you took something.",
    )  # fmt: skip
    again = forms.CharField(label="The same again", max_length=12, widget=forms.PasswordInput(attrs=DIGITS))
    unhashed = frozenset({"password", "pin", "again"})

    def __init__(self, *args: Any, person: Staff, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_password(self) -> str:
        if not self.person.check_password(self.cleaned_data["password"]):
            raise ValidationError("This is not your password.")
        return ""

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("pin") and said.get("again") and said["pin"] != said["again"]:
            self.add_error("again", "The two are not the same.")
        return said


class RefuseForm(LabForm):
    because = ProseField(label="Why not", rows=2, max_length=1000)


class RulesForm(LabForm):
    """What the lab asks for in custody."""

    both_confirm = forms.BooleanField(
        label="A hand-over between people asks for both", required=False,
        help_text="Who takes it confirms by PIN or on a page of their own. Never asked where one person works alone.",
    )  # fmt: skip
    witnesses = ProseField(
        label="Witnesses of the ledger", required=False, rows=4, max_length=4000,
        help_text="E-mail addresses outside the lab, one a line. Each is sent the signed head every day, and can later "
        "tell whether the past was changed. It says nothing of any case.",
    )  # fmt: skip

    @classmethod
    def initial_of(cls) -> dict[str, Any]:
        addresses = Witness.objects.values_list("address", flat=True)
        return {"both_confirm": CustodyRules.current().both_confirm, "witnesses": "\n".join(addresses)}

    def clean_witnesses(self) -> list[str]:
        typed = re.split(r"[\s,;]+", self.cleaned_data["witnesses"])
        addresses = list(dict.fromkeys(one.casefold() for one in typed if one))
        for one in addresses:
            try:
                validate_email(one)
            except ValidationError:
                raise ValidationError(f"“{one[:100]}” is not an e-mail address.") from None
        if len(addresses) > MOST_WITNESSES:
            raise ValidationError(f"Up to {MOST_WITNESSES} witnesses are told.")
        return addresses


class BadgeForm(LabForm):
    """Whose badges and which places' labels are printed."""

    people = forms.ModelMultipleChoiceField(
        label="Badges", required=False, queryset=Staff.objects.filter(is_active=True),
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    places = forms.ModelMultipleChoiceField(
        label="Places", required=False, queryset=Place.objects.filter(in_use=True), widget=forms.CheckboxSelectMultiple
    )
    size = forms.ChoiceField(label="Labels", choices=[(key, size.words) for key, size in SIZES.items()])
    first = CountField(label="First free label on the sheet", min_value=1, max_value=60, initial=1)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not self.errors and not said["people"] and not said["places"]:
            raise ValidationError("Choose at least one person or place.")
        return said
