from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import RequestFactory
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from labcases.cases.actions import expect
from labcases.cases.models import Item, StageStamp
from labcases.lab.models import Entry
from labcases.lab.roles import Role
from labcases.updates import queries, wordings
from labcases.updates.actions import leave_unsent, note_call, save_wording
from labcases.updates.models import Message
from tests.builders import NOON, Make

Write = Callable[..., Message]


def made_ready(make: Make, item: Item) -> None:
    """Only the stamp counts here; the way to it is another room's."""
    StageStamp.objects.create(item=item, stage="ready", **Entry.stamp(make.everyone(), NOON))


def told_ready(item: Item) -> object:
    return queries.facts([item])[item.pk]["told_ready"]


def test_the_records_fill_every_gap_that_they_can(make: Make) -> None:
    make.profile(phone="0118 496 0100", email="desk@lab.example.com", address="Ropewalk Yard 4")
    case = make.case(promised=NOON.date())
    values = queries.gap_values(case, make.staff(name="Ines Okarra"))
    assert set(values) == {gap.name for gap in wordings.GAPS.values() if not gap.asked}
    assert all(values.values())
    assert values["what"] == "2.5″ disk, Pelorus PL500-2M"
    assert values["signature"] == "Ines Okarra\nQuayside Media Lab\n0118 496 0100\ndesk@lab.example.com"


def test_many_items_are_named_up_to_three(make: Make) -> None:
    assert queries.gap_values(make.case(items=12), make.staff())["what"].endswith("; and 9 more")


def test_what_has_not_come_was_not_received(make: Make) -> None:
    case = expect(owner=make.party(), items=[make.new_item()], by=make.everyone(), happened=NOON)
    assert queries.gap_values(case, make.staff())["received"] == ""


def test_a_mail_begins_from_what_fits_the_stage(make: Make) -> None:
    case = make.case()
    draft = queries.draft(case, queries.wordings_for(case), None, make.staff())
    assert (draft.wording, draft.to, draft.subject) == ("received", case.owner.email, f"{case}: it has arrived safely")


def test_own_words_begin_empty(make: Make) -> None:
    case = make.case()
    assert queries.draft(case, queries.wordings_for(case), "", make.staff()) == queries.Draft(to=case.owner.email)


def test_without_our_letterhead_the_bearer_is_written_to(make: Make) -> None:
    case = make.case(bearer=make.party(name="Second Quay Repairs", email="desk@second.example.com"), letterhead=False)
    draft = queries.draft(case, queries.wordings_for(case), None, make.staff())
    assert draft.to == "desk@second.example.com"
    assert draft.body.startswith("Dear Second Quay Repairs,")


@pytest.mark.parametrize(("language", "chosen"), [("de", "Eingang"), ("de-AT", "Eingang"), ("pa", "Received")])
def test_the_owners_language_is_taken_where_there_is_one(make: Make, language: str, chosen: str) -> None:
    said = {"title": "Eingang", "subject": "{case}", "body": "Guten Tag {reader}"}
    save_wording(key="received", language="de", by=make.everyone(), happened=NOON, **said)
    case = make.case(owner=make.party(language=language))
    assert chosen in [words.title for words in queries.wordings_for(case)]
    assert len([words for words in queries.wordings_for(case) if words.key == "received"]) == 1


def test_ready_is_told_by_a_mail_under_way_and_not_by_one_that_failed(make: Make, write: Write) -> None:
    item = make.item()
    made_ready(make, item)
    assert told_ready(item) is False
    message = write(case=item.case, wording="ready")
    assert told_ready(item) is True
    Message.objects.filter(pk=message.pk).update(state="failed")
    assert told_ready(item) is False


def test_ready_is_told_by_a_call_too_but_not_by_what_the_customer_said(make: Make) -> None:
    item = make.item()
    made_ready(make, item)
    call = {"case": item.case, "channel": "phone", "with_whom": "Orrin", "body": "Ready.", "by": make.everyone()}
    note_call(incoming=True, wording="ready", happened=NOON, **call)
    assert told_ready(item) is False
    note_call(incoming=False, wording="ready", happened=NOON, **call)
    assert told_ready(item) is True


def test_what_was_said_before_it_was_ready_again_does_not_count(make: Make, write: Write) -> None:
    item = make.item()
    write(case=item.case, wording="ready", happened=NOON - timedelta(days=1))
    made_ready(make, item)
    assert told_ready(item) is False


def test_facts_take_the_same_number_of_queries_for_many_items(
    make: Make, write: Write, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    items = list(make.case(items=5).items.all())
    for item in items:
        made_ready(make, item)
    with django_assert_num_queries(2):
        queries.facts(items)


def test_the_docket_shows_the_newest_message_first(make: Make, write: Write) -> None:
    case = make.case()
    old = write(case=case, happened=NOON - timedelta(days=2))
    new = write(case=case)
    assert queries.messages_of(case).messages == [new, old]


def test_the_docket_takes_the_same_queries_for_many_messages(
    make: Make, write: Write, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    case = make.case()
    first = write(case=case)
    Message.objects.bulk_create(
        [Message(case=case, channel="email", state="unsent", with_whom="a", by=first.by, role="counter", happened=NOON)
         for _ in range(60)]
    )  # fmt: skip
    with django_assert_num_queries(2):
        section = queries.messages_of(case)
        assert [str(message.by) for message in section.messages]
    assert (len(section.messages), section.older) == (50, 11)


def test_failed_mails_stand_before_waiting_ones_in_the_office(write: Write, rf: RequestFactory) -> None:
    waiting, failed = write(), write()
    Message.objects.filter(pk=failed.pk).update(state="failed", error="No.")
    assert queries.unsent(rf.get("/")).messages == [failed, waiting]


def test_who_heard_nothing_for_a_week_is_listed_longest_first(make: Make, write: Write) -> None:
    now = timezone.now()
    silent, longer = (make.case(happened=now - timedelta(days=days)) for days in (8, 30))
    heard = make.case(happened=now - timedelta(days=30))
    write(case=heard, happened=now - timedelta(days=6))
    assert list(queries.nothing_heard_since(now - timedelta(days=7))) == [longer, silent]


def test_a_mail_that_never_went_is_no_word(make: Make, write: Write) -> None:
    now = timezone.now()
    case = make.case(happened=now - timedelta(days=9))
    message = write(case=case, happened=now)
    assert list(queries.nothing_heard_since(now - timedelta(days=7))) == []
    leave_unsent(message=message, by=make.everyone(), happened=now)
    assert list(queries.nothing_heard_since(now - timedelta(days=7))) == [case]


def test_a_closed_case_needs_no_word(make: Make) -> None:
    case = make.case()
    case.closed = NOON
    case.save()
    assert list(queries.nothing_heard_since(timezone.now())) == []


def test_own_words_stand_in_front_of_the_default_until_they_are_taken_away(make: Make) -> None:
    said = {"title": "It is here", "subject": "{case}", "body": "Here."}
    row = save_wording(key="received", by=make.actor(Role.MANAGER), happened=NOON, **said)
    assert queries.wording("received", "en").title == "It is here"
    row.delete()
    assert queries.wording("received", "en").title == "Received"
