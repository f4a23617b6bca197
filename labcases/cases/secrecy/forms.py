"""The form that takes a secret. It is never shown again in it, and no draft or hash of it is kept."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.cases.models import Case, Item
from labcases.cases.secrecy.models import CaseSecret
from labcases.cases.secrets import Plain
from labcases.core.forms import HappenedField, LabForm, LineField

LONGEST = 2_000


class NeverShownAgain(forms.TextInput):
    """Readable while it is typed (long keys are copied from paper), and blank when the page comes back."""

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        return super().get_context(name, None, attrs)


class SecretField(forms.CharField):
    """Text that says nothing of itself once it is cleaned. Blanks inside count; those at its ends do not."""

    def __init__(self, **kwargs: Any) -> None:
        still = {"autocomplete": "off", "autocapitalize": "off", "autocorrect": "off", "spellcheck": "false"}
        super().__init__(max_length=LONGEST, widget=NeverShownAgain(attrs={**still, "class": "code"}), **kwargs)

    def clean(self, value: Any) -> Plain:
        return Plain(super().clean(value))


class PutSecretForm(LabForm):
    """``password`` is the name of the field whatever it holds: fields of that name are held nowhere."""

    unhashed = frozenset({"password"})
    kind = forms.ChoiceField(label="Kind", choices=CaseSecret.Kind.choices, widget=forms.RadioSelect)
    item = forms.ModelChoiceField(
        label="Of item", queryset=Item.objects.none(), required=False, empty_label="the whole case"
    )
    opens = LineField(
        label="What it opens",
        required=False,
        max_length=100,
        help_text="For example: the second partition. Not the secret.",
    )
    password = SecretField(
        label="The secret itself",
        error_messages={"required": "Type the secret: what is noted elsewhere is not safe."},
        help_text="Exactly as it is typed to unlock. A pattern as digits: 1 is top left, 9 bottom right.",
    )
    happened = HappenedField()

    def __init__(self, *args: Any, case: Case, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        items: Any = self.fields["item"]
        items.queryset = case.items.select_related("thing")


class EraseSecretForm(LabForm):
    because = LineField(label="Why", help_text="For example: mistyped.")
    happened = HappenedField()
