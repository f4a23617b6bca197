"""The docket's section Locks: which secrets a case holds. Never what they are."""

from __future__ import annotations

from dataclasses import dataclass

from labcases.cases.models import Case, Lock
from labcases.cases.secrecy.models import CaseSecret
from labcases.lab.models import Staff


@dataclass(frozen=True)
class LocksSection:
    case: Case
    locks: list[Lock]
    secrets: list[CaseSecret]
    engineers: list[Staff]


def locks_section(case: Case) -> LocksSection:
    """What is locked, which secrets are kept, and who may see them; three queries."""
    kept = CaseSecret.objects.filter(case=case).select_related("item__thing", "case__thing", "by").defer("sealed")
    return LocksSection(case, list(case.locks.all()), list(kept), list(case.engineers.all()))
