"""Photos as evidence: which of them show what was found."""

from __future__ import annotations

import pytest
from django.urls import reverse

from labcases.bench.actions import examine
from labcases.bench.evidence.actions import NoEvidence, show_findings
from labcases.bench.evidence.queries import photos_for
from labcases.bench.models import Evidence
from labcases.bench.queries import findings_of
from labcases.custody.models import Event, EventText
from labcases.custody.photos.actions import keep, photograph, withdraw
from labcases.custody.photos.pictures import take_in
from labcases.lab.roles import Role
from tests import photographs

FOUND = {"faults": ["heads", "board"], "found": "Head 1 bent; the supply line is low.", "prospects": "fair"}


def shot(make, noon, thing, words):
    data = photographs.photograph(words)
    (made,) = photograph(thing=thing, kept=[keep(take_in(data), data)], by=make.everyone(), happened=noon, words=words)
    return made


@pytest.fixture
def look(make, noon):
    return examine(item=make.item(), by=make.actor(Role.ENGINEER), happened=noon, **FOUND)


def shown(look):
    (entry,) = findings_of(look.item.case)
    return [(fault, [photo.words for photo in photos]) for fault, photos in entry.examinations[0].shown_by]


def test_a_photo_is_tied_to_one_fault_of_the_findings(make, noon, look):
    bent, whole = (shot(make, noon, look.item.thing, words) for words in ("bent slider", "the open disk"))
    show_findings(examination=look, photos={bent: "heads", whole: ""}, by=make.actor(Role.ENGINEER), happened=noon)
    assert shown(look) == [("", ["the open disk"]), ("heads", ["bent slider"])]


def test_the_ledger_commits_to_the_files_that_show_it(make, noon, look):
    photo = shot(make, noon, look.item.thing, "bent slider")
    show_findings(examination=look, photos={photo: "heads"}, by=make.actor(Role.ENGINEER), happened=noon)
    event = Event.objects.get(kind="findings-shown")
    said = EventText.objects.get(sequence=event.sequence, field="because").text
    assert said == f"heads: 1 photo, SHA-256 {photo.original}"


def test_saying_the_same_again_records_nothing_and_saying_else_keeps_what_was_said(make, noon, look):
    by, photo = make.actor(Role.ENGINEER), shot(make, noon, look.item.thing, "bent slider")
    for _ in range(2):
        show_findings(examination=look, photos={photo: "heads"}, by=by, happened=noon)
    assert Event.objects.filter(kind="findings-shown").count() == 1
    show_findings(examination=look, photos={photo: "board"}, by=by, happened=noon)
    assert shown(look) == [("board or electrical", ["bent slider"])]
    show_findings(examination=look, photos={}, by=by, happened=noon)
    assert shown(look) == []
    assert Evidence.objects.count() == 2
    assert Event.objects.filter(kind="findings-shown").count() == 3


def test_photos_of_another_case_or_of_a_fault_that_was_not_found_are_refused(make, noon, look):
    by, own = make.actor(Role.ENGINEER), shot(make, noon, look.item.thing, "own")
    strange = shot(make, noon, make.item().thing, "strange")
    for photos in ({strange: ""}, {own: "motor"}):
        with pytest.raises(NoEvidence):
            show_findings(examination=look, photos=photos, by=by, happened=noon)
    assert not Evidence.objects.exists()


def test_a_withdrawn_photo_shows_nothing_any_more(make, noon, look):
    by, photo = make.everyone(), shot(make, noon, look.item.thing, "blurred")
    show_findings(examination=look, photos={photo: "heads"}, by=by, happened=noon)
    withdraw(photo=photo, because="blurred", by=by, happened=noon)
    assert shown(look) == []


def test_the_photos_of_the_item_come_before_those_of_its_case(make, noon):
    case = make.case(items=2)
    first, second = case.items.all()
    of_second, of_first = (shot(make, noon, item.thing, str(item)) for item in (second, first))
    assert photos_for(first) == [of_first, of_second]


def test_findings_are_recorded_with_their_photos_and_each_fault_is_said_on_its_page(make, noon, client_as):
    make.profile()
    item, client = make.item(), client_as(Role.ENGINEER)
    photo = shot(make, noon, item.thing, "bent slider")
    address = reverse("bench:examine", args=[str(item)])
    assert reverse("custody:photo-thumb", args=[photo.pk]) in client.get(address).content.decode()
    assert client.post(address, {**FOUND, "photos": [photo.pk]}).status_code == 303
    look = item.examinations.get()
    assert shown(look) == [("", ["bent slider"])]
    page = reverse("bench:evidence", args=[str(item), look.pk])
    assert page in client.get(item.case.get_absolute_url()).content.decode()
    assert client.post(page, {f"photo-{photo.pk}": "heads"}).status_code == 303
    assert shown(look) == [("heads", ["bent slider"])]
    assert "Shows heads:" in client_as(Role.AUDITOR).get(item.case.get_absolute_url()).content.decode()


def test_only_engineers_say_what_a_photo_shows(make, look, client_as):
    page = reverse("bench:evidence", args=[str(look.item), look.pk])
    assert client_as(Role.COUNTER).get(page).status_code == 403
