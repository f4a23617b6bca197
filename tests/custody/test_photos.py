"""Photos of things and drafts: kept, shown, recorded, attached, put right, swept."""

from __future__ import annotations

import hashlib
import io
import re
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from labcases.core import vault
from labcases.core.refused import NotAllowed
from labcases.custody import chain
from labcases.custody.models import Event, Photo, Thing
from labcases.custody.photos import actions, darkroom, queries
from labcases.custody.photos.pictures import MOST_BYTES, take_in
from labcases.custody.queries import line_of
from labcases.lab.roles import Role
from tests.photographs import photograph, scene, with_everything

HTMX = {"headers": {"HX-Request": "true"}}


def kept(text="label"):
    data = photograph(text)
    return actions.keep(take_in(data), data)


def file(data=None, name="IMG_0001.jpg"):
    return SimpleUploadedFile(name, photograph(name) if data is None else data, content_type="image/jpeg")


@pytest.fixture
def thing(make):
    return make.item().thing


@pytest.fixture
def photo(make, thing, noon):
    return actions.photograph(thing=thing, kept=[kept()], by=make.actor(Role.COUNTER), happened=noon)[0]


def of_thing(thing):
    return reverse("custody:thing-photos", args=[thing.printed_code])


# --- recording -------------------------------------------------------------------------------------------------------


def test_the_file_that_arrived_is_kept_unaltered_under_its_hash(photo):
    data = photograph()
    assert photo.original == hashlib.sha256(data).hexdigest()
    assert vault.get(photo.original) == data


def test_photos_taken_in_one_go_are_one_event_that_commits_to_each_file(make, thing, noon):
    some = [kept("label"), kept("board"), kept("connector")]
    actions.photograph(thing=thing, kept=some, by=make.actor(Role.ENGINEER), happened=noon)
    events = Event.objects.filter(kind="photographed", thing_code=thing.code)
    root = chain.root([bytes.fromhex(one.fields["original"]) for one in some]).hex()
    assert line_of(thing)[-1].because == f"3 photos, tree root of their SHA-256 {root}"
    assert [event.case_code for event in events] == [thing.item.case.code]
    assert set(Photo.objects.values_list("event", flat=True)) == {events.get().sequence}


def test_the_same_photo_sent_twice_is_there_once(make, thing, noon):
    by = make.actor(Role.COUNTER)
    first, second = (actions.photograph(thing=thing, kept=[kept()], by=by, happened=noon) for _ in range(2))
    assert first == second
    assert Event.objects.filter(kind="photographed").count() == 1


def test_an_auditor_takes_no_photos(make, thing, noon):
    with pytest.raises(NotAllowed, match="photograph things"):
        actions.photograph(thing=thing, kept=[kept()], by=make.actor(Role.AUDITOR), happened=noon)


def test_a_batch_whose_sender_never_came_back_is_recorded_after_a_while(make, thing, noon):
    by = make.actor(Role.COUNTER)
    actions.add_photos(kept=[kept()], to=thing, by=by, happened=noon, batch=uuid4())
    assert actions.close_forgotten_batches() == 0
    Photo.objects.update(entered=timezone.now() - timedelta(hours=1))
    assert actions.close_forgotten_batches() == 1
    assert line_of(thing)[-1].by == by.name


def test_the_photos_of_a_draft_go_with_what_it_becomes(make, thing, noon):
    by, key = make.actor(Role.COUNTER), uuid4()
    actions.add_photos(kept=[kept("label"), kept("board")], to=key, by=by, happened=noon, batch=uuid4())
    assert actions.attach_draft_photos(draft=key, thing=thing, by=by, happened=noon) == 2
    assert len(queries.photos_of(thing)) == 2
    assert Event.objects.filter(kind="photographed", thing_code=thing.code).count() == 1
    assert queries.photos_of(key) == []


