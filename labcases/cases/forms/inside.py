"""What is known of the inside of a medium, as patients and donors are asked for it alike."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from labcases.core.forms import CountField, LineField, ProseField
from labcases.media.inside import NotReadable, codes_in_words, codes_said, heads_said, ids_said, offsets_said

COPIED = {"class": "code", "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
OLDEST = date(1950, 1, 1)


class CodedField(LineField):
    """What is copied from a label: serial, model, board number."""

    widget = forms.TextInput(attrs=COPIED)


class MadeField(forms.DateField):
    """The day something was made, which has been."""

    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    default_error_messages = {"invalid": "Write the day as 2024-03-09, or leave it blank."}

    def clean(self, value: Any) -> date | None:
        made: date | None = super().clean(value)
        if made and not OLDEST <= made <= timezone.localdate() + timedelta(days=1):  # tomorrow, where it was made
            raise forms.ValidationError(f"{made.isoformat()} is no day on which it can have been made.")
        return made


class KeptField(LineField):
    """What is written down of the inside of a medium: read generously, kept in one way (``media.inside``)."""

    widget = forms.TextInput(attrs=COPIED)

    def __init__(self, *, read: Callable[[str], str], **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)
        self.read = read

    def to_python(self, value: Any) -> str:
        try:
            return self.read(super().to_python(value))
        except NotReadable as wrong:
            raise forms.ValidationError(str(wrong)) from None


class LabelCodesField(ProseField):
    """Codes on labels that the lab compares, one a line; cleans to names with their values."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(label="Label codes", required=False, rows=2, max_length=4000, **kwargs)
        self.help_text = self.help_text or "Those the lab compares, one a line, for example: HEAD CODE: 4K7."

    def prepare_value(self, value: Any) -> Any:
        return codes_in_words(value) if isinstance(value, dict) else value

    def to_python(self, value: Any) -> Any:
        try:
            return codes_said(super().to_python(value))
        except NotReadable as wrong:
            raise forms.ValidationError(str(wrong)) from None


class InsideFields(forms.Form):
    """What is known of the inside of a medium, for patients and donors alike. Blank is not known."""

    heads = CountField(label="Heads fitted", required=False, max_value=99)
    head_map = KeptField(
        label="Heads by position", read=heads_said, max_length=200, help_text="From the lowest, 0: 0 1 2 3, or 0-3."
    )
    head_offsets = KeptField(
        label="Radial offsets", read=offsets_said, max_length=600, help_text="One for each head, the lowest first."
    )
    platters = CountField(label="Platters", required=False, max_value=99)
    preamplifier = CodedField(label="Preamplifier", required=False, max_length=60)
    motor = CodedField(label="Motor", required=False, max_length=60)
    base_casting = CodedField(label="Base casting", required=False, max_length=60)
    board_number = CodedField(label="Board number", required=False, max_length=60)
    board_revision = CodedField(label="Board revision", required=False, max_length=60)
    main_chip = CodedField(label="Main chip", required=False, max_length=60)
    flash_controller = CodedField(label="Flash controller", required=False, max_length=60)
    flash_ids = KeptField(
        label="Flash ids", read=ids_said, max_length=600, help_text="Chip by chip, apart by semicolons."
    )
    channels = CountField(label="Channels", required=False, max_value=99)
    bridge_number = CodedField(label="Bridge number", required=False, max_length=60)
    encryption_generation = CodedField(label="Encryption generation", required=False, max_length=60)
    codes = LabelCodesField()

    PLATTERS = ("heads", "head_map", "head_offsets", "platters", "preamplifier", "motor", "base_casting")
    BOARD = ("board_number", "board_revision", "main_chip")
    FLASH = ("flash_controller", "flash_ids", "channels")
    BRIDGE = ("bridge_number", "encryption_generation")
    NAMES_INSIDE = (*PLATTERS, *BOARD, *FLASH, *BRIDGE, "codes")

    @property
    def inside(self) -> list[Any]:
        """All but the board number, which stands with the label."""
        return [self[name] for name in self.NAMES_INSIDE if name != "board_number"]
