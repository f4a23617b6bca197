"""What is allowed, up to how much, and how it was signed."""

from __future__ import annotations

from typing import Any

from labcases.cases.forms.fields import OneOf, Part, Picks, SignatureField
from labcases.cases.intake import Signed
from labcases.cases.scans.forms import ScanField
from labcases.cases.slip import ALLOWS
from labcases.core.forms import AmountField, LineField

HOW = {
    "": "not yet",
    "screen": "drawn here",
    "paper": "on the printed form",
    "mark": "a mark or thumbprint",
    "read aloud": "read aloud or interpreted",
}
WITNESSED = ("mark", "read aloud")


class TermsForm(Part):
    """Authority, limit, signature. Nothing is signed until ``how`` says so."""

    allows = Picks(ALLOWS, label="They allow us", initial=["examine"])
    limit = AmountField(
        label="Spend up to",
        required=False,
        help_text="Agreed now, so that work below it need not be asked for.",
        error_messages={"negative": "A limit is not below zero. Leave it blank when none was agreed."},
    )
    how = OneOf(HOW, label="Signed", initial="")
    signed_by = LineField(label="Signed by", required=False, help_text="Left blank: whoever brings it.")
    witness = LineField(label="Witness or reader", required=False, max_length=150)
    signature = SignatureField()
    scan = ScanField(required=False)

    def __init__(self, *args: Any, currency: str, can_sign: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.can_sign = can_sign
        limit: Any = self.fields["limit"]
        limit.currency = currency
        limit.label = f"Spend up to, {currency}"

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        how, drawn = said.get("how"), said.get("signature")
        if drawn and not how:
            how = said["how"] = "screen"
        if said.get("scan") and not how:
            how = said["how"] = "paper"
        if how and not self.can_sign:
            self.add_error("how", "There are no terms to sign yet. A manager publishes them first; sign them later.")
        if how == "screen" and not drawn and "signature" not in self.errors:
            self.add_error("how", "Nothing is drawn. Sign in the field, or choose another way of signing.")
        if how in WITNESSED and not said.get("witness"):
            self.add_error("witness", "Say who witnessed the mark, or who read the terms to them.")
        return said

    def signed(self, otherwise: str) -> Signed | None:
        """The record, or None while nothing is signed. ``otherwise`` signs when nobody is named."""
        said = self.cleaned_data
        if not said.get("how"):
            return None
        name = said["signed_by"] or otherwise
        if said["how"] in WITNESSED:
            name = f"{name[:140]}, {'mark witnessed' if said['how'] == 'mark' else 'read'} by {said['witness']}"
        allowed = set(said["allows"])
        return Signed(
            signed_by=name[:300],
            how=said["how"],
            signature=said["signature"] if said["how"] == "screen" else b"",
            may_examine="examine" in allowed,
            may_open="open" in allowed,
            may_keep_dead="keep" in allowed,
            spending_limit=said["limit"],
            scan=said["scan"],
        )
