"""The verb of the technical report: print it. Called outside any transaction."""

from __future__ import annotations

from datetime import datetime

from labcases.bench.technical import queries
from labcases.cases.models import Case
from labcases.core.refused import Refused
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Profile
from labcases.lab.roles import Right
from labcases.paper.actions import freeze
from labcases.paper.models import Paper

LANGUAGE = "en-GB"


class NothingToReport(Refused):
    """Nothing of the case has been examined."""


def print_technical_report(*, case: Case, by: Actor, happened: datetime) -> Paper:
    """Everything found and done at the bench, frozen; while nothing more happens, the same paper again.

    Raises NothingToReport before the first examination.
    """
    by.must(Right.EXAMINE)
    key = f"technical-report/{case.code}/{queries.as_of(case)}"
    earlier = Paper.objects.filter(key=key).first()
    paper = earlier or _set(case, key, by, happened)
    if earlier is None:
        _note(case=case, paper=paper, by=by, happened=happened)
    return paper


def _set(case: Case, key: str, by: Actor, issued: datetime) -> Paper:
    told = queries.told_of(case)
    if not any(one.findings.examinations for one in told):
        raise NothingToReport(f"Nothing of case {case} has been examined yet.", mend="Record the findings first.")
    return freeze(
        key=key,
        kind="technical-report",
        template="paper/technical_report.html",
        context={"case": case, "told": told, "arrays": queries.arrays_of(case), "letterhead": case.letterhead},
        title="Technical report",
        language=LANGUAGE,
        size=Profile.current().paper_size,
        code=str(case),
        by=by,
        issued=issued,
        thing=case.thing,
        case_code=case.code,
    )


@recorded
def _note(*, case: Case, paper: Paper, by: Actor, happened: datetime) -> None:
    said = f"sha-256 {paper.sha256}"
    record("technical-report-printed", thing=case.thing, by=by, happened=happened, because=said, case=case.code)
