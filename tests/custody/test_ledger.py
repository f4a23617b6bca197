"""The ledger: one door, gapless, each event bound to the one before it, words beside it that can be erased."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from django.db import transaction

from labcases.core.refused import NotAllowed
from labcases.custody import chain
from labcases.custody.actions import NotThere, move, move_all, record, record_many, recorded
from labcases.custody.kinds import KINDS
from labcases.custody.models import Event, EventText, Head, Thing
from labcases.lab.models import Actor, Place
from labcases.lab.roles import Role


@recorded
def noted(thing: Thing | None, by: Actor, happened: datetime, kind: str = "work-noted", **about) -> Event:
    """An action as rooms write them."""
    return record(kind, thing=thing, by=by, happened=happened, **about)


def bodies() -> list[dict]:
    return [json.loads(bytes(body)) for body in Event.objects.order_by("sequence").values_list("body", flat=True)]


def chain_is_whole() -> bool:
    """Checked with nothing but the stored bytes and the hash of RFC 9162."""
    before = ""
    for number, event in enumerate(Event.objects.order_by("sequence"), 1):
        data = bytes(event.body)
        body = json.loads(data)
        digest = chain.leaf_hash(data).hex()
        if (body["sequence"], body["previous"], event.digest) != (number, before, digest):
            return False
        before = digest
    return before == Head.objects.get().digest


def test_events_are_numbered_without_a_gap_and_bound_to_the_one_before(make, noon):
    make.case(items=2, accessories=[("cable", 1)])
    make.case()
    assert list(Event.objects.values_list("sequence", flat=True)) == list(range(1, Event.objects.count() + 1))
    assert Event.objects.count() >= 4
    assert chain_is_whole()


def test_the_check_of_the_chain_finds_a_changed_byte(make, noon, monkeypatch):
    make.case()
    real = chain.leaf_hash
    monkeypatch.setattr(chain, "leaf_hash", lambda data: real(data.replace(b"received", b"refused_")))
    assert not chain_is_whole()


def test_the_stored_bytes_are_canonical(make, noon):
    make.case()
    assert all(chain.canonical(json.loads(bytes(e.body))) == bytes(e.body) for e in Event.objects.all())


def test_a_body_says_what_it_must_and_holds_no_words_and_no_names(make, noon):
    item, by = make.item(), make.everyone()
    event = noted(item.thing, by, noon, because="Cleaned the board.", case=item.case.code, seals=["S-17"])
    body = json.loads(bytes(event.body))
    assert body["version"] == 1
    assert body["happened"] == "2026-03-02T12:00:00.000000Z"
    assert (body["by"], body["role"], body["thing"]) == (str(by.staff.ref), "manager", item.thing.code)
    assert body["seals"] == ["S-17"]
    text = bytes(event.body).decode()
    assert "Cleaned" not in text
    assert by.name not in text
    assert item.case.owner.name not in text


@pytest.mark.parametrize("seal", ["cut by Mr Vale", "S" * 61, "", "S-1\n"])
def test_words_do_not_get_into_a_body_as_the_number_of_a_seal(make, noon, seal):
    item, before = make.item(), Event.objects.count()
    with pytest.raises(ValueError, match="no number of a seal"):
        noted(item.thing, make.everyone(), noon, seals=["S-17", seal])
    assert Event.objects.count() == before


def test_what_the_body_commits_to_is_the_text_beside_it(make, noon):
    item = make.item()
    event = noted(
        item.thing, make.everyone(), noon, because="Grün gereinigt", authority="by phone", change="head parked"
    )
    committed = json.loads(bytes(event.body))["commitments"]
    texts = EventText.objects.filter(sequence=event.sequence)
    assert {text.field for text in texts} == set(committed)
    assert {"because", "authority", "change", "by"} <= set(committed)
    assert all(committed[t.field] == chain.commitment(bytes(t.salt), t.field, t.text) for t in texts)


def test_two_alike_words_are_committed_to_under_salts_of_their_own(make, noon):
    item, by = make.item(), make.everyone()
    first, second = (noted(item.thing, by, noon, because="read again") for _ in range(2))
    one, other = (json.loads(bytes(e.body))["commitments"]["because"] for e in (first, second))
    assert one != other


def test_erasing_the_words_leaves_the_chain_whole(make, noon):
    make.case()
    EventText.objects.all().delete()
    assert chain_is_whole()


def test_each_event_begins_where_the_last_one_of_its_thing_ended(make, noon):
    shelf, bench, by = make.place(), make.place(), make.everyone()
    make.place(kind=Place.Kind.COUNTER)
    thing = make.item().thing
    for to in (shelf, bench, by.staff):
        move(thing=thing, to=to, by=by, happened=noon)
    line = [body for body in bodies() if body["thing"] == thing.code]
    assert [earlier["to"] for earlier in line[:-1]] == [later["from"] for later in line[1:]]
    assert line[-1]["to"] == {"holder": f"staff:{by.staff.ref}", "place": None}
    assert Thing.objects.get(pk=thing.pk).last_event == line[-1]["sequence"]


def test_from_is_read_from_the_database_and_not_from_the_callers_copy(make, noon):
    shelf, other, by = make.place(), make.place(), make.everyone()
    thing = make.item().thing
    stale = Thing.objects.get(pk=thing.pk)
    move(thing=thing, to=shelf, by=by, happened=noon)
    move(thing=stale, to=other, by=by, happened=noon)
    assert bodies()[-1]["from"] == {"holder": None, "place": f"place:{shelf.ref}"}


def test_a_moment_of_moving_is_kept_and_standing_still_does_not_change_it(make, noon):
    thing, by, later = make.item().thing, make.everyone(), datetime(2026, 4, 1, 8, tzinfo=UTC)
    move(thing=thing, to=make.place(), by=by, happened=noon)
    noted(thing, by, later)
    assert Thing.objects.get(pk=thing.pk).last_moved == noon


def test_recording_outside_an_action_is_refused(make, noon):
    item = make.item()
    before = Event.objects.count()
    with pytest.raises(RuntimeError, match="@recorded"):
        record("work-noted", thing=item.thing, by=make.everyone(), happened=noon)
    assert Event.objects.count() == before


def test_a_kind_that_is_not_in_the_vocabulary_is_refused(make, noon):
    with pytest.raises(ValueError, match="'juggled' is no kind of event"):
        noted(make.item().thing, make.everyone(), noon, kind="juggled")


def test_a_moment_without_a_zone_is_no_moment(make, noon):
    item = make.item()
    before = Event.objects.count()
    with pytest.raises(ValueError, match="has no zone"):
        noted(item.thing, make.everyone(), datetime(2026, 3, 2, 12, 0))  # no zone: that is the point
    assert Event.objects.count() == before


def test_an_action_that_fails_records_nothing_and_leaves_no_gap(make, noon):
    item, by = make.item(), make.everyone()
    before = Event.objects.count()

    @recorded
    def fails() -> None:
        record("work-noted", thing=item.thing, by=by, happened=noon)
        raise LookupError

    with pytest.raises(LookupError):
        fails()
    assert Event.objects.count() == before
    assert noted(item.thing, by, noon).sequence == before + 1
    assert chain_is_whole()


def test_an_action_inside_an_action_shares_its_transaction(make, noon):
    item, by = make.item(), make.everyone()

    @recorded
    def both() -> None:
        noted(item.thing, by, noon)
        noted(item.thing, by, noon)
        raise LookupError

    before = Event.objects.count()
    with pytest.raises(LookupError), transaction.atomic():
        both()
    assert Event.objects.count() == before


def test_several_things_get_an_event_each_in_their_order(make, noon):
    things = [item.thing for item in make.case(items=3).items.all()]

    @recorded
    def sealed() -> list[Event]:
        return record_many("sealed", things=things, by=make.everyone(), happened=noon, seals=["S-1"])

    assert [event.thing_code for event in sealed()] == [thing.code for thing in things]


def test_moving_a_shelf_moves_all_of_it_or_nothing(make, noon):
    shelf, by = make.place(), make.everyone()
    here, away = make.item().thing, make.expected().items.get().thing
    with pytest.raises(NotThere, match="not in the lab"):
        move_all(things=[here, away], to=shelf, by=by, happened=noon)
    assert not Thing.objects.filter(place=shelf).exists()


def test_an_auditor_moves_nothing(make, noon):
    thing = make.item().thing
    with pytest.raises(NotAllowed):
        move(thing=thing, to=make.place(), by=make.actor(Role.AUDITOR), happened=noon)


def test_the_worker_records_with_no_person(make, noon):
    event = noted(make.item().thing, Actor.worker(), noon)
    body = json.loads(bytes(event.body))
    assert (body["by"], body["role"]) == (None, "worker")


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_can_be_said_of_a_thing(kind):
    said = KINDS[kind].say(what="disk", to="Shelf A1", because="why")
    assert "{" not in said
    assert KINDS[kind].room in ("counter", "custody", "bench", "stockroom", "office")
