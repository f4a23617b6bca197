"""The rest of an unfinished intake: what was not asked while the customer stood there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django import forms

from labcases.cases import words
from labcases.cases.forms.fields import Part, Picks
from labcases.cases.forms.mistakes import mistakes
from labcases.cases.forms.terms import TermsForm
from labcases.cases.forms.told import ToldForm
from labcases.cases.models import Case, Item
from labcases.core.forms import HappenedField, LabForm


class StateForm(Part):
    """State and behaviour of one item."""

    marks = Picks(words.MARKS, label="Outside")
    behaviours = Picks(words.BEHAVIOURS, label="It …")

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        self.item = item
        known = {"marks": item.marks, "behaviours": item.behaviours}
        super().__init__(*args, prefix=f"state-{item.number}", initial=known, **kwargs)


class CompleteIntakeForm(LabForm):
    """State of each item, story, wanted, locks; terms while they are not signed."""

    finished = forms.BooleanField(
        label="Everything was asked: what is blank is not known",
        required=False,
        help_text="Then the intake is finished.",
    )
    happened = HappenedField()

    def __init__(
        self,
        data: Any = None,
        files: Any = None,
        *,
        case: Case,
        items: Sequence[Item],
        can_sign: bool = True,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, files, **kwargs)
        self.case = case
        self.states = [StateForm(data, item=item) for item in items]
        self.told = ToldForm(data, prefix="told", initial=ToldForm.initial_of(case))
        self.terms = None
        if case.terms_signed is None:
            self.terms = TermsForm(data, files, prefix="terms", currency=case.currency, can_sign=can_sign)

    def parts(self) -> Iterator[tuple[str, Part]]:
        for state in self.states:
            yield f"Item {state.item.number}", state
        yield "", self.told
        if self.terms:
            yield "", self.terms

    def is_valid(self) -> bool:
        right = [super().is_valid(), *(form.is_valid() for _, form in self.parts())]
        return all(right)

    def wrongs(self) -> list[dict[str, Any]]:
        """One line for each mistake, with the id of the field it leads to."""
        return list(mistakes(self, self.parts()))
