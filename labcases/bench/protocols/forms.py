"""The forms of the bench order: several answers at once, a reason, another version, and a step as a form."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.html import format_html

from labcases.bench import cautions as cautions_known
from labcases.bench.protocol import Condition, Grade, Judgement, Protocol, State, Step, StepState, Stop
from labcases.bench.protocol_defaults import KINDS
from labcases.bench.protocol_editing import fresh_key
from labcases.bench.protocol_facts import FACTS
from labcases.bench.protocols.models import OrderNote, ProtocolVersion
from labcases.core.forms import HappenedField, LabForm, LineField, ProseField

DONE, PASSED = str(OrderNote.How.DONE), str(OrderNote.How.PASSED)
NOT_YET = ("", "not yet")


class OrderForm(LabForm):
    """One tap a step: how it was done, or the ready reason to pass it by (fields ``step-<key>``, ``stop-<key>``)."""

    words = LineField(label="In words", required=False, help_text="Goes with everything that is noted here.")
    happened = HappenedField()

    def __init__(self, *args: Any, judgement: Judgement, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.named: dict[str, str] = {}
        for state in judgement.steps:
            if _may_be_noted(state, judgement):
                self._add(f"step-{state.key}", state.key, state.step.what, _choices(state))
            for stop in state.step.stops:
                key = state.step.stop_key(stop)
                if any(one.key == key and one.grade is Grade.ASK for one in state.standing):
                    reasons = [(f"{PASSED}:{reason}", reason) for reason in stop.reasons]
                    self._add(f"stop-{key}", key, stop.because, [NOT_YET, *reasons])
        self.order_fields([*self.named, "words", "happened"])

    def _add(self, name: str, key: str, label: str, choices: list[tuple[str, str]]) -> None:
        self.named[name] = key
        self.fields[name] = forms.ChoiceField(
            label=format_html('Noted<span class="unseen">: {}</span>', label),
            choices=choices,
            required=False,
            widget=forms.RadioSelect,
            initial="",
        )

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.answers():
            self.add_error(None, "Nothing is noted yet: tap what was done, or why it is passed by.")
        return said

    def answers(self) -> dict[str, tuple[str, str]]:
        """Each step or stop that was answered: how, and the words for it."""
        chosen = {key: self.cleaned_data.get(name, "") for name, key in self.named.items()}
        words = self.cleaned_data.get("words", "")
        return {key: _spoken(choice, words) for key, choice in chosen.items() if choice}


def _spoken(choice: str, words: str) -> tuple[str, str]:
    how, _, said = choice.partition(":")
    return how, "; ".join(part for part in (said, words) if part)


def _may_be_noted(state: StepState, judgement: Judgement) -> bool:
    """Asks that may be answered now, and open steps that no verb of the bench records by itself."""
    if state in judgement.asks:
        return True
    by_tap = not state.step.verb or (state.step.grade is Grade.REMIND and bool(state.step.results))
    return state.state is State.OPEN and by_tap


def _choices(state: StepState) -> list[tuple[str, str]]:
    by_itself = bool(state.step.done)  # then the record itself shows that it was done
    done = [(f"{DONE}:{result}", result) for result in state.step.results] or [(f"{DONE}:", "done")]
    passed = [(f"{PASSED}:{reason}", reason) for reason in state.step.reasons]
    return [NOT_YET, *(done if not by_itself or state.step.results else []), *passed]


class ReasonForm(LabForm):
    because = ProseField(label="Why", rows=2, max_length=2000)
    happened = HappenedField()


class MoveForm(LabForm):
    """Another version, of any kind: a shingled disk is often known as one only later.

    ``version`` is the key of one, or the name of a kind whose order is still as delivered. Those of the item's ``own``
    kind come first, and the newest of them is chosen; nothing is where the item already goes by it.
    """

    version = forms.ChoiceField(label="Version")
    because = ProseField(label="Why", rows=2, max_length=2000)
    happened = HappenedField()

    def __init__(self, *args: Any, own: str, leave_out: ProtocolVersion | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = list(ProtocolVersion.objects.defer("steps"))  # of each kind the newest first
        begun = {row.kind for row in rows}
        known = [(row.kind, str(row.pk), str(row)) for row in rows]
        known += [(kind, kind, f"{words}, as delivered") for kind, words in KINDS.items() if kind not in begun]
        known.sort(key=lambda one: one[0] != own)
        out = str(leave_out.pk) if leave_out else ""
        choices = [(key, words) for _, key, words in known if key != out]
        if known[0][1] == out:
            choices.insert(0, ("", "Choose one"))
        self.fields["version"].choices = choices  # type: ignore[attr-defined] # a choice field


class PublishForm(LabForm):
    """The reason for a new version; the steps themselves are read by ``editing``."""

    because = ProseField(label="What is changed, and why", rows=2, max_length=2000)


# --- a step as a form -------------------------------------------------------------------------------------------------

GRADES = {
    Grade.STOP: "stop: nothing after it goes on; a manager may lift it with a reason",
    Grade.ASK: "ask: the engineer may pass it by with a ready reason",
    Grade.REMIND: "remind: it is said, and holds nothing up",
}
VERBS = {
    "": "none: it is noted with a tap",
    "examine": "record findings",
    "identify": "read who it is",
    "keep-dump": "keep a dump",
    "assign-donor": "assign a donor part",
    "assign-destination": "assign a destination",
    "start-work": "start the work",
    "remove-chip": "take a chip off",
    "map-heads": "keep heads by sector",
    "find-array": "say how the array was put together",
    "note-step": "note a step",
    "record-result": "record the result",
}


class FactPicks(forms.CheckboxSelectMultiple):
    """Check boxes of many: those that are ticked stand open, the others in a list that is folded away."""

    template_name = "bench/widgets/facts.html"

    def __init__(self, words: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.words = words

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        widget = context["widget"]
        options = [option for _, group, _ in widget["optgroups"] for option in group]
        widget["ticked"] = [option for option in options if option["selected"]]
        widget["others"] = [option for option in options if not option["selected"]]
        widget["words"] = self.words
        return context


class FactsField(forms.MultipleChoiceField):
    """Facts from the list, in words. Gives a tuple of names."""

    def __init__(self, label: str, choices: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        kwargs.setdefault("widget", FactPicks(label))
        super().__init__(label=label, choices=list(choices), required=False, **kwargs)

    def clean(self, value: Any) -> Any:
        return tuple(super().clean(value))


class LinesField(ProseField):
    """One ready phrase a line. Gives a tuple."""

    def to_python(self, value: Any) -> Any:
        return tuple(line.strip() for line in super().to_python(value).splitlines() if line.strip())

    def prepare_value(self, value: Any) -> Any:
        return "\n".join(value) if isinstance(value, tuple | list) else value


class StepForm(LabForm):
    """One step of a protocol, with its stops (fields ``stop-<n>-…``, the last of them for a new one)."""

    what = ProseField(label="What to do", rows=2, max_length=400)
    why = ProseField(label="Why", rows=2, max_length=1000)
    grade = forms.ChoiceField(label="Grade", choices=list(GRADES.items()), widget=forms.RadioSelect)
    never = forms.BooleanField(label="never: a standing prohibition, not a thing to do", required=False)
    verb = forms.ChoiceField(label="Done by", choices=list(VERBS.items()), required=False)
    results = LinesField(label="Ready words: done", rows=2, required=False, help_text="One a line.")
    reasons = LinesField(label="Ready reasons to pass it by", rows=3, required=False, help_text="One a line; for ask.")

    def __init__(self, *args: Any, step: Step, protocol: Protocol, **kwargs: Any) -> None:
        self.step = step
        kwargs["initial"] = self._initial(step) | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        facts, others = list(FACTS.items()), [(s.key, s.what) for s in protocol.steps if s.key != step.key]
        for name, label in (("all", "all of"), ("any", "at least one of"), ("none", "none of")):
            self.fields[f"applies-{name}"] = FactsField(f"Needed when: {label}", facts)
        for name, label in (("all", "all of"), ("any", "at least one of")):
            self.fields[f"done-{name}"] = FactsField(f"Done by itself when: {label}", facts)
        self.fields["after"] = FactsField("Comes after", others)
        cautions = dict.fromkeys((*cautions_known.ALL, *step.cautions))
        self.fields["cautions"] = FactsField(
            "Cautions", [(c, c) for c in cautions], widget=forms.CheckboxSelectMultiple()
        )
        self.numbers = range(len(step.stops) + 1)
        for n in self.numbers:
            self._add_stop(n, facts + others)

    def _add_stop(self, n: int, facts: list[tuple[str, str]]) -> None:
        more = {
            "because": LineField(label="Stopped because", required=False),
            "lift": LineField(label="What lifts it", required=False),
            "grade": forms.ChoiceField(label="Grade", choices=[(g, g) for g in Grade], required=False),
            "always": forms.BooleanField(label="always: nobody lifts it", required=False),
            "all": FactsField("Unless all of", facts),
            "any": FactsField("Unless at least one of", facts),
            "none": FactsField("Unless none of", facts),
            "reasons": LinesField(label="Ready reasons", rows=2, required=False, help_text="One a line; for ask."),
        }
        for name, field in more.items():
            self.fields[f"stop-{n}-{name}"] = field

    def stop_fields(self) -> list[list[Any]]:
        """The bound fields of each stop, for the page."""
        return [[self[name] for name in self.fields if name.startswith(f"stop-{n}-")] for n in self.numbers]

    @staticmethod
    def _initial(step: Step) -> dict[str, Any]:
        first: dict[str, Any] = {
            name: getattr(step, name)
            for name in ("what", "why", "grade", "never", "verb", "results", "reasons", "after", "cautions")
        }
        for name in ("all", "any", "none"):
            first[f"applies-{name}"] = getattr(step.applies, name)
            first[f"done-{name}"] = getattr(step.done, name)
            for n, stop in enumerate(step.stops):
                first[f"stop-{n}-{name}"] = getattr(stop.unless, name)
        for n, stop in enumerate(step.stops):
            first |= {f"stop-{n}-{name}": getattr(stop, name) for name in STOP_FIELDS}
        return first

    def made(self) -> Step:
        """The step as it was written."""
        said = self.cleaned_data
        plain = {name: said[name] for name in ("what", "why", "never", "verb", "results", "reasons")}
        return replace(
            self.step, **plain, grade=Grade(said["grade"]), after=said["after"], cautions=said["cautions"],
            applies=self._condition("applies"), done=self._condition("done"),
            stops=tuple(stop for n in self.numbers if (stop := self._stop(n))),
        )  # fmt: skip

    def _condition(self, prefix: str) -> Condition:
        return Condition(**{name: self.cleaned_data.get(f"{prefix}-{name}", ()) for name in ("all", "any", "none")})

    def _stop(self, n: int) -> Stop | None:
        said = {name: self.cleaned_data[f"stop-{n}-{name}"] for name in STOP_FIELDS}
        if not said["because"]:
            return None  # emptied, or the blank one
        said["grade"] = Grade(said["grade"] or Grade.STOP)
        known = [stop.key for stop in self.step.stops]
        key = known[n] if n < len(known) else fresh_key(said["because"], set(known))
        return Stop(key=key, unless=self._condition(f"stop-{n}"), **said)


STOP_FIELDS = ("because", "lift", "grade", "always", "reasons")
