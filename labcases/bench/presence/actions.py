"""Being there: no record, only a row that is overwritten."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from labcases.bench.presence.models import Presence
from labcases.cases.models import Case
from labcases.lab.models import Staff


def be_there(*, case: Case, person: Staff) -> None:
    """This person has the docket open now; whoever was anywhere more than a day ago is forgotten."""
    Presence.objects.filter(seen__lt=timezone.now() - timedelta(days=1)).delete()
    Presence.objects.update_or_create(person=person, case=case, defaults={"seen": timezone.now()})
