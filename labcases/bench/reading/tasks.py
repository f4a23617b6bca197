"""What the worker does for reading: coverages and plans that lag behind, and those that were overtaken."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import Exists, F, OuterRef, Q, Subquery
from django.utils import timezone

from labcases.bench.reading.actions import derive_waiting, keep_replan, tidy
from labcases.bench.reading.models import ItemCoverage, PlanVersion
from labcases.bench.reading.queries import plan_of, read_of
from labcases.bench.spans import BadSpan
from labcases.core import vault
from labcases.lab import timetable

AT_ONCE = 20
OVERTAKEN_AFTER = timedelta(hours=1)


def put_on_the_timetable() -> None:
    timetable.add("work out coverages", every=timedelta(minutes=1), run=derive_waiting, lease=timedelta(minutes=15))
    timetable.add("plan reading anew", every=timedelta(minutes=1), run=replan_waiting, lease=timedelta(minutes=15))
    timetable.add("clear away overtaken coverages", every=timedelta(hours=1), run=tidy)
    timetable.add("clear away overtaken plans", every=timedelta(hours=1), run=tidy_plans)


def replan_waiting() -> int:
    """The newest plan of each item, asked again as it was asked, where coverage has come in since."""
    newest = PlanVersion.objects.filter(item=OuterRef("item")).order_by("-number")
    planned = ItemCoverage.objects.filter(derived=F("version"), item__case__closed=None).exclude(derivation=None)
    lagging = planned.annotate(
        plan=Subquery(newest.values("pk")[:1]), made_from=Subquery(newest.values("derivation")[:1])
    ).filter(Q(made_from=None) | ~Q(made_from=F("derivation")), plan__isnull=False)
    plans = PlanVersion.objects.select_related("item__thing", "item__case__thing").in_bulk(
        list(lagging.values_list("plan", flat=True)[:AT_ONCE])
    )
    return sum(_replanned(plan) for plan in plans.values())


def _replanned(last: PlanVersion) -> bool:
    read = read_of(last.item)
    if read.derivation is None or read.derivation.pk == last.derivation_id:
        return False
    try:
        plan = plan_of(read, last.asked)
    except BadSpan:
        return False  # the size of the medium was corrected since: somebody has to ask anew
    return keep_replan(last=last, plan=plan, derivation=read.derivation) is not None


def tidy_plans() -> int:
    """Plans that the worker made and a newer one has overtaken: they were answers to the same question."""
    newer = PlanVersion.objects.filter(item=OuterRef("item"), number__gt=OuterRef("number"))
    old = PlanVersion.objects.filter(Exists(newer), by=None, happened__lt=timezone.now() - OVERTAKEN_AFTER)
    gone = list(old.values_list("pk", "file")[:500])
    PlanVersion.objects.filter(pk__in=[pk for pk, _ in gone]).delete()
    for digest in {digest for _, digest in gone}:
        if not PlanVersion.objects.filter(file=digest).exists():
            vault.remove(digest, unused_seconds=OVERTAKEN_AFTER.total_seconds())
    return len(gone)
