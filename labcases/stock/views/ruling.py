"""What must match for which part: the lab's rules, their versions, and the label codes it compares."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from labcases.core.views import bound, press, show
from labcases.lab.access import StaffRequest, needs
from labcases.lab.roles import Right
from labcases.stock import actions
from labcases.stock.forms.ruling import BackForm, KeepLabelCodeForm, LabelCodeForm, RulesForm
from labcases.stock.models import Family, LabelCode, RuleSet
from labcases.stock.queries.ruling import RuleBook, rule_books
from labcases.stock.rules import PartKind
from labcases.stock.views.common import GET_OR_POST, page_of, said_of

VERSIONS_SHOWN = 20


@require_GET
@needs(Right.LOOK)
def rules(request: StaffRequest) -> HttpResponse:
    """Every kind of part with the rules that count, and the families that have their own."""
    books = rule_books()
    own: dict[str, list[RuleSet]] = {}
    for (part, family), row in sorted(books.newest.items(), key=lambda pair: str(pair[1].family or "")):
        if family and row.rules is not None:
            own.setdefault(part, []).append(row)
    rows = [(kind, books.of(kind, None), own.get(kind.value, [])) for kind in PartKind]
    context = {"rows": rows, "codes": LabelCode.objects.all(), "place": "Stockroom"}
    return show(request, "stock/rules.html", context)


@GET_OR_POST
@needs(Right.LOOK, to_press=Right.KEEP_LAB)
def rules_of(request: StaffRequest, part: str) -> HttpResponse:
    """The rules for one kind of part, for all families or for one (``?family=``): read them, change them."""
    kind, family = _asked(request, part)
    books = rule_books()
    book, seen = books.of(kind, family), books.version(kind.value, family.pk if family else None)
    form = bound(request, RulesForm, rules=book.rules, seen=seen)

    def act(said: dict[str, Any]) -> RuleSet:
        about = {"because": said["because"], "happened": said["happened"], "seen": said["seen"], "by": request.actor}
        return actions.keep_rules(part=kind, family=family, rules=said["rules"], **about)

    if done := press(request, form, "keep-rules", act):
        return done
    return show(request, "stock/rules_of.html", _context(form, kind, family, book))


def _context(form: RulesForm, kind: PartKind, family: Family | None, book: RuleBook) -> dict[str, Any]:
    versions = RuleSet.objects.filter(part=kind, family=family).select_related("by", "family")[:VERSIONS_SHOWN]
    whose = f"{kind} of {family}" if family else str(kind)
    back = reverse("stock:rules-back", args=[kind.value]) + (f"?family={family.pk}" if family else "")
    return {
        "form": form,
        "kind": kind,
        "family": family,
        "whose": whose,
        "book": book,
        "versions": versions,
        "own": bool(versions) and versions[0].rules is not None,
        "back": back,
        "families": Family.objects.all(),
        "place": "Stockroom",
    }


@GET_OR_POST
@needs(Right.KEEP_LAB)
def rules_back(request: StaffRequest, part: str) -> HttpResponse:
    """Back to what the rules were before the lab had its own; every version stays."""
    kind, family = _asked(request, part)
    seen = rule_books().version(kind.value, family.pk if family else None)
    form = bound(request, BackForm, initial={"seen": seen})

    def act(said: dict[str, Any]) -> RuleSet:
        about = {name: said[name] for name in ("because", "happened", "seen")}
        return actions.keep_rules(part=kind, family=family, rules=None, by=request.actor, **about)

    after = f"those for every {kind}" if family else "those every lab begins with"
    lead = f"From then on {after} count. What was assigned before keeps the verdict it was given."
    context = page_of(f"Give up our own rules for {kind}", form, None, "", lead=lead, button="Give them up")
    context["back"] = reverse("stock:rules-of", args=[part]) + (f"?family={family.pk}" if family else "")
    return press(request, form, "rules-back", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def add_label_code(request: StaffRequest) -> HttpResponse:
    """Name a code on labels that the lab compares."""
    form = bound(request, LabelCodeForm)

    def act(said: dict[str, Any]) -> str:
        about = {"name": said["name"], "stands": said["stands"], "happened": timezone.now()}
        actions.keep_label_code(by=request.actor, **about)
        return reverse("stock:rules")

    lead = "Patients and donors can then say it, and a rule can compare it: whole, or some of its characters."
    context = page_of("Name a label code", form, None, "", lead=lead, button="Name it", back=reverse("stock:rules"))
    return press(request, form, "add-label-code", act) or show(request, "verb.html", context)


@GET_OR_POST
@needs(Right.KEEP_LAB)
def keep_label_code(request: StaffRequest, pk: int) -> HttpResponse:
    """Say again where a label code stands, or put it out of use."""
    code = get_object_or_404(LabelCode, pk=pk)
    form = bound(request, KeepLabelCodeForm, initial={"stands": code.stands, "in_use": code.in_use})

    def act(said: dict[str, Any]) -> str:
        about = said_of(said, "stands", "in_use") | {"happened": timezone.now()}
        actions.keep_label_code(name=code.name, code=code, by=request.actor, **about)
        return reverse("stock:rules")

    lead = "Out of use, no new rule compares it. Rules that do go on until they are changed."
    context = page_of(
        f"Label code {code}", form, None, "", lead=lead, button="Keep the changes", back=reverse("stock:rules")
    )
    return press(request, form, "keep-label-code", act) or show(request, "verb.html", context)


def _asked(request: StaffRequest, part: str) -> tuple[PartKind, Family | None]:
    if part not in set(PartKind):
        raise Http404(f"There is no kind of part called {part}.")
    asked = request.GET.get("family", "")
    if asked and not (asked.isascii() and asked.isdigit() and len(asked) < 18):
        raise Http404("A family is named by its number.")
    return PartKind(part), get_object_or_404(Family, pk=asked) if asked else None
