"""The forms of stations and equipment."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone

from labcases.bench.stations.models import Equipment, Port, Session
from labcases.cases.models import Item
from labcases.core.forms import CountField, HappenedField, LabForm, LineField, ProseField
from labcases.lab.models import Staff


class EquipmentForm(LabForm):
    name = LineField(label="Name", max_length=100, help_text="As it is written on it.")
    kind = forms.ChoiceField(label="Kind", choices=Equipment.Kind.choices, widget=forms.RadioSelect)
    serial = LineField(label="Serial", max_length=100, required=False, widget=forms.TextInput(attrs={"class": "code"}))
    ports = ProseField(
        label="Ports", rows=3, required=False, help_text="One a line; only where patients are plugged in."
    )
    note = ProseField(label="Note", rows=2, required=False)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if Equipment.objects.filter(name=name).exists():
            raise forms.ValidationError("The lab has equipment of this name already.")
        return name

    def clean_ports(self) -> list[str]:
        return [line.strip()[:40] for line in self.cleaned_data["ports"].splitlines() if line.strip()]


class StaffField(forms.ModelChoiceField):
    """One of the people who work here now."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Staff.objects.filter(is_active=True), **kwargs)


class BeginForm(LabForm):
    port = forms.ModelChoiceField(label="Port", queryset=Port.objects.none(), empty_label=None)
    doing = LineField(label="What it does", max_length=200, required=False, help_text="For example: first pass.")
    watcher = StaffField(label="Looks at it tonight", required=False, empty_label="nobody yet")
    happened = HappenedField()

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        busy = Session.objects.running().values("port")
        free = Port.objects.filter(~Q(pk__in=busy), equipment__retired=None).select_related("equipment")
        self.fields["port"].queryset = free  # type: ignore[attr-defined]


class EndForm(LabForm):
    ending = forms.ChoiceField(
        label="It", choices=Session.Ending.choices, widget=forms.RadioSelect, initial=Session.Ending.FINISHED
    )
    hands_on = CountField(label="Minutes of people", required=False, max_value=100_000)
    happened = HappenedField()


class RunningField(forms.ModelMultipleChoiceField):
    """What has power now, by port and patient."""

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.port}: {obj.item}"


class PowerCutForm(LabForm):
    """What lost its power; everything that runs, unless something is left out."""

    sessions = RunningField(
        label="No power any more", queryset=Session.objects.none(), widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick the ports that had no power any more."},
    )  # fmt: skip
    happened = HappenedField(label="The power went")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        running = Session.objects.running().with_context().order_by("port__equipment__name", "port_id")
        self.fields["sessions"].queryset = running  # type: ignore[attr-defined]
        self.initial = {"sessions": [one.pk for one in running], **(self.initial or {})}


class WatchForm(LabForm):
    watcher = StaffField(label="Looks at it tonight", required=False, empty_label="nobody")
    happened = HappenedField()


class MomentForm(forms.Form):
    """``?at=``: what ran at that moment; now unless said."""

    at = HappenedField(label="At", help_text="")

    def moment(self) -> Any:
        return self.cleaned_data["at"] if self.is_valid() else timezone.now()
