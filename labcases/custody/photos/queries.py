"""Which photos there are, for pages and papers."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Prefetch
from django.http import Http404
from django.utils import timezone

from labcases.core import codes
from labcases.custody.models import Photo, Thing
from labcases.lab.models import Staff

CLOCK_OFF = timedelta(days=1)


def photos_of(owner: Thing | UUID) -> list[Photo]:
    """Those that are shown, oldest first, in one query."""
    return list(Photo.objects.of(owner).standing().select_related("thing"))


def beside(photo: Photo) -> list[Photo]:
    """All photos of what this one shows, itself among them."""
    return list(Photo.objects.filter(thing=photo.thing, draft=photo.draft).standing().select_related("thing"))


def with_photos(path: str = "thing__") -> Prefetch:
    """For ``prefetch_related`` of a list: ``row.thing.shown_photos``, two queries for all; of things: ``""``."""
    return Prefetch(f"{path}photos", queryset=Photo.objects.standing().select_related("thing"), to_attr="shown_photos")


def photo_for(user: Staff, pk: int) -> Photo:
    """The one door to a photo, for somebody who may look; also to a withdrawn one. 404 with a sentence otherwise."""
    photo = Photo.objects.select_related("thing", "by").filter(pk=pk).first()
    if photo is None:
        raise Http404("There is no such photo; it may have been thrown away with its draft.")
    return photo


def for_paper(things: Iterable[Thing], most: int = 2) -> list[dict[str, str]]:
    """The first photos of these things, as ``paper/_photos.html`` wants them."""
    found = Photo.objects.standing().filter(thing__in=list(things)).select_related("thing")[:most]
    return [
        {"digest": photo.shown, "alt": photo.alt, "caption": f"{photo.thing}: {photo.words}".rstrip(": ")}
        for photo in found
    ]


def things_of_its_case(thing: Thing | None) -> list[Thing]:
    """The docket, items and accessories of the case that a thing came in with; empty for stock."""
    case = _case_body(thing.code) if thing else ""
    near = Thing.objects.filter(code__startswith=case).order_by("pk") if case else Thing.objects.none()
    return [other for other in near if _case_body(other.code) == case]  # a longer number may begin like this one


def _case_body(folded: str) -> str:
    return codes.case_body_of(folded)


def said_of_camera_time(photo: Photo) -> str:
    """What the camera's clock said, and that it is wrong where it is: the lab's own time is what counts."""
    if not photo.camera_time:
        return ""
    camera = datetime.fromisoformat(photo.camera_time)
    text = f"{camera.day} {camera:%b %Y, %H:%M}"
    local = timezone.localtime(photo.happened).replace(tzinfo=None)
    if camera > local + CLOCK_OFF:
        return f"{text}: that lies ahead, so the camera's clock is wrong. The lab's own time counts."
    return text if local - camera < CLOCK_OFF else f"{text}: an older photo, or the camera's clock is wrong."


def side_by_side(left: Photo, right: Photo | None, other: Thing | None) -> dict[str, Any]:
    """Two photos with all that could stand in their place."""
    of_left = beside(left)
    if other and (right is None or right.thing_id != other.pk):
        right = None
        of_right = photos_of(other)
    else:
        of_right = beside(right or left)
    right = right or next((photo for photo in of_right if photo != left), None)
    sides = [("left", left, of_left), ("right", right, of_right)]
    return {"left": left, "right": right, "sides": sides, "other": other}
