"""Keep the scan of a signed paper with its case, or take a wrong one out of sight."""

from __future__ import annotations

from datetime import datetime

from labcases.cases.models import Case
from labcases.cases.scans.judging import Scan
from labcases.cases.scans.models import SignedPaper
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NothingSigned(Refused):
    """A scan of a paper for a case whose terms are not signed."""


class KeptBefore(Refused):
    """The same file is with the case already, or the scan is withdrawn already."""


@recorded
def keep_signed_paper(*, case: Case, scan: Scan, by: Actor, happened: datetime) -> SignedPaper:
    """Keep the bytes as they came, under their hash, with the terms that were signed and the items of the case.

    Raises NothingSigned before the terms are noted as signed, KeptBefore for the same file twice.
    """
    by.must(Right.TAKE_IN)
    if case.terms is None or case.terms_signed is None:
        raise NothingSigned(
            "The terms are not noted as signed yet.",
            mend="Finish the intake: say there how they were signed, and add the scan there.",
        )
    if case.signed_papers.standing().filter(original=scan.digest).exists():
        raise KeptBefore("This very file is with the case already.", mend="Choose another, or leave it.")
    kept = SignedPaper.objects.create(
        case=case,
        terms=case.terms,
        terms_digest=case.terms.digest,
        items=[[str(item), item.medium_words] for item in case.items.select_related("thing")],
        kind=scan.kind,
        size=len(scan.data),
        original=vault.put(scan.data),
        shown=vault.put(scan.shown) if scan.shown else "",
        thumb=vault.put(scan.thumb) if scan.thumb else "",
        **Entry.stamp(by, happened),
    )
    words = f"{scan.kind} of SHA-256 {kept.original}; terms {case.terms.version} of SHA-256 {kept.terms_digest}"
    record("signed-paper-kept", thing=case.thing, by=by, happened=happened, because=words, case=case.code)
    return kept


@recorded
def withdraw_signed_paper(*, paper: SignedPaper, by: Actor, happened: datetime, because: str) -> SignedPaper:
    """It was another paper: it is not shown any more. The file and its hash stay."""
    by.must(Right.TAKE_IN)
    standing = SignedPaper.objects.standing().filter(pk=paper.pk)
    if not standing.update(withdrawn=happened, withdrawn_because=because):
        raise KeptBefore("This scan is withdrawn already.", mend="Reload the page and look again.")
    paper.refresh_from_db()
    case, why = paper.case, f"{paper.original}: {because}"
    record("signed-paper-withdrawn", thing=case.thing, by=by, happened=happened, because=why, case=case.code)
    return paper
