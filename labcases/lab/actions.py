"""The lab's own verbs: terms, and the timetable the worker follows."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from labcases.core import vault
from labcases.core.refused import Refused
from labcases.core.text import many_lines
from labcases.lab import timetable
from labcases.lab.models import Actor, JobRun, Profile, Staff, StaffRole, TermsVersion
from labcases.lab.roles import Right, Role


class LastManager(Refused):
    """A lab without a manager could never make one again."""


log = logging.getLogger(__name__)


def publish_terms(*, version: str, text: str, by: Actor, happened: datetime) -> TermsVersion:
    """Put new terms in force for the cases to come; earlier cases keep what was signed."""
    by.must(Right.KEEP_LAB)
    text = many_lines(text)
    digest = hashlib.sha256(text.encode()).hexdigest()
    return TermsVersion.objects.create(version=version, text=text, digest=digest, since=happened)


def change_profile(*, by: Actor, happened: datetime, logo: bytes = b"", logo_type: str = "", **fields: Any) -> Profile:
    """Change who the lab is. Papers printed before keep what they said."""
    by.must(Right.KEEP_LAB)
    if logo:
        fields |= {"logo": vault.put(logo), "logo_type": logo_type}
    profile, _ = Profile.objects.update_or_create(pk=1, defaults=fields)
    return profile


@transaction.atomic
def change_staff(
    *, person: Staff, roles: Sequence[str], by: Actor, happened: datetime, password: str = "", **fields: Any
) -> Staff:
    """Change a colleague's name, log-in, roles or password.

    Raises LastManager when nobody could keep the lab any more.
    """
    by.must(Right.KEEP_LAB)
    for name, value in fields.items():
        setattr(person, name, value)
    if password:
        person.set_password(password)
    person.save()
    StaffRole.objects.filter(staff=person).exclude(role__in=roles).delete()
    for role in roles:
        StaffRole.objects.get_or_create(staff=person, role=Role(role))
    if not Staff.objects.filter(is_active=True, held_roles__role=Role.MANAGER).exists():
        raise LastManager("There would be no manager left who can log in.", mend="Make somebody else a manager first.")
    return person


@transaction.atomic
def hire(*, by: Actor, happened: datetime, **about: Any) -> Staff:
    """A new member of staff."""
    by.must(Right.KEEP_LAB)
    return Staff.objects.create_user(**about)


def run_due(now: datetime | None = None) -> int:
    """Run every job of the timetable that is due and that no other worker holds. Returns how many ran."""
    return sum(_run(job, now or timezone.now()) for job in timetable.JOBS.values())


def _run(job: timetable.Job, now: datetime) -> int:
    JobRun.objects.get_or_create(name=job.name, defaults={"due": now})
    free = Q(held_until=None) | Q(held_until__lt=now)
    lease = now + job.lease
    claimed = JobRun.objects.filter(free, name=job.name, due__lte=now).update(held_until=lease)
    if not claimed:
        return 0
    error = ""
    try:
        job.run()
    except Exception as problem:
        log.exception("The timetable's job %r failed.", job.name)
        error = f"{type(problem).__name__}: {problem}"
    ended = timezone.now()
    # Whoever outran the lease leaves the row to the worker that has taken the job up since.
    JobRun.objects.filter(name=job.name, held_until=lease).update(
        held_until=None, due=ended + job.every, last_ended=ended, last_error=error
    )
    return 1
