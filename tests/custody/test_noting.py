"""Touches are noted with what each needs, from the page of the thing; who may not, is told so."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labcases.core.refused import Refused
from labcases.custody.actions import NotThere, record, recorded
from labcases.custody.models import Break, Event, EventText, Thing, Whereabouts
from labcases.custody.noting import actions
from labcases.custody.noting.views import TOUCHES
from labcases.lab.models import Place
from labcases.lab.roles import Role
from labcases.stock.actions import assign_donor


def page(thing, what=""):
    return reverse("custody:note-one", args=[thing.printed_code, what]) if what else reverse(
        "custody:note", args=[thing.printed_code]
    )  # fmt: skip


def words(kind: str) -> dict[str, str]:
    event = Event.objects.filter(kind=kind).latest("sequence")
    return dict(EventText.objects.filter(sequence=event.sequence).values_list("field", "text"))


def body(kind: str) -> dict:
    return json.loads(bytes(Event.objects.filter(kind=kind).latest("sequence").body))


def test_seals_go_on_and_are_known_as_on_it(make, client_as):
    thing = make.item().thing
    sent = client_as(Role.ENGINEER).post(page(thing, "seal"), {"seals": "s-1, S-2 s-1"})
    assert sent.status_code == 303, sent.content.decode()
    assert Thing.objects.get(pk=thing.pk).seals_on == ["S-1", "S-2"]
    assert body("sealed")["seals"] == ["S-1", "S-2"]


def test_the_page_of_breaking_a_seal_knows_which_are_on(make, client_as, noon):
    thing = make.item().thing
    actions.seal(thing=thing, seals=["S-1"], by=make.everyone(), happened=noon)
    client = client_as(Role.ENGINEER)
    assert 'value="S-1"' in client.get(page(thing, "break-seal")).content.decode()
    client.post(page(thing, "break-seal"), {"seals": "S-1", "because": "to examine it"})
    assert Thing.objects.get(pk=thing.pk).seals_on == []
    assert Break.objects.count() == 0


def test_a_power_session_is_a_pair_of_events_with_station_and_port(make, client_as):
    thing, client = make.item().thing, client_as(Role.ENGINEER)
    client.post(page(thing, "power-on"), {"station": "Bench 2", "port": "3"})
    assert (words("power-begun")["station"], words("power-begun")["port"]) == ("Bench 2", "3")
    assert "Bench" not in bytes(Event.objects.get(kind="power-begun").body).decode()
    client.post(page(thing, "power-off"), {"because": "read the identity"})
    assert not Thing.objects.get(pk=thing.pk).is_powered


def test_a_second_session_does_not_begin_before_the_first_has_ended(make, noon):
    thing, by = make.item().thing, make.everyone()
    actions.begin_power(thing=thing, station="Bench 2", by=by, happened=noon)
    with pytest.raises(actions.NotNow, match="has begun"):
        actions.begin_power(thing=thing, station="Bench 3", by=by, happened=noon)


def test_a_part_fitted_stands_in_the_line_of_both(make, client_as, noon):
    item, donor = make.item(), make.donor()
    part = donor.parts.get()
    assign_donor(part=part, patient=item, by=make.everyone(), happened=noon, lifted="the best there is")
    client = client_as(Role.ENGINEER)
    assert str(part.thing) in client.get(page(item.thing, "fit-part")).content.decode()
    sent = {"part": f"LC{part.thing.code}", "because": "heads weak"}
    assert client.post(page(item.thing, "fit-part"), sent).status_code == 303
    assert set(Event.objects.filter(kind="part-fitted").values_list("thing_code", flat=True)) == {
        item.thing.code, part.thing.code,
    }  # fmt: skip
    fresh = Thing.objects.get(pk=part.thing.pk)
    assert fresh.whereabouts == Thing.objects.get(pk=item.thing.pk).whereabouts


def test_what_is_written_is_known_by_the_hash_of_its_files(make, client_as):
    thing, before = make.item().thing, b"\x55\xaa" * 64
    sent = {
        "before_file": SimpleUploadedFile("rom.bin", before), "after": "0" * 64, "because": "translator damaged",
        "authority": "the terms, 3", "change": "one module; without it no sector can be read",
    }  # fmt: skip
    answer = client_as(Role.ENGINEER).post(page(thing, "written"), sent)
    assert answer.status_code == 303, answer.content.decode()
    assert words("written")["before"] == hashlib.sha256(before).hexdigest()
    assert {"because", "authority", "change"} <= set(body("written")["commitments"])


@pytest.mark.parametrize("missing", ["because", "authority", "change", "after"])
def test_nothing_is_written_without_why_and_on_whose_authority(make, client_as, missing):
    thing = make.item().thing
    sent = {"before": "1" * 64, "after": "0" * 64, "because": "a", "authority": "b", "change": "c"} | {missing: ""}
    assert client_as(Role.ENGINEER).post(page(thing, "written"), sent).status_code == 422
    assert not Event.objects.filter(kind="written").exists()


def test_a_thing_is_sent_arrives_and_comes_back(make, client_as, noon):
    item, shelf = make.item(), make.place()
    client, thing, owner = client_as(Role.COUNTER), item.thing, item.case.bearer
    sent = {"party": owner.pk, "carrier": "parcel post", "tracking": "QX 1", "seals": "S-7", "because": "wanted back"}
    assert client.post(page(thing, "ship"), sent).status_code == 303
    assert Thing.objects.get(pk=thing.pk).party == owner
    assert client.post(page(thing, "delivered"), {"receiver": "Orrin Vale, by phone"}).status_code == 303
    assert client.post(page(thing, "back"), {"to": shelf.pk, "because": "sent again"}).status_code == 303
    assert Thing.objects.get(pk=thing.pk).place == shelf
    assert Break.objects.count() == 0


def test_a_thing_is_sent_to_an_owner_who_never_had_it(make, client_as):
    """A reseller brought it; the owner gets it back by post."""
    owner = make.party(name="Orrin Vale")
    thing = make.item(case={"owner": owner, "bearer": make.party(name="Wick and Daughters")}).thing
    sent = {"party": owner.pk, "carrier": "parcel post", "tracking": "QX 1", "because": "wanted back"}
    assert client_as(Role.COUNTER).post(page(thing, "ship"), sent).status_code == 303
    assert Thing.objects.get(pk=thing.pk).party == owner


def test_what_is_destroyed_is_nowhere_and_nothing_more_is_noted_of_it(make, client_as, noon):
    thing, client = make.item().thing, client_as(Role.MANAGER)
    sent = {"method": "platters cut", "because": "left to the lab", "authority": "signed", "witness": "Person 9"}
    assert client.post(page(thing, "destroyed"), sent).status_code == 303
    gone = Thing.objects.get(pk=thing.pk)
    assert (str(gone.whereabouts), gone.gone) == ("destroyed", True)
    assert "Nothing can be noted of it" in client.get(page(thing)).content.decode()
    with pytest.raises(NotThere):
        actions.seal(thing=thing, seals=["S"], by=make.everyone(), happened=gone.last_moved + timedelta(hours=1))


def test_a_touch_from_before_it_left_may_be_noted_late(make, noon):
    thing, by = make.item().thing, make.everyone()
    later = noon + timedelta(hours=2)

    @recorded
    def leave():
        return record("handed-over", thing=thing, by=by, happened=later, to=Whereabouts(party=make.party()))

    leave()
    actions.note_opened(thing=thing, because="inspected", by=by, happened=noon + timedelta(hours=1))
    with pytest.raises(NotThere):
        actions.note_opened(thing=thing, because="inspected", by=by, happened=later)
    assert Break.objects.count() == 0


def test_an_unknown_detail_is_a_mistake_of_the_program(make, noon):
    @recorded
    def wrong():
        record("sealed", thing=make.item().thing, by=make.everyone(), happened=noon, details={"port": "1"})

    with pytest.raises(ValueError, match="has no port"):
        wrong()


@pytest.mark.parametrize("what", TOUCHES)
def test_the_auditor_looks_and_notes_nothing(make, client_as, what):
    thing, client = make.item().thing, client_as(Role.AUDITOR)
    count = Event.objects.count()
    assert client.get(page(thing)).status_code == 200
    assert client.post(page(thing, what), {"because": "no", "seals": "S-1"}).status_code == 403
    assert Event.objects.count() == count


@pytest.mark.parametrize("what", TOUCHES)
def test_every_touch_has_a_page_that_opens(make, client_as, what):
    client = client_as(Role.COUNTER, Role.ENGINEER, Role.MANAGER)
    assert client.get(page(make.item().thing, what)).status_code == 200


def test_an_empty_form_says_what_is_missing(make, client_as):
    answer = client_as(Role.ENGINEER).post(page(make.item().thing, "seal"), {})
    assert answer.status_code == 422
    assert "Seal numbers is needed" in answer.content.decode() or "needed" in answer.content.decode()


@pytest.mark.parametrize(
    ("kind", "to", "said"),
    [
        (Place.Kind.BENCH, "shelf", ["taken-into-work", "put-back"]),
        (Place.Kind.SHELF, "shelf", ["moved", "moved"]),
    ],
)  # fmt: skip
def test_a_move_is_called_what_people_call_it(make, noon, kind, to, said):
    from labcases.custody.actions import move

    thing, by = make.item().thing, make.everyone()
    for place in (make.place(kind=kind), make.place(kind=to)):
        move(thing=thing, to=place, by=by, happened=noon + timedelta(minutes=1))
    assert list(Event.objects.order_by("sequence").values_list("kind", flat=True))[-2:] == said


# --- corrections ---


def test_the_day_book_shows_what_is_right_with_the_history_a_click_away(make, client_as, noon):
    item, by = make.item(), make.everyone()
    event = actions.seal(thing=item.thing, seals=["S-1"], by=by, happened=noon)
    actions.correct(event=event, because="Sealed with S-11.", by=by, happened=noon)
    shown = client_as(Role.ENGINEER).get(item.case.get_absolute_url()).content.decode()
    book = shown.split('id="day-book"')[1].split("</aside>")[0]
    assert "Sealed with S-11." in book
    assert "sealed, S-1" not in book
    assert reverse("custody:event", args=[event.sequence]) in book
    history = client_as(Role.ENGINEER).get(reverse("custody:event", args=[event.sequence])).content.decode()
    assert "sealed, S-1" in history
    assert "Sealed with S-11." in history


def test_a_correction_of_a_correction_counts_for_the_first(make, client_as, noon):
    item, by = make.item(), make.everyone()
    event = actions.seal(thing=item.thing, seals=["S-1"], by=by, happened=noon)
    first = actions.correct(event=event, because="It was S-11.", by=by, happened=noon)
    actions.correct(event=first, because="It was S-111.", by=by, happened=noon)
    book = client_as(Role.ENGINEER).get(item.case.get_absolute_url()).content.decode().split('id="day-book"')[1]
    assert "It was S-111." in book
    assert "It was S-11." not in book


def test_a_correction_says_where_the_thing_really_is(make, client_as, noon):
    from labcases.custody.actions import move

    thing, by, wrong, right = make.item().thing, make.everyone(), make.place(), make.place()
    event = move(thing=thing, to=wrong, by=by, happened=noon + timedelta(minutes=1))
    address = reverse("custody:correct", args=[event.sequence])
    answer = client_as(Role.MANAGER).post(address, {"because": f"It lay in {right}.", "to": right.pk})
    assert answer.status_code == 303, answer.content.decode()
    assert Thing.objects.get(pk=thing.pk).place == right
    assert body("corrected")["corrects"] == event.sequence
    assert Break.objects.count() == 0


def test_everybody_corrects_what_they_recorded_themselves(make, noon):
    by, other = make.actor(Role.COUNTER), make.actor(Role.COUNTER)
    event = actions.seal(thing=make.item().thing, seals=["S-1"], by=by, happened=noon)
    assert actions.correct(event=event, because="S-2", by=by, happened=noon).corrects == event.sequence
    with pytest.raises(Refused, match="somebody else"):
        actions.correct(event=event, because="S-3", by=other, happened=noon)


def test_looking_for_corrections_costs_the_same_for_a_ledger_of_any_length(make, noon, django_assert_num_queries):
    from labcases.custody.queries import newest_corrections

    make.worked(make.case(items=2))
    with django_assert_num_queries(1):
        assert newest_corrections(range(1, 20)) == {}
