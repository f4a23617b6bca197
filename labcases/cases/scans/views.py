"""The signed papers of a case: listed, added, sent to those who may see them, withdrawn."""

from __future__ import annotations

from typing import Any, Protocol

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from labcases.cases import queries
from labcases.cases.models import Case
from labcases.cases.scans import actions
from labcases.cases.scans.forms import SignedPaperForm, WithdrawPaperForm
from labcases.cases.scans.models import SignedPaper
from labcases.core import vault
from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right


class KeptScan(Protocol):
    """Whatever holds the digests of a scan."""

    original: str
    shown: str

    @property
    def is_pdf(self) -> bool: ...


PRIVATE = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; sandbox",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "private, no-cache",
}


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK, to_press=Right.TAKE_IN)
def signed_papers(request: StaffRequest, code: str) -> HttpResponse:
    """What was signed on paper, and a field to add the scan of it."""
    case = queries.case_for(request.user, code)
    form = bound(request, SignedPaperForm)

    def act(said: dict[str, Any]) -> str:
        actions.keep_signed_paper(case=case, scan=said["scan"], by=request.actor, happened=said["happened"])
        return _address(case)

    if done := press(request, form, f"signed-paper {case.code}", act):
        messages.success(request, "The scan of the signed paper is kept.")
        return done
    papers = case.signed_papers.select_related("terms", "by")
    return show(request, "cases/signed_papers.html", {"form": form, "case": case, "papers": papers})


def _address(case: Case) -> str:
    return reverse("cases:signed-papers", args=[case.thing.printed_code])


@require_http_methods(["GET", "POST"])
@needs(Right.TAKE_IN)
def withdraw_paper(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """It was another paper; it is not shown any more."""
    case, paper = _found(request, code, pk)
    form = bound(request, WithdrawPaperForm)

    def act(said: dict[str, Any]) -> str:
        actions.withdraw_signed_paper(paper=paper, because=said["because"], by=request.actor, happened=said["happened"])
        return _address(case)

    if done := press(request, form, f"withdraw-paper {pk}", act):
        messages.success(request, "The scan is withdrawn.")
        return done
    return show(request, "cases/withdraw_paper.html", {"form": form, "case": case, "paper": paper})


def _found(request: StaffRequest, code: str, pk: int) -> tuple[Case, SignedPaper]:
    case = queries.case_for(request.user, code)
    return case, get_object_or_404(case.signed_papers.standing().select_related("terms", "by"), pk=pk)


@require_safe
@needs(Right.LOOK)
def signed_paper_file(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """A PDF as it came, to be saved; of a picture the copy made here, to look at."""
    case, paper = _found(request, code, pk)
    return file_of(paper, f"Signed {case} {paper.pk}")


def file_of(paper: KeptScan, name: str) -> HttpResponse:
    """The file of a scan that was kept, as what it is: never run, never embedded elsewhere."""
    whole = f"{name}.{'pdf' if paper.is_pdf else 'jpg'}"
    about = {**PRIVATE, "Content-Disposition": content_disposition_header(paper.is_pdf, whole) or "attachment"}
    return HttpResponse(
        _stored(paper.original if paper.is_pdf else paper.shown),
        content_type="application/pdf" if paper.is_pdf else "image/jpeg",
        headers=about,
    )


def _stored(digest: str) -> bytes:
    try:
        return vault.get(digest)
    except (FileNotFoundError, vault.Damaged):
        raise Http404("The stored file of this scan is missing or was changed on the disk.") from None
