"""The forms of talking to customers."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.core.validators import EmailValidator

from labcases.core.forms import HappenedField, LabForm, LineField, ProseField
from labcases.updates import wordings
from labcases.updates.actions import LONGEST_ADDRESS, LONGEST_SUBJECT
from labcases.updates.models import Message
from labcases.updates.queries import Words

Channel = Message.Channel


class AddressField(LineField):
    """One e-mail address."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.EmailInput(attrs={"autocomplete": "off", "spellcheck": "false"}))
        super().__init__(max_length=LONGEST_ADDRESS, **kwargs)
        self.validators.append(EmailValidator("This is no e-mail address. Give one, like name@example.com."))


def _choices(form: forms.Form, name: str, choices: list[tuple[str, str]]) -> None:
    cast(forms.ChoiceField, form.fields[name]).choices = choices


class ChooseWording(forms.Form):
    """Which wording to begin from; the page comes back filled in (GET)."""

    wording = forms.ChoiceField(label="Wording", required=False)

    def __init__(self, *args: Any, choice: list[Words], **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        _choices(self, "wording", [("", "own words"), *((words.key, words.title) for words in choice)])


class WriteForm(LabForm):
    """A mail to the customer."""

    wording = LineField(max_length=60, required=False, widget=forms.HiddenInput)
    to = AddressField(label="To")
    subject = LineField(label="Subject", max_length=LONGEST_SUBJECT)
    body = ProseField(label="Message", rows=16)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        for name in ("subject", "body"):
            if spots := wordings.still_open(said.get(name, "")):
                self.add_error(name, f"Still to be written: {'; '.join(spots)}.")
        return said


class NoteForm(LabForm):
    """A call, a chat, a letter, a talk: with whom, what was said, what was agreed."""

    channel = forms.ChoiceField(label="How", choices=Channel.choices, initial=Channel.PHONE, widget=forms.RadioSelect)
    incoming = forms.TypedChoiceField(
        label="Who had something to say",
        choices=[("no", "we told them"), ("yes", "they told us")],
        initial="no",
        coerce=lambda said: said == "yes",
        widget=forms.RadioSelect,
    )
    with_whom = LineField(label="With whom")
    wording = forms.ChoiceField(
        label="What it was about",
        required=False,
        help_text="A call that says “ready” counts like the mail that says so.",
    )
    body = ProseField(label="What was said", rows=4)
    agreed = ProseField(label="What was agreed", rows=2, required=False)
    happened = HappenedField()

    def __init__(self, *args: Any, choice: list[Words], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choices(self, "wording", [("", "something else"), *((words.key, words.title) for words in choice)])


class WordingForm(LabForm):
    """A text with gaps. Unknown gaps are named beside the field."""

    title = LineField(label="Title", max_length=200, help_text="What the staff choose it by.")
    subject = LineField(label="Subject", max_length=200)
    body = ProseField(label="Text", rows=18)
    in_use = forms.BooleanField(label="In use", required=False, initial=True)

    def clean_subject(self) -> str:
        return self._checked("subject")

    def clean_body(self) -> str:
        return self._checked("body")

    def _checked(self, name: str) -> str:
        text: str = self.cleaned_data[name]
        try:
            wordings.gaps_in(text)
        except wordings.BadWording as wrong:
            raise forms.ValidationError(str(wrong)) from None
        return text


class NewWordingForm(WordingForm):
    """A wording of the lab's own, or a default in another language."""

    field_order = ["once", "title", "stands_for", "language"]
    stands_for = forms.ChoiceField(
        label="Says the same as",
        required=False,
        help_text="For a wording in another language: which one it stands for.",
    )
    language = forms.RegexField(
        r"^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,4})?$",
        label="Language",
        initial="en",
        max_length=10,
        error_messages={"invalid": "Give the language as two letters, such as en, de or pa."},
        widget=forms.TextInput(attrs={"class": "short"}),
    )

    def __init__(self, *args: Any, choice: list[Words], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keys = {words.key: words.title for words in reversed(choice)}
        _choices(self, "stands_for", [("", "none of these"), *reversed(keys.items())])
        self.taken = {(words.key, words.language) for words in choice}

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if (said.get("stands_for"), said.get("language")) in self.taken:
            self.add_error("language", "This wording exists in that language. Open it and change it there.")
        return said


class TestMailForm(LabForm):
    """Where a test mail goes."""

    to = AddressField(label="To")


class MessageFilter(forms.Form):
    """What the list of messages is narrowed by."""

    q = LineField(label="Case", required=False, max_length=30)
    state = forms.ChoiceField(label="State", required=False, choices=[("", "every state"), *Message.State.choices])
    channel = forms.ChoiceField(label="How", required=False, choices=[("", "every way"), *Channel.choices])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})

    def narrow(self, messages: Any) -> Any:
        if not self.is_valid():
            return messages
        said = self.cleaned_data
        if said["q"]:
            folded = "".join(c for c in said["q"].upper() if c.isalnum())
            messages = messages.filter(case__thing__code__startswith=folded)
        for name in ("state", "channel"):
            if said[name]:
                messages = messages.filter(**{name: said[name]})
        return messages
