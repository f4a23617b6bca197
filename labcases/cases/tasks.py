"""What the worker does for the counter by itself."""

from __future__ import annotations

from django.utils import timezone

from labcases.cases.models import Case, Draft
from labcases.custody.models import Photo, Thing
from labcases.custody.photos.actions import attach_draft_photos, sweep_orphans
from labcases.lab.models import Actor


def thing_for_photos(case: Case) -> Thing:
    """Where the photos of an intake go: with its only item, or with the docket when there are several."""
    things = [item.thing for item in case.items.select_related("thing")[:2]]
    return things[0] if len(things) == 1 else case.thing


def sweep_draft_photos() -> int:
    """Photos that came when their draft was a case already go with the case; those of no draft are forgotten."""
    late = Draft.objects.exclude(case=None).filter(key__in=Photo.objects.standing().filter(thing=None).values("draft"))
    for draft in late.select_related("case__thing"):
        if draft.case is None:
            continue  # the query leaves these out; the types cannot know
        thing = thing_for_photos(draft.case)
        attach_draft_photos(draft=draft.key, thing=thing, by=Actor.worker(), happened=timezone.now())
    return sweep_orphans(wanted=set(Draft.objects.waiting().values_list("key", flat=True)))
