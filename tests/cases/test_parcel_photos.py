"""Photos of a parcel, closed and opened, end with the docket of its case."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from labcases.cases.models import Case
from labcases.custody.models import Photo
from labcases.lab.roles import Role
from tests.photographs import photograph


@pytest.fixture
def counter(make, client_as):
    make.profile(country="GB")
    return client_as(Role.COUNTER)


def shot(text):
    return SimpleUploadedFile(f"{text}.jpg", photograph(text), content_type="image/jpeg")


def test_the_parcel_of_a_case_is_photographed_onto_its_docket(counter, make):
    case = make.expected()
    page = counter.get(f"/cases/{case}/arrive/").content.decode()
    to = re.findall(r'<form id="(?:closed|opened)-photos"[^>]* action="([^"]+)"', page)
    for address, text in zip(to, ("box", "foam"), strict=True):
        assert counter.post(address, {"photos": shot(text)}).status_code == 303
    found = Photo.objects.filter(thing=case.thing).order_by("pk")
    assert [photo.words for photo in found] == ["parcel, closed", "parcel, opened"]
    assert all(photo.event for photo in found)
    page = counter.get(f"/cases/{case}/arrive/").content.decode()
    closed, opened = page.split("<h3>Closed</h3>")[1].split("<h3>Opened</h3>")
    assert (closed.count("<figure"), opened.count("<figure")) == (1, 1)


def test_the_docket_shows_the_photos_of_the_parcel(counter, make):
    case = make.expected()
    counter.post(f"/custody/things/{case}/photos/?shows=parcel,%20closed", {"photos": shot("box")})
    page = counter.get(f"/cases/{case}/").content.decode()
    assert "Of the whole case" in page
    assert "parcel, closed" in page


def test_a_parcel_without_a_sender_takes_its_photos_along(counter):
    page = counter.get("/counter/parcel/unknown/").content.decode()
    key = re.search(r'name="once" value="([^"]+)"', page)[1]
    to = re.search(r'<form id="closed-photos"[^>]* action="([^"]+)"', page)[1]
    assert key in to
    counter.post(to, {"photos": shot("box")})
    typed = {"once": key, "closed": "dented", "opened": "loose", "kind-1": "disk25", "written": "Nothing."}
    assert counter.post("/counter/parcel/unknown/", typed).status_code == 303
    assert Photo.objects.get().thing == Case.objects.get().thing


def test_photos_that_came_before_a_mistake_are_still_there(counter):
    page = counter.get("/counter/parcel/unknown/").content.decode()
    key = re.search(r'name="once" value="([^"]+)"', page)[1]
    counter.post(f"/custody/photos/drafts/{key}/?shows=parcel,%20closed", {"photos": shot("box")})
    answer = counter.post("/counter/parcel/unknown/", {"once": key, "closed": "", "opened": "loose"})
    assert answer.status_code == 422
    assert answer.content.decode().split("<h3>Closed</h3>")[1].split("<h3>Opened")[0].count("<figure") == 1
