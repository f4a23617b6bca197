"""The page of an array, and that of a chip's reads."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from labcases.bench.arrays import actions
from labcases.bench.arrays.enough import Member, enough
from labcases.bench.arrays.forms import ArrayForm, CheckForm
from labcases.bench.arrays.holding import CHECKED
from labcases.bench.arrays.models import ArrayFinding
from labcases.bench.chipreads import MOST_READS, Compared, NotAlike, compare
from labcases.bench.models import Dump
from labcases.cases.models import Item
from labcases.cases.queries import case_for, item_for
from labcases.core import vault
from labcases.core.refused import Refused
from labcases.core.views import bound, press, see_other, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right

GET_OR_POST = require_http_methods(["GET", "HEAD", "POST"])
USUAL_PAGE = 2112  # bytes: 2,048 and a spare area of 64; a common size, the chip's data sheet says which
MOST_PAGES = 200


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.EXAMINE)
def array(request: StaffRequest, code: str) -> HttpResponse:
    """How the array of a case was put together, and whether what is left of it is enough."""
    case = case_for(request.user, code)
    findings = ArrayFinding.objects.filter(case=case).select_related("by")
    known = list(findings.prefetch_related("found__item__thing", "checks__by").order_by("-pk")[:20])
    form = bound(request, ArrayForm, case=case, last=known[0] if known else None)

    def act(said: dict[str, Any]) -> str:
        names = ("level", "members", "stripe_sectors", "parity", "copies", "note", "happened")
        about = {name: said[name] for name in names}
        actions.find_array(case=case, found=form.found(), by=request.actor, **about)
        return reverse("bench:array", args=[str(case)])

    if done := press(request, form, f"array {case.pk}", act):
        return done
    told = [(finding, _judged(finding)) for finding in known]
    context = {"title": "Array", "case": case, "form": form, "told": told, "checked": CHECKED, "place": "Bench"}
    return show(request, "bench/array.html", context)


@GET_OR_POST
@needs(Right.EXAMINE)
def check_array(request: StaffRequest, code: str, pk: int) -> HttpResponse:
    """Hold the same stretch of every copy against the rule of the level."""
    case = case_for(request.user, code)
    finding = get_object_or_404(ArrayFinding.objects.prefetch_related("found__item__thing"), case=case, pk=pk)
    form = bound(request, CheckForm, finding=finding)
    about = {"title": "Check it on the copies", "about": case, "about_words": str(finding), "place": "Bench"}
    if request.method == "POST" and form.is_valid():
        said = {name: form.cleaned_data[name] for name in ("where", "happened")}
        try:
            actions.check_array(finding=finding, pieces=form.pieces(), by=request.actor, **said)
            return see_other(request, f"{reverse('bench:array', args=[str(case)])}#finding-{pk}")
        except Refused as refused:
            form.add_refusal(refused)
    lead = "The same stretch of each copy, behind the beginning of its data, cut with any tool: whole stripe units."
    return show(request, "verb.html", {**about, "form": form, "lead": lead, "button": "Hold them together"})


def _judged(finding: ArrayFinding) -> Any:
    found = [Member(one.place, one.stale, one.usable) for one in finding.found.all()]
    return enough(finding.level, finding.members, found, finding.copies)


@require_GET
@needs(Right.LOOK)
def chip_reads(request: StaffRequest, code: str) -> HttpResponse:
    """The reads of a chip that are kept as dumps, compared bit by bit; ``?page_bytes=`` says how large a page is."""
    item = item_for(request.user, code)
    asked = request.GET.get("page_bytes", "")
    page_bytes = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 8 else USUAL_PAGE
    names, compared, wrong = _compared(item, page_bytes)
    context = {
        "title": "Reads of the chip", "item": item, "place": "Bench", "page_bytes": page_bytes, "names": names,
        "compared": compared, "wrong": wrong, "worst": compared.pages[:MOST_PAGES] if compared else [],
        "pairs": [(names[p.first], names[p.second], p.bits) for p in compared.pairs] if compared else [],
    }  # fmt: skip
    return show(request, "bench/chip_reads.html", context)


def _compared(item: Item, page_bytes: int) -> tuple[list[str], Compared | None, str]:
    """The names of the reads, and what comparing them told, or why it cannot be done."""
    dumps = Dump.objects.filter(item=item, kind=Dump.Kind.CHIP).exclude(file="").order_by("pk")
    reads: list[tuple[str, str]] = []
    for dump in dumps:
        name = dump.name or f"dump {dump.pk}"
        reads += [(name, dump.file), *([(f"{name}, second", dump.second)] if dump.second else [])]
    chosen = reads[:MOST_READS]
    try:
        return [name for name, _ in chosen], compare([vault.get(digest) for _, digest in chosen], page_bytes), ""
    except NotAlike as wrong:
        return [name for name, _ in chosen], None, str(wrong)
    except FileNotFoundError:
        return [name for name, _ in chosen], None, "A file of these reads is missing from the vault."
