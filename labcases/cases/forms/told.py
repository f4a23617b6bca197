"""What the customer tells: the story, what is wanted, and which locks there are."""

from __future__ import annotations

from typing import Any

from django import forms

from labcases.cases import words
from labcases.cases.forms.fields import OneOf, Part, Picks, WantedField
from labcases.cases.intake import Told
from labcases.cases.models import Case
from labcases.core.forms import LineField, ProseField

KNOWS = {"": "not known", "yes": "yes", "no": "no"}


class ToldForm(Part):
    """Story, wanted, locks. No field of it may hold a secret; only which lock it is and whether it is known."""

    stories = Picks(words.STORIES, label="What happened")
    story = ProseField(label="In their words", required=False, rows=2)
    story_when = LineField(
        label="When", required=False, max_length=100, help_text="as told: “Sunday night”, “over months”"
    )
    tried = Picks(words.TRIED, label="Tried since")
    powered_since = OneOf({"yes": "yes", "no": "no", "": "not known"}, label="Powered since")
    wanted = WantedField(
        label="In this order",
        required=False,
        rows=2,
        max_length=20_000,
        help_text="One wish a line, the dearest first: folders, kinds of files, dates, programs. A ! makes it urgent.",
    )
    wanted_about = LineField(label="About how much", required=False, max_length=200)
    partial_is_worth = OneOf({"yes": "yes", "no": "no", "": "not known"}, label="Is a part worth paying for")
    locks = Picks(words.LOCKS, label="There is", widget=forms.CheckboxSelectMultiple(attrs={"class": "locks"}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind, label in words.LOCKS.items():
            self.fields[knows(kind)] = forms.ChoiceField(
                label=f"{label.capitalize()}: does the customer know it?", required=False, choices=list(KNOWS.items())
            )
        self.initial = {"powered_since": "", "partial_is_worth": "", **self.initial}

    def told(self) -> Told:
        """The record; of a form with mistakes, what is right in it."""
        said: dict[str, Any] = getattr(self, "cleaned_data", {})
        filled: dict[str, Any] = {name: said.get(name) or [] for name in ("stories", "tried", "wanted")}
        for name in ("story", "story_when", "powered_since", "wanted_about", "partial_is_worth"):
            filled[name] = said.get(name) or ""
        locks = [(kind, said.get(knows(kind)) or "") for kind in said.get("locks") or []]
        return Told(locks=locks, **filled)

    def lock_rows(self) -> list[tuple[str, Any]]:
        """Each kind of lock with the field that asks whether the customer knows it."""
        return [(kind, self[knows(kind)]) for kind in words.LOCKS]

    @staticmethod
    def initial_of(case: Case) -> dict[str, Any]:
        """What is known so far; wanted lines and locks are added to, so they stay blank."""
        names = ("stories", "story", "story_when", "tried", "powered_since", "wanted_about", "partial_is_worth")
        return {name: getattr(case, name) for name in names}


def knows(kind: str) -> str:
    """The name of the field that asks whether the customer knows this lock."""
    return f"knows_{kind.replace(' ', '_')}"
