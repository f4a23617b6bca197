"""What is asked when a parcel has arrived."""

from __future__ import annotations

from labcases.core.forms import HappenedField, LabForm, LineField, ProseField


class ArrivedForm(LabForm):
    receiver = LineField(label="Who says so", max_length=200, help_text="The receiver, and how they said it.")
    because = ProseField(label="In what state", rows=2, max_length=2000, required=False)
    happened = HappenedField(label="Arrived")
