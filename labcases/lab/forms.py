"""The lab's own forms: log-in, profile, terms, staff, places."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import authenticate, password_validation
from django.http import HttpRequest
from django.utils import timezone

from labcases.core import money
from labcases.core.forms import LabForm, LineField, ProseField
from labcases.lab.models import FailedLogIn, Place, Profile, Staff
from labcases.lab.roles import PEOPLE

TRIES = 6
MEMORY = timedelta(minutes=15)


class LogInForm(LabForm):
    """Log-in with a brake: after six wrong passwords for a name, or from one address, it waits a quarter of an hour."""

    login = LineField(label="Log-in", max_length=150, widget=forms.TextInput(attrs={"autocomplete": "username"}))
    password = forms.CharField(
        label="Password",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        self.person: Staff | None = None

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if self.errors:
            return said
        login, address = said["login"].casefold()[:150], self.request.META.get("REMOTE_ADDR", "")
        recent = FailedLogIn.objects.filter(at__gt=timezone.now() - MEMORY)
        if recent.filter(login=login).count() >= TRIES or recent.filter(address=address).count() >= TRIES * 4:
            raise forms.ValidationError("Too many wrong passwords. Wait a quarter of an hour, or ask a manager.")
        self.person = authenticate(self.request, username=login, password=said["password"])
        if self.person is None:
            FailedLogIn.objects.create(login=login, address=address)
            raise forms.ValidationError(
                "This log-in and password do not belong together. Both are checked letter by letter."
            )
        FailedLogIn.objects.filter(login=login).delete()
        return said


class ProfileForm(LabForm):
    """Who the lab is."""

    name = LineField(label="Name", max_length=200)
    address = ProseField(label="Address", required=False, max_length=1000)
    phone = LineField(label="Phone", required=False, max_length=60)
    email = forms.EmailField(label="E-mail", required=False)
    tax_number = LineField(label="Tax number", required=False, max_length=60)
    country = LineField(
        label="Country",
        max_length=2,
        min_length=2,
        help_text="Two letters, ISO 3166-1: phone numbers are read as from there.",
    )
    currency = forms.ChoiceField(label="Currency", choices=[(code, code) for code in money.currencies()])
    tax_rate = forms.DecimalField(
        label="Tax, %", min_value=0, max_value=100, decimal_places=2, help_text="Stands in new quotes."
    )
    time_zone = forms.ChoiceField(label="Time zone", choices=[(zone, zone) for zone in sorted(available_timezones())])
    paper_size = forms.ChoiceField(label="Paper", choices=[("A4", "A4"), ("Letter", "Letter")])
    keep_days = forms.IntegerField(
        label="Days kept", min_value=1, max_value=365, help_text="How long a copy is kept after handover."
    )
    logo = forms.ImageField(label="Logo", required=False, help_text="PNG or JPEG, up to 1 MB. It heads every paper.")

    @classmethod
    def initial_of(cls, profile: Profile) -> dict[str, Any]:
        known = {name: getattr(profile, name) for name in cls.base_fields if name not in ("once", "logo", "tax_rate")}
        return known | {"tax_rate": f"{profile.tax_rate / 100:.2f}"}

    def clean_country(self) -> str:
        return str(self.cleaned_data["country"]).upper()

    def clean_logo(self) -> Any:
        logo = self.cleaned_data["logo"]
        if logo and logo.size > 1_000_000:
            raise forms.ValidationError("This picture is larger than 1 MB. Save it smaller and choose it again.")
        if logo and logo.image.format not in ("PNG", "JPEG"):
            raise forms.ValidationError("The logo is a PNG or JPEG picture.")
        return logo


class TermsForm(LabForm):
    version = LineField(label="Version", max_length=60, help_text="For example its date. It stands on every receipt.")
    text = ProseField(label="Text", rows=18, max_length=50_000)


class StaffForm(LabForm):
    """A new member of staff, or changes to one: then an empty password leaves it as it is."""

    name = LineField(label="Name", max_length=200)
    login = LineField(label="Log-in", max_length=150, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    roles = forms.MultipleChoiceField(
        label="Roles", choices=[(role, role) for role in PEOPLE], widget=forms.CheckboxSelectMultiple
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        required=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 12 characters; a sentence is good. No rule about digits or signs.",
    )
    is_active = forms.BooleanField(label="May log in", required=False, initial=True)

    def __init__(self, *args: Any, person: Staff | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_login(self) -> str:
        login = str(self.cleaned_data["login"]).casefold()
        if Staff.objects.filter(login=login).exclude(pk=self.person.pk if self.person else 0).exists():
            raise forms.ValidationError("Somebody has this log-in already. Choose another.")
        return login

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        password = said.get("password", "")
        if not password and self.person is None:
            self.add_error("password", "A new member of staff needs a password.")
        if password:
            try:
                password_validation.validate_password(
                    password, Staff(login=said.get("login", ""), name=said.get("name", ""))
                )
            except forms.ValidationError as weak:
                self.add_error("password", weak)
        return said


class PlaceForm(LabForm):
    name = LineField(label="Name", max_length=100)
    kind = forms.ChoiceField(label="Kind", choices=Place.Kind.choices)
    in_use = forms.BooleanField(label="In use", required=False, initial=True)

    def __init__(self, *args: Any, place: Place | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.place = place

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        if Place.objects.filter(name__iexact=name).exclude(pk=self.place.pk if self.place else 0).exists():
            raise forms.ValidationError("There is a place of this name already.")
        return name
