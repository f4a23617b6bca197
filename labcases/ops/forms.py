"""The form of the first manager."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from labcases.core.forms import LabForm, LineField
from labcases.lab.models import Staff


def _password(label: str, **kwargs: Any) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "new-password"})
    return forms.CharField(label=label, strip=False, max_length=500, widget=widget, **kwargs)


class FirstManagerForm(LabForm):
    lab = LineField(label="Name of the lab", max_length=200, help_text="It heads every paper; you can change it later.")
    name = LineField(label="Your name", max_length=200)
    login = LineField(
        label="Log-in",
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "off"}),
    )
    password = _password("Password", help_text="At least 12 characters; four unrelated words make a good one.")
    again = _password("Password again")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        password, again = data.get("password"), data.get("again")
        if password and again and password != again:
            self.add_error("again", "The two passwords differ. Type the same one twice.")
        if password:
            try:
                validate_password(password, Staff(login=data.get("login", ""), name=data.get("name", "")))
            except forms.ValidationError as problem:
                self.add_error("password", problem)
        return data
