"""What is said of a wipe, of its end and its verification, of its certificate, and of a medium's health."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.db.models import Q

from labcases.core import codes
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.core.text import folded_serial
from labcases.stock.models import HealthCheck, Wipe
from labcases.stock.wiping import terms

METHOD_HELP = "NIST SP 800-88: clear overwrites what can be addressed, purge reaches the rest, destroy ends it."
TOOL_HELP = "Program or command with its version, or the machine."
LONGEST = 24 * 90  # hours a wipe may be expected to run


def techniques() -> list[tuple[str, Any]]:
    """Choices, by the method they belong to."""
    groups = [(method, [(one, one) for one in listed]) for method, listed in terms.TECHNIQUES.items()]
    return [("", "not said"), *groups]


class MethodForm(LabForm):
    """Method, technique and tool, which belong together."""

    method = forms.ChoiceField(
        label="Method", choices=Wipe.Method.choices, widget=forms.RadioSelect, help_text=METHOD_HELP
    )
    technique = forms.ChoiceField(label="Technique", choices=techniques, required=False)
    tool = LineField(label="With", max_length=200, help_text=TOOL_HELP)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        method, technique = said.get("method", ""), said.get("technique", "")
        if method and not terms.belongs(method, technique):
            self.add_error("technique", f"“{technique}” is no way to {method}.")
        return said


class BeginWipeForm(MethodForm):
    """A wipe that runs from now on."""

    port = LineField(label="On", max_length=100, required=False, help_text="Which machine, which port.")
    hours = CountField(label="Hours it should take", min_value=1, max_value=LONGEST, required=False)
    happened = HappenedField(label="Begun")

    def told(self) -> dict[str, Any]:
        """What ``begin_wipe`` takes."""
        said = self.cleaned_data
        begun: datetime = said["happened"]
        end = begun + timedelta(hours=said["hours"]) if said.get("hours") else None
        names = ("method", "technique", "tool", "port", "happened")
        return {name: said[name] for name in names} | {"expected_end": end}


class VerifiedForm(forms.Form):
    """How it was read back."""

    verified = forms.ChoiceField(label="Verified", choices=Wipe.Verified.choices, widget=forms.RadioSelect)
    share = CountField(
        label="Share read back",
        min_value=1,
        max_value=99,
        required=False,
        help_text="Per cent of the sectors, where samples were read: a tenth is common practice.",
    )

    def check_share(self, said: dict[str, Any], *, method: str) -> None:
        destroyed, seen = method == Wipe.Method.DESTROY, said.get("verified") == Wipe.Verified.SEEN
        if method and "verified" in said and destroyed != seen:
            words = (
                "Nothing can be read back from what is destroyed." if destroyed else "A wipe is verified by reading."
            )
            self.add_error("verified", words)
        if said.get("share") and said.get("verified") != Wipe.Verified.SAMPLED:
            self.add_error("share", "Only samples have a share.")


class FinishedWipeForm(VerifiedForm, MethodForm):
    """A wipe that is over and verified: all in one."""

    happened = HappenedField()
    field_order = ("method", "technique", "tool", "verified", "share", "happened")

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        self.check_share(said, method=said.get("method", ""))
        return said


class EndForm(LabForm):
    """When it was over."""

    happened = HappenedField(label="Ended")


class BreakOffForm(LabForm):
    """Why a wipe came to nothing."""

    how = forms.ChoiceField(
        label="It",
        choices=[("failed", "failed by itself"), ("stopped", "was stopped")],
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it failed or was stopped."},
    )
    because = ProseField(label="Why", rows=2, max_length=2000)
    happened = HappenedField()


class VerifyForm(VerifiedForm, LabForm):
    """How an ended wipe was read back, and what came out."""

    verified_with = LineField(label="Read back with", max_length=200, required=False, help_text=TOOL_HELP)
    passed = forms.ChoiceField(
        label="Result",
        choices=[("yes", "passed: nothing of the old data was read"), ("no", "not passed")],
        widget=forms.RadioSelect,
        error_messages={"required": "Say what came out."},
    )
    because = ProseField(label="What was found, if it was not passed", rows=2, max_length=2000, required=False)
    happened = HappenedField(label="Verified at")

    def __init__(self, *args: Any, wipe: Wipe, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wipe = wipe

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        self.check_share(said, method=self.wipe.method)
        if said.get("passed") == "no" and not said.get("because"):
            self.add_error("because", "Say what was found.")
        return said


class HealthForm(LabForm):
    """Figures as the medium reports them; blank is not read."""

    passed = forms.ChoiceField(
        label="The lab trusts it",
        choices=[("yes", "yes, it passed"), ("no", "no: retire it")],
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it passed."},
    )
    because = ProseField(label="Why not", rows=2, max_length=2000, required=False)
    self_test = forms.ChoiceField(label="Self-test", choices=HealthCheck.SelfTest.choices, required=False)
    reallocated = CountField(label="Reallocated sectors", required=False, max_value=2**62)
    pending = CountField(label="Sectors pending", required=False, max_value=2**62)
    hours = CountField(label="Hours powered on", required=False, max_value=10**7)
    tool = LineField(label="Read with", max_length=200, required=False, help_text=TOOL_HELP)
    happened = HappenedField()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("passed") == "no" and not said.get("because"):
            self.add_error("because", "Say why it failed.")
        return said

    def told(self) -> dict[str, Any]:
        """What ``check_health`` takes."""
        names = ("because", "self_test", "reallocated", "pending", "hours", "tool", "happened")
        return {name: self.cleaned_data[name] for name in names} | {"passed": self.cleaned_data["passed"] == "yes"}


class CertificateForm(LabForm):
    """What a certificate says besides what is on record (the optional fields of NIST SP 800-88 Rev. 1 s.4.8)."""

    category_before = LineField(label="Confidentiality before", max_length=100, required=False)
    category_after = LineField(label="Confidentiality after", max_length=100, required=False)
    backed_up = LineField(label="Where its data was backed up", max_length=200, required=False)
    destination = LineField(
        label="What becomes of it", max_length=200, required=False, help_text="Blank: stays in the stock of the lab."
    )
    location = LineField(label="Where it was done", max_length=200, required=False, help_text="Blank: at the lab.")
    contact = LineField(label="Contact", max_length=200, required=False, help_text="Blank: that of the lab.")


class WipeFilter(forms.Form):
    """What the list of wipes is narrowed by."""

    q = LineField(label="Code, serial or case", required=False, max_length=60)
    state = forms.ChoiceField(
        label="State", required=False, choices=[("", "every state"), ("going", "going on"), *Wipe.State.choices]
    )

    def narrow(self, wipes: Any) -> Any:
        """Wipes that fit; all of them when the filter itself is wrong."""
        if not self.is_valid():
            return wipes
        typed, state = self.cleaned_data["q"], self.cleaned_data["state"]
        if typed:
            folded, serial = codes.fold(typed), folded_serial(typed)
            found = Q(destination__thing__code__startswith=folded) | Q(case__thing__code__startswith=folded)
            wipes = wipes.filter(found | Q(destination__thing__serial_folded__startswith=serial) if serial else found)
        if state == "going":
            return wipes.going()
        return wipes.filter(state=state) if state else wipes