@pytest.mark.parametrize("owner", [{"thing": None, "event": None}, {"draft": UUID(int=1)}])
def test_a_photo_shows_a_thing_or_waits_with_a_draft(photo, owner):
    with pytest.raises(IntegrityError, match="photo_of_thing_or_draft"):
        Photo.objects.filter(pk=photo.pk).update(**owner)


def test_a_withdrawn_photo_is_not_shown_and_the_ledger_says_why(make, photo, noon):
    actions.withdraw(photo=photo, because="another customer's", by=make.actor(Role.COUNTER), happened=noon)
    assert queries.photos_of(photo.thing) == []
    assert "another customer's" in line_of(photo.thing)[-1].because
    assert vault.get(photo.original)


def test_a_photo_is_put_with_another_item_of_its_case_and_with_no_other(make, noon):
    one, two = make.case(items=2).items.all()
    by = make.actor(Role.COUNTER)
    (photo,) = actions.photograph(thing=one.thing, kept=[kept()], by=by, happened=noon)
    actions.put_with(photo=photo, thing=two.thing, by=by, happened=noon)
    assert queries.photos_of(two.thing) == [photo]
    with pytest.raises(actions.Elsewhere):
        actions.put_with(photo=photo, thing=make.item().thing, by=by, happened=noon)


def test_there_is_an_end_to_the_photos_of_one_thing(make, thing, noon, monkeypatch):
    monkeypatch.setattr(actions, "MOST_OF_ONE", 1)
    with pytest.raises(actions.TooMany):
        actions.photograph(thing=thing, kept=[kept("a"), kept("b")], by=make.actor(Role.COUNTER), happened=noon)


def test_a_full_disk_is_said_before_anything_is_written(monkeypatch):
    monkeypatch.setattr(vault, "free_bytes", lambda: actions.ROOM_LEFT)
    with pytest.raises(actions.NoRoom):
        kept()


# --- sweeping --------------------------------------------------------------------------------------------------------


@pytest.fixture
def old_draft(make, noon, monkeypatch):
    """Two photos of two drafts, four days old, with files as old."""
    by, keys = make.actor(Role.COUNTER), (uuid4(), uuid4())
    for key in keys:
        actions.add_photos(kept=[kept(str(key))], to=key, by=by, happened=noon, batch=uuid4())
    Photo.objects.update(entered=timezone.now() - timedelta(days=4))
    monkeypatch.setattr("labcases.core.vault.time.time", lambda: timezone.now().timestamp() + 4 * 86_400)
    return keys


def test_photos_of_a_draft_that_was_thrown_away_are_swept_with_their_files(old_draft):
    gone, waits = old_draft
    (photo,) = queries.photos_of(gone)
    assert actions.sweep_orphans(wanted=[waits]) == 1
    assert len(queries.photos_of(waits)) == 1
    with pytest.raises(FileNotFoundError):
        vault.get(photo.original)
    assert vault.get(queries.photos_of(waits)[0].original)


def test_a_file_that_something_else_names_is_not_swept(old_draft, make):
    (photo,) = queries.photos_of(old_draft[0])
    make.profile(logo=photo.original)
    actions.sweep_orphans(wanted=[])
    assert vault.get(photo.original)


def test_what_was_put_just_now_is_not_swept(make, noon):
    actions.add_photos(kept=[kept()], to=uuid4(), by=make.actor(Role.COUNTER), happened=noon, batch=uuid4())
    assert actions.sweep_orphans(wanted=[]) == 0


# --- uploading -------------------------------------------------------------------------------------------------------


def test_the_page_sends_one_photo_and_gets_its_small_picture_back(thing, client_as):
    client, batch = client_as(Role.COUNTER), uuid4()
    answer = client.post(of_thing(thing), {"photos": file(), "batch": batch}, **HTMX)
    assert answer.status_code == 200
    assert "data-photo=" in answer.content.decode()
    assert not Event.objects.filter(kind="photographed").exists()
    assert client.post(reverse("custody:photos-done", args=[batch])).status_code == 204
    assert Event.objects.filter(kind="photographed").count() == 1


