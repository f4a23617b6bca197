"""The fields of an intake that Django has none for."""

from __future__ import annotations

import base64
import binascii
import io
import warnings
from typing import Any

from django import forms
from PIL import Image, UnidentifiedImageError

from labcases.cases import lines
from labcases.cases.intake import WantedLine
from labcases.core.forms import ProseField

LARGEST_SIGNATURE = 200_000  # characters of the data address
LARGEST_SIDE = 6_000  # pixels: a wide screen at three dots a pixel, and room to spare
PNG = "data:image/png;base64,"


class Part(forms.Form):
    """A part of a larger form: it has no one-time key of its own."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)


class Picks(forms.MultipleChoiceField):
    """Several of a list; nothing picked means that nobody asked yet."""

    def __init__(self, table: dict[str, str], **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        kwargs.setdefault("widget", forms.CheckboxSelectMultiple)
        super().__init__(choices=list(table.items()), **kwargs)


class OneOf(forms.ChoiceField):
    """One of a list, drawn as picks."""

    def __init__(self, table: dict[str, str], **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        kwargs.setdefault("widget", forms.RadioSelect)
        super().__init__(choices=list(table.items()), **kwargs)


class CountedLines(ProseField):
    """Things along, one a line with their number; gives words and counts."""

    def clean(self, value: Any) -> list[tuple[str, int]]:
        try:
            counted = lines.counted_lines(super().clean(value))
        except lines.TooMany as mistake:
            raise forms.ValidationError(str(mistake)) from None
        if long := next((words for words, _ in counted if len(words) > 200), ""):
            raise forms.ValidationError(f"“{long[:40]}…” is too long for one line. Write each thing on its own line.")
        return counted


class WantedField(ProseField):
    """The wanted list, one wish a line."""

    def clean(self, value: Any) -> list[WantedLine]:
        wanted = lines.wanted_lines(super().clean(value))
        if long := next((line.what for line in wanted if len(line.what) > 300), ""):
            raise forms.ValidationError(f"“{long[:40]}…” is too long for one line. Break it into several lines.")
        return wanted


class SignatureField(forms.CharField):
    """A drawn signature as a PNG data address; gives the PNG's bytes, empty when nothing was drawn.

    It is opened and written anew, so that nothing but the drawing is kept, whatever was sent.
    """

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        kwargs.setdefault("widget", forms.HiddenInput)
        kwargs.setdefault("label", "Signature")
        super().__init__(max_length=LARGEST_SIGNATURE, **kwargs)
        self.error_messages["max_length"] = "This signature is too large a picture. Clear it and sign once more."

    def clean(self, value: Any) -> bytes:
        sent = super().clean(value)
        return _drawing(sent) if sent else b""


def _drawing(sent: str) -> bytes:
    wrong = forms.ValidationError(
        "What was drawn is no picture we can keep. Clear it and sign once more, or sign on paper."
    )
    if not sent.startswith(PNG):
        raise wrong
    try:
        data = base64.b64decode(sent.removeprefix(PNG), validate=True)
        picture = _opened(data)
    except (binascii.Error, UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise wrong from None
    darkest, lightest = picture.getextrema()
    if darkest == lightest:
        raise forms.ValidationError("Nothing is drawn yet. Sign in the field, or sign on the printed form.")
    out = io.BytesIO()
    picture.save(out, "PNG", optimize=True)
    return out.getvalue()


def _opened(data: bytes) -> Image.Image:
    """Dark on white, whatever colours and transparency were sent. The size is looked at before anything is unpacked."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        with Image.open(io.BytesIO(data), formats=["PNG"]) as picture:
            if max(picture.size) > LARGEST_SIDE:
                raise ValueError("too large")
            drawn = picture.convert("RGBA")
    white = Image.new("RGBA", drawn.size, "white")
    return Image.alpha_composite(white, drawn).convert("L")
