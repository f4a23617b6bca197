"""Papers of the counter: the receipt and the labels of a case."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from labcases.cases import papers, queries
from labcases.cases.forms.printing import LabelsForm, ReceiptForm
from labcases.core.refused import Refused
from labcases.core.views import see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.paper.models import Paper
from labcases.paper.views import POLICY


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK, to_press=Right.TAKE_IN)
def receipt(request: StaffRequest, code: str) -> HttpResponse:
    """The printed receipts of a case and its labels; sent, it prints the receipt as the case stands now."""
    case = queries.case_for(request.user, code)
    form = ReceiptForm(request.POST or None, initial={"size": request.lab.paper_size})
    if request.method == "POST" and form.is_valid():
        try:
            return see_other(
                request, papers.print_receipt(case, by=request.actor, size=form.cleaned_data["size"]).get_absolute_url()
            )
        except Refused as refused:
            form.add_refusal(refused)
    labels = papers.labels_of(case)
    context = {
        "case": case,
        "form": form,
        "labels_form": LabelsForm(labels=labels, auto_id="labels-%s"),
        "labels": labels,
        "papers": Paper.objects.of_case(case.code).filter(kind=papers.KIND),
    }
    return show(request, "cases/receipt.html", context)


@require_http_methods(["GET", "POST"])
@needs(Right.LOOK, to_press=Right.TAKE_IN)
def labels(request: StaffRequest, code: str) -> HttpResponse:
    """Labels of a case, all or some of them, as a PDF."""
    case = queries.case_for(request.user, code)
    every = papers.labels_of(case)
    form = LabelsForm(request.POST or None, labels=every)
    if request.method == "POST" and form.is_valid():
        chosen = [label for label in every if label.symbol in form.cleaned_data["which"]]
        size, first = form.cleaned_data["size"], form.cleaned_data["first"]
        try:
            data = papers.print_labels(case, chosen, size=size, first=first, by=request.actor, happened=timezone.now())
        except Refused as refused:
            form.add_refusal(refused)
        else:
            return _pdf(data, f"Labels {case}.pdf")
    return show(request, "cases/labels.html", {"case": case, "form": form, "labels": every})


def _pdf(data: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'inline; filename="{name}"', "Content-Security-Policy": POLICY}
    return HttpResponse(data, content_type="application/pdf", headers=headers)