@pytest.mark.parametrize(
    ("data", "word"),
    [(b"MZ" + bytes(100), "a program"), (b"<svg/>", "an SVG"), (photograph()[:900], "cut off"), (b"", "empty")],
)
def test_what_is_no_photo_comes_back_as_a_sentence_and_nothing_is_kept(thing, client_as, data, word):
    answer = client_as(Role.COUNTER).post(of_thing(thing), {"photos": file(data, "holiday.jpg")}, **HTMX)
    assert answer.status_code == 422
    assert word in answer.content.decode()
    assert not Photo.objects.exists()


def test_a_plain_form_sends_several_and_says_which_one_was_refused(thing, client_as):
    sent = {"photos": [file(name="a.jpg"), file(b"MZ\x90", "b.jpg"), file(name="c.jpg")]}
    page = client_as(Role.COUNTER).post(of_thing(thing), sent, follow=True).content.decode()
    assert "2 photos kept." in page
    assert "b.jpg: It is a program." in page
    assert Event.objects.filter(kind="photographed").count() == 1


def test_nothing_chosen_is_said(thing, client_as):
    page = client_as(Role.COUNTER).post(of_thing(thing), {}, follow=True).content.decode()
    assert "No photo was chosen" in page


def test_a_file_over_the_limit_is_said_and_one_without_end_is_not_even_kept(thing, client_as, settings):
    settings.LARGEST_UPLOAD = 50_000
    answer = client_as(Role.COUNTER).post(of_thing(thing), {"photos": file(bytes(60_000))}, **HTMX)
    assert (answer.status_code, "larger than 30 MB" in answer.content.decode()) == (422, True)


def test_the_page_knows_the_same_limit_as_the_server(thing, client_as):
    page = client_as(Role.COUNTER).get(of_thing(thing)).content.decode()
    assert int(re.search(r'data-most-bytes="(\d+)"', page)[1]) == MOST_BYTES


def test_a_full_line_asks_the_page_to_send_again(thing, client_as, monkeypatch):
    def busy(data):
        raise darkroom.Busy

    monkeypatch.setattr(darkroom, "develop", busy)
    answer = client_as(Role.COUNTER).post(of_thing(thing), {"photos": file()}, **HTMX)
    assert answer.status_code == 503
    assert not Photo.objects.exists()


def test_forty_photos_in_one_form_are_all_kept(thing, client_as):
    sent = {"photos": [file(name=f"IMG_{n}.jpg") for n in range(40)]}
    assert client_as(Role.COUNTER).post(of_thing(thing), sent).status_code == 303
    assert Photo.objects.filter(thing=thing).count() == 40


def test_an_auditor_may_look_and_not_add(thing, photo, client_as):
    client = client_as(Role.AUDITOR)
    page = client.get(of_thing(thing))
    assert page.status_code == 200
    assert 'name="photos"' not in page.content.decode()
    assert client.post(of_thing(thing), {"photos": file()}, **HTMX).status_code == 403


def test_photos_are_taken_for_an_intake_that_is_still_being_typed(client_as):
    key, client = uuid4(), client_as(Role.COUNTER)
    address = reverse("custody:draft-photos", args=[key])
    assert client.post(address, {"photos": file()}, **HTMX).status_code == 200
    assert "data-photo=" in client.get(address).content.decode()
    assert not Event.objects.filter(kind="photographed").exists()


# --- showing ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["shown", "thumb"])
def test_a_picture_is_served_to_those_who_may_look_and_kept_by_no_one_else(photo, client_as, client, which):
    address = reverse(f"custody:photo-{which}", args=[photo.pk])
    assert client.get(address).status_code == 302  # to the log-in
    answer = client_as(Role.AUDITOR).get(address)
    assert Image.open(io.BytesIO(answer.content)).format == "JPEG"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer.headers["Content-Security-Policy"]


def test_a_picture_the_browser_has_is_not_sent_again(photo, client_as):
    client, address = client_as(Role.AUDITOR), reverse("custody:photo-shown", args=[photo.pk])
    etag = client.get(address).headers["ETag"]
    assert client.get(address, headers={"If-None-Match": etag}).status_code == 304


