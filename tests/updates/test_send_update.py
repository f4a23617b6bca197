from __future__ import annotations

from collections.abc import Callable

import pytest

from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role
from labcases.updates.actions import NotAnAddress, NotFinished, note_call, send_update
from labcases.updates.models import Message
from tests.builders import NOON, Make

Write = Callable[..., Message]


def test_a_mail_waits_in_the_outbox_and_stands_in_the_ledger(write: Write, make: Make) -> None:
    case = make.case()
    message = write(case=case, wording="received")
    assert (message.state, message.wording, message.incoming) == ("waiting", "received", False)
    told = Event.objects.get(kind="told")
    assert told.case_code == case.code
    assert EventText.objects.get(sequence=told.sequence, field="because").text == "e-mail “It has arrived”"


@pytest.mark.parametrize("subject", ["Hello\r\nBcc: everyone@example.com", "Hello\nBcc: x", "Hello\x00\u2028Bcc: x"])
def test_a_subject_stays_one_line_whatever_was_pasted(write: Write, subject: str) -> None:
    assert write(subject=subject).subject.splitlines() == [write(subject=subject).subject]


def test_a_subject_of_three_hundred_characters_fits_and_one_more_does_not(write: Write) -> None:
    assert len(write(subject="ü" * 300).subject) == 300
    with pytest.raises(NotFinished, match="301 characters"):
        write(subject="ü" * 301)


@pytest.mark.parametrize(
    "to",
    ["", "Orrin Vale", "a@b", "a@example.com, b@example.com", "a@example.com\nBcc: b@example.com",
     "Orrin <a@example.com>", "ਗੁਰ@example.com", f"{'a' * 64}@{'b' * 63}.{'c' * 63}.{'d' * 63}.example.com"],
)  # fmt: skip
def test_what_is_no_single_address_is_refused_with_a_sentence(write: Write, to: str) -> None:
    with pytest.raises(NotAnAddress) as refused:
        write(to=to)
    assert refused.value.what.endswith(".")
    assert not Message.objects.exists()


@pytest.mark.parametrize(("subject", "body"), [("", "Text"), ("Subject", " \n "), ("Subject", "We found [[what]].")])
def test_a_mail_with_something_still_to_be_written_is_refused(write: Write, subject: str, body: str) -> None:
    with pytest.raises(NotFinished):
        write(subject=subject, body=body)


def test_a_refused_mail_leaves_no_trace_in_the_ledger(write: Write, make: Make) -> None:
    case = make.case()
    with pytest.raises(NotAnAddress):
        write(case=case, to="nobody")
    assert not Event.objects.filter(kind="told").exists()


def test_an_auditor_writes_to_nobody(make: Make) -> None:
    auditor = make.actor(Role.AUDITOR)
    with pytest.raises(NotAllowed):
        send_update(case=make.case(), to="a@example.com", subject="S", body="B", by=auditor, happened=NOON)


@pytest.mark.parametrize(("incoming", "kind"), [(True, "heard"), (False, "told")])
def test_a_call_is_noted_with_who_what_and_what_was_agreed(make: Make, incoming: bool, kind: str) -> None:
    case = make.case()
    note = note_call(
        case=case, channel="phone", incoming=incoming, with_whom="Orrin Vale", body="Asked how it stands.",
        agreed="We call on Friday.", by=make.actor(Role.COUNTER), happened=NOON,
    )  # fmt: skip
    assert (note.state, note.agreed, note.sent) == ("noted", "We call on Friday.", None)
    said = EventText.objects.get(sequence=Event.objects.get(kind=kind).sequence, field="because").text
    assert said == "phone call, Orrin Vale: We call on Friday."


@pytest.mark.parametrize("blank", ["with_whom", "body"])
def test_a_call_with_nobody_or_without_a_word_is_refused(make: Make, blank: str) -> None:
    said = {"with_whom": "Orrin", "body": "Hello"} | {blank: " \u200b "}
    with pytest.raises(NotFinished):
        note_call(case=make.case(), channel="chat", incoming=True, by=make.everyone(), happened=NOON, **said)


def test_a_very_long_talk_is_kept_whole_and_cut_only_in_the_day_book(make: Make) -> None:
    words = "and then it clicked " * 400
    said = {"channel": "chat", "incoming": True, "with_whom": "Orrin", "body": words}
    note = note_call(case=make.case(), by=make.everyone(), happened=NOON, **said)
    assert note.body == words.strip()
    heard = Event.objects.get(kind="heard")
    assert len(EventText.objects.get(sequence=heard.sequence, field="because").text) == 300
