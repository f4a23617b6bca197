"""The lab's own verbs: terms, and the timetable the worker follows."""

from __future__ import annotations

import hashlib
import logging
from datetime import datetime

from django.db.models import Q
from django.utils import timezone

from labcases.core.text import many_lines
from labcases.lab import timetable
from labcases.lab.models import Actor, JobRun, TermsVersion
from labcases.lab.roles import Right

log = logging.getLogger(__name__)


def publish_terms(*, version: str, text: str, by: Actor, happened: datetime) -> TermsVersion:
    """Put new terms in force for the cases to come; earlier cases keep what was signed."""
    by.must(Right.KEEP_LAB)
    text = many_lines(text)
    digest = hashlib.sha256(text.encode()).hexdigest()
    return TermsVersion.objects.create(version=version, text=text, digest=digest, since=happened)


def run_due(now: datetime | None = None) -> int:
    """Run every job of the timetable that is due and that no other worker holds. Returns how many ran."""
    return sum(_run(job, now or timezone.now()) for job in timetable.JOBS.values())


def _run(job: timetable.Job, now: datetime) -> int:
    JobRun.objects.get_or_create(name=job.name, defaults={"due": now})
    free = Q(held_until=None) | Q(held_until__lt=now)
    claimed = JobRun.objects.filter(free, name=job.name, due__lte=now).update(held_until=now + job.lease)
    if not claimed:
        return 0
    error = ""
    try:
        job.run()
    except Exception as problem:
        log.exception("The timetable's job %r failed.", job.name)
        error = f"{type(problem).__name__}: {problem}"
    ended = timezone.now()
    JobRun.objects.filter(name=job.name).update(
        held_until=None, due=ended + job.every, last_ended=ended, last_error=error
    )
    return 1
