"""What stands on the label of a medium, typed while one sees it."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.cases.families import family_of
from labcases.cases.forms.inside import MadeField
from labcases.cases.forms.item import LIFTED
from labcases.cases.models import Item
from labcases.core.forms import CountField, LabForm, LineField

LARGE = LIFTED | {"class": "code large"}


def _large(label: str, longest: int, **more: Any) -> LineField:
    return LineField(
        label=label, required=False, max_length=longest, widget=forms.TextInput(attrs=LARGE | more), strip=True
    )


class LabelForm(LabForm):
    """The fields of a label in the order in which most labels print them. A blank one is not known."""

    maker = _large("Maker", 100, autocapitalize="words")
    model = _large("Model", 100)
    serial = _large("Serial", 100)
    firmware = _large("Firmware", 60)
    sectors = CountField(
        label="Sectors (LBA)",
        required=False,
        min_value=1,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "code large", "autocomplete": "off"}),
    )
    board_number = _large("Board number", 60)
    made = MadeField(label="Made", required=False)
    plant = _large("Plant", 60)
    label_codes = _large("Also printed on it", 300)

    NAMES = (
        "maker", "model", "serial", "firmware", "sectors", "board_number", "made", "plant", "label_codes",
    )  # fmt: skip

    @classmethod
    def initial_of(cls, item: Item) -> dict[str, Any]:
        return {name: getattr(item, name) for name in cls.NAMES}

    def changes(self, item: Item) -> dict[str, Any]:
        """What ``correct_item`` takes. Another model number may belong to another family."""
        said = {name: self.cleaned_data[name] for name in self.NAMES}
        if (said["maker"], said["model"]) != (item.maker, item.model):
            said["family"] = family_of(said["maker"], said["model"])
        return said
