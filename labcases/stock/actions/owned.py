"""A customer's own medium: what lies on it, and the owner's written consent to write on it."""

from __future__ import annotations

from datetime import datetime

from labcases.cases.scans.judging import Scan
from labcases.core import vault
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock.actions.refusals import NotNow
from labcases.stock.models import ConsentPaper, Destination


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
    scan: Scan | None = None,
) -> Destination:
    """Put on record what lies on a customer's own medium and what its owner consents to in writing.

    ``consent_paper`` says which signed paper it is and where that lies, ``scan`` is a copy of it; one of them is
    needed, and stays from earlier. Raises NotNow for a medium of the lab's own, or when consent is said without who
    signed what.
    """
    by.must(Right.KEEP_STOCK)
    destination = Destination.objects.with_context().get(pk=destination.pk)
    if not destination.owned_by_id:
        raise NotNow(f"{destination} is the lab's own: nobody's consent is needed.")
    kept = _keep(destination, scan, by, happened) if scan else destination.consent_papers.first()
    if consent and not (consent_by and (consent_paper or kept)):
        raise NotNow("Consent counts in writing only.", mend="Say who signed, and which paper it is, or add its scan.")
    about = {"content": content, "consent": consent, "consent_by": consent_by, "consent_paper": consent_paper}
    Destination.objects.filter(pk=destination.pk).update(**about)
    destination.refresh_from_db()
    paper = ", ".join(said for said in (consent_paper, f"scan of SHA-256 {kept.original}" if kept else "") if said)
    because = f"signed by {consent_by}, {paper}. {consent}" if consent else f"none is on record. {paper}".strip()
    case = destination.held_for.code if destination.held_for else None
    record("consent-noted", thing=destination.thing, by=by, happened=happened, because=because, case=case)
    return destination


def _keep(destination: Destination, scan: Scan, by: Actor, happened: datetime) -> ConsentPaper:
    """The bytes as they came, under their hash. The same file sent again is the one that is there."""
    about = {
        "kind": scan.kind,
        "size": len(scan.data),
        "shown": vault.put(scan.shown) if scan.shown else "",
        "thumb": vault.put(scan.thumb) if scan.thumb else "",
        **Entry.stamp(by, happened),
    }
    original = vault.put(scan.data)
    kept, _ = ConsentPaper.objects.get_or_create(destination=destination, original=original, defaults=about)
    return kept