def test_no_address_serves_the_file_that_arrived(make, thing, noon, client_as):
    data = with_everything(scene())
    by = make.actor(Role.COUNTER)
    (photo,) = actions.photograph(thing=thing, kept=[actions.keep(take_in(data), data)], by=by, happened=noon)
    client = client_as()
    page = client.get(photo.get_absolute_url()).content.decode()
    assert photo.original in page
    for address in set(re.findall(r'(?:href|src)="(/custody/photos/[^"?]+)"', page)):
        assert b"Orrin Vale" not in client.get(address).content
    assert client.get(f"/custody/photos/{photo.pk}/original.jpg").status_code == 404


def test_a_file_changed_on_the_disk_is_not_shown(photo, client_as):
    vault.path(photo.shown).write_bytes(b"other")
    answer = client_as(Role.AUDITOR).get(reverse("custody:photo-shown", args=[photo.pk]))
    assert answer.status_code == 404
    vault.path(photo.shown).unlink()


def test_what_a_photo_shows_is_said_under_it_and_for_who_cannot_see_it(photo, client_as):
    client = client_as(Role.ENGINEER)
    assert client.post(photo.get_absolute_url(), {"words": "dent <b>", "thing": photo.thing_id}).status_code == 303
    assert 'alt="dent &lt;b&gt;"' in client.get(of_thing(photo.thing)).content.decode()


def test_a_photo_is_withdrawn_with_a_reason(photo, client_as):
    client, address = client_as(Role.COUNTER), reverse("custody:withdraw-photo", args=[photo.pk])
    assert client.post(address, {}).status_code == 422
    assert client.post(address, {"because": "blurred"}).status_code == 303
    assert "Withdrawn" in client.get(photo.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("hours", "word"), [(2, "lies ahead"), (-40 * 24, "older photo"), (-1, None)], ids=["ahead", "behind", "right"]
)
def test_a_camera_whose_clock_is_wrong_is_said(photo, hours, word):
    off = timedelta(hours=hours) * (24 if hours == 2 else 1)
    photo.camera_time = (photo.happened + off).replace(tzinfo=None).isoformat(" ", "seconds")
    said = queries.said_of_camera_time(photo)
    assert word in said if word else said.endswith("11:00")


def test_two_photos_are_compared_also_of_two_things(make, photo, client_as, noon):
    other = make.item().thing
    (second,) = actions.photograph(thing=other, kept=[kept("board")], by=make.actor(Role.ENGINEER), happened=noon)
    client = client_as(Role.ENGINEER)
    page = client.get(reverse("custody:compare"), {"left": photo.pk, "with": other.printed_code}).content.decode()
    for one in (photo, second):
        assert reverse("custody:photo-shown", args=[one.pk]) in page
    assert "Nothing carries" in client.get(reverse("custody:compare"), {"left": photo.pk, "with": "?"}).content.decode()
    assert client.get(reverse("custody:compare"), {"left": "x"}).status_code == 404


def test_the_photos_of_many_things_cost_the_same_as_of_one(make, noon):
    by = make.actor(Role.COUNTER)

    def cost(case) -> int:
        for item in case.items.all():
            actions.photograph(thing=item.thing, kept=[kept(str(item))], by=by, happened=noon)
        with CaptureQueriesContext(connection) as ran:
            things = Thing.objects.filter(item__case=case).prefetch_related(queries.with_photos(""))
            assert all(len(thing.shown_photos) == 1 for thing in things)
        return len(ran)

    assert cost(make.case(items=1)) == cost(make.case(items=6))


def test_papers_get_the_first_two(make, thing, noon):
    some = [kept(word) for word in ("a", "b", "c")]
    made = actions.photograph(thing=thing, kept=some, by=make.actor(Role.COUNTER), happened=noon)
    assert [one["digest"] for one in queries.for_paper([thing])] == [photo.shown for photo in made[:2]]
