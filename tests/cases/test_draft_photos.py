"""Photos of an intake: where they go when it is taken in, and what becomes of those that nobody took in."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from labcases.cases.models import Draft
from labcases.cases.papers import receipt_context
from labcases.cases.tasks import sweep_draft_photos, thing_for_photos
from labcases.custody.models import Photo
from labcases.lab.roles import Role
from tests.photographs import photograph


@pytest.fixture
def sent(client_as):
    """Send a photo for a draft; gives the draft's key and who sent it."""
    client, key = client_as(Role.COUNTER), uuid4()
    file = SimpleUploadedFile("a.jpg", photograph(str(key)))
    assert client.post(reverse("custody:draft-photos", args=[key]), {"photos": file}).status_code == 303
    return key


def old() -> None:
    Photo.objects.update(entered=timezone.now() - timedelta(days=4))


def test_photos_go_with_the_only_item_and_with_the_docket_of_several(make):
    alone, several = make.case(items=1), make.case(items=2)
    assert thing_for_photos(alone) == alone.items.get().thing
    assert thing_for_photos(several) == several.thing


def test_photos_of_a_draft_that_waits_are_kept_and_of_none_are_forgotten(make, sent):
    draft = Draft.objects.create(key=sent, person=make.staff(), typed="owner-name=Orrin")
    old()
    assert sweep_draft_photos() == 0
    draft.delete()
    assert sweep_draft_photos() == 1
    assert not Photo.objects.exists()


def test_a_photo_that_came_after_its_draft_was_taken_in_goes_with_the_case(make, sent):
    case = make.case(items=1)
    Draft.objects.create(key=sent, person=make.staff(), typed="", case=case)
    sweep_draft_photos()
    photo = Photo.objects.get()
    assert photo.thing == case.items.get().thing
    assert photo.event is not None


def test_the_intake_form_shows_the_first_two_photos(make, sent):
    case = make.case(items=1)
    Draft.objects.create(key=sent, person=make.staff(), typed="", case=case)
    sweep_draft_photos()
    assert [one["digest"] for one in receipt_context(case)["photos"]] == [Photo.objects.get().shown]
