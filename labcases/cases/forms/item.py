"""One medium as it lies on the counter."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.cases import words
from labcases.cases.families import family_of
from labcases.cases.forms.fields import Part, Picks
from labcases.cases.forms.inside import InsideFields, MadeField
from labcases.cases.intake import NewItem
from labcases.cases.models import Item
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.custody.models import MediumKind

USUAL = ("disk25", "disk35", "external", "ssd", "nvme", "stick", "card", "phone", "nas", "member")
KINDS = dict(MediumKind.choices)
GROUPED = [
    ("", [(kind, KINDS[kind]) for kind in USUAL]),
    ("more kinds", [(kind, label) for kind, label in MediumKind.choices if kind not in USUAL]),
]
MOST_ITEMS = 60
PLAIN = ("maker", "model", "serial", "firmware", "interface", "board_number", "label_codes", "slot", "note")
LIFTED = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "class": "code"}


class KindSelect(forms.RadioSelect):
    """The usual kinds at hand, the others folded away until they are wanted."""

    template_name = "cases/widgets/kinds.html"
    option_template_name = "django/forms/widgets/radio_option.html"


class ItemFields(forms.Form):
    """What is noted of a medium. Only the kind is needed; everything else may be not known."""

    kind = forms.ChoiceField(
        label="Kind",
        choices=GROUPED,
        widget=KindSelect,
        error_messages={
            "required": "Say what kind of thing it is; “something else” is a kind too.",
            "invalid_choice": "This kind is not in the list. Choose one, or “something else” and say what it is.",
        },
    )
    kind_words = LineField(label="What it is", required=False, max_length=100)
    maker = LineField(
        label="Maker", required=False, max_length=100, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    model = LineField(label="Model", required=False, max_length=100, widget=forms.TextInput(attrs=LIFTED))
    serial = LineField(label="Serial", required=False, max_length=100, widget=forms.TextInput(attrs=LIFTED))
    sectors = CountField(label="Sectors (LBA)", required=False, min_value=1)
    firmware = LineField(label="Firmware", required=False, max_length=60, widget=forms.TextInput(attrs=LIFTED))
    interface = LineField(label="Interface", required=False, max_length=40)
    board_number = LineField(label="Board number", required=False, max_length=60, widget=forms.TextInput(attrs=LIFTED))
    made = MadeField(label="Made", required=False)
    slot = LineField(label="Slot", required=False, max_length=40, help_text="its place in an array")
    label_codes = LineField(
        label="Also printed on it", required=False, help_text="capacity, part numbers, dates as they stand"
    )
    marks = Picks(words.MARKS, label="Outside")
    behaviours = Picks(words.BEHAVIOURS, label="It …")
    note: forms.CharField = ProseField(label="Note", required=False, rows=1, max_length=2_000)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if said.get("kind") == MediumKind.OTHER and not said.get("kind_words") and "kind_words" not in self.errors:
            self.add_error("kind_words", "Say in a few words what it is.")
        if "nothing" in said.get("marks", []) and len(said["marks"]) > 1:
            self.add_error("marks", "“Nothing seen” and something seen cannot both be. Take one back.")
        return said


class ItemForm(ItemFields, Part):
    """An item among others on the take-in page. ``page`` and ``file`` are a page of the medium, on its way to be read.

    ``read``, ``lines`` and ``unread`` say what came of it, ``hint`` which family it is one of; they are put here to
    be shown.
    """

    sector_bytes = CountField(required=False, min_value=1, max_value=65_536, widget=forms.HiddenInput)
    reading = forms.IntegerField(required=False, min_value=1, max_value=2**53, widget=forms.HiddenInput)
    page = forms.CharField(
        label="Its page",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={**LIFTED, "autocapitalize": "off", "rows": 2}),
        help_text="The identify page as a hex listing. What is blank is filled in.",
    )
    file = forms.FileField(label="or its file", required=False, allow_empty_file=True)
    read: Any = None
    lines: Any = ()
    unread: Any = ()
    hint: Any = None

    def clean_page(self) -> str:
        page: str = self.cleaned_data["page"]
        if page.strip():
            raise forms.ValidationError(
                "A page stands here that was not read yet. Press “Read this page”, or empty it."
            )
        return ""

    def noted(self) -> dict[str, Any]:
        """What is typed of it so far, by attribute."""
        return {**self.initial, **getattr(self, "cleaned_data", {})}

    note: forms.CharField = LineField(label="Note", required=False)  # one line, so that Enter moves on

    def new_item(self) -> NewItem:
        """The record; of a form with mistakes, what is right in it."""
        said = getattr(self, "cleaned_data", {})
        plain: dict[str, Any] = {name: said.get(name) or "" for name in PLAIN}
        return NewItem(
            kind=said.get("kind") or "",
            kind_words=said.get("kind_words") or "" if said.get("kind") == MediumKind.OTHER else "",
            sectors=said.get("sectors"),
            sector_bytes=said.get("sector_bytes"),
            made=said.get("made"),
            marks=said.get("marks") or [],
            behaviours=said.get("behaviours") or [],
            **plain,
        )


class CorrectItemForm(LabForm, InsideFields, ItemFields):  # type: ignore[misc] # the board number stands in both
    """What was noted of an item, put right."""

    sector_bytes = CountField(label="Bytes in a sector", required=False, min_value=1, max_value=65_536)
    plant = LineField(label="Plant", required=False, max_length=60)
    recording = forms.ChoiceField(
        label="Recording", required=False, choices=[("", "not known"), *words.RECORDINGS.items()],
        help_text="A shingled disk has a bench order of its own.",
    )  # fmt: skip
    because = LineField(
        label="Why", required=False, help_text="Stands in the day-book beside what it was and what it is now."
    )

    happened = HappenedField()

    NAMES = (
        "kind", "kind_words", *PLAIN, "sectors", "sector_bytes", "made", "plant", "recording", "marks", "behaviours",
        *(name for name in InsideFields.NAMES_INSIDE if name not in PLAIN),
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


class _Items(forms.BaseFormSet):  # type: ignore[type-arg]  # not subscriptable at run time
    """The items of one intake: always at least one."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        gone = {"missing_management_form": "The list of items did not arrive whole. Go back and send the form again."}
        super().__init__(*args, **{**kwargs, "error_messages": gone})

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        """An item that was added and left blank is not passed over: one says what it is, or takes it out."""
        return {**super().get_form_kwargs(index), "empty_permitted": False, "use_required_attribute": False}


ItemFormSet = forms.formset_factory(
    ItemForm, formset=_Items, extra=0, min_num=1, max_num=MOST_ITEMS, absolute_max=MOST_ITEMS, validate_max=True
)
