"""A customer's own medium: what lies on it, and the owner's written consent to write on it."""

from __future__ import annotations

from datetime import datetime

from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor
from labcases.lab.roles import Right
from labcases.stock.actions.refusals import NotNow
from labcases.stock.models import Destination


@recorded
def note_consent(
    *,
    destination: Destination,
    content: str,
    consent: str,
    consent_by: str,
    consent_paper: str,
    by: Actor,
    happened: datetime,
) -> Destination:
    """Put on record what lies on a customer's own medium and what its owner consents to in writing.

    ``consent_paper`` says which signed paper it is and where that lies. Raises NotNow for a medium of the lab's own,
    or when consent is said without who signed what.
    """
    by.must(Right.KEEP_STOCK)
    destination = Destination.objects.with_context().get(pk=destination.pk)
    if not destination.owned_by_id:
        raise NotNow(f"{destination} is the lab's own: nobody's consent is needed.")
    if consent and not (consent_by and consent_paper):
        raise NotNow("Consent counts in writing only.", mend="Say who signed, and which paper it is.")
    about = {"content": content, "consent": consent, "consent_by": consent_by, "consent_paper": consent_paper}
    Destination.objects.filter(pk=destination.pk).update(**about)
    destination.refresh_from_db()
    because = f"signed by {consent_by}, {consent_paper}. {consent}" if consent else "none is on record"
    case = destination.held_for.code if destination.held_for else None
    record("consent-noted", thing=destination.thing, by=by, happened=happened, because=because, case=case)
    return destination
