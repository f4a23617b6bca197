"""Forms for bench computers."""

from __future__ import annotations

from django import forms

from labcases.api.models import BenchComputer
from labcases.api.scopes import SCOPES
from labcases.core.forms import LabForm, LineField, ProseField


class AdmitForm(LabForm):
    name = LineField(
        label="Name", max_length=100, help_text="As people call it: Bench 2.", error_messages={"required": "Name it."}
    )
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=list(SCOPES.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Say what it may do."},
    )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if BenchComputer.objects.admitted().filter(name=name).exists():
            raise forms.ValidationError("A bench computer of this name is admitted already. Revoke that one first.")
        return name


class RevokeForm(LabForm):
    because = ProseField(
        label="Why", max_length=500, rows=2, error_messages={"required": "Say why: the record asks for it."}
    )
