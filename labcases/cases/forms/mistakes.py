"""The summary of mistakes of a form that is made of parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django import forms

from labcases.core.forms import LabForm


def mistakes(form: LabForm, parts: Iterable[tuple[str, forms.BaseForm]]) -> Iterator[dict[str, Any]]:
    """The summary of a form and its parts: what is said, of which field, and where that field is."""
    yield from ({"said": str(said)} for said in form.non_field_errors())
    for part, one in (("", form), *parts):
        for field in one:
            label = f"{part}: {field.label}" if part else field.label
            anchor = "" if field.is_hidden else field.auto_id
            yield from ({"said": str(said), "label": label, "anchor": anchor} for said in field.errors)
