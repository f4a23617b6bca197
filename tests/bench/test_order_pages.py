"""The pages of the bench order, of liftings and of the lab's protocols."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from labcases.bench.actions import examine
from labcases.bench.protocol_defaults import KINDS
from labcases.bench.protocol_facts import FACTS
from labcases.bench.protocols import actions, queries
from labcases.bench.protocols.models import OrderNote, ProtocolVersion
from labcases.lab.roles import Role

FOUND = {"faults": ["heads"], "found": "Head 1 weak.", "prospects": "fair"}
EDIT = "/bench/protocols/disk/edit/"


@pytest.fixture
def item(make, noon):
    made = make.item(behaviours=["clicks"])
    examine(item=made, by=make.everyone(), happened=noon, **FOUND)
    return made


def text(answer) -> str:
    return answer.content.decode()


def test_the_docket_shows_every_step_with_its_state_and_what_lifts_it(item, client_as):
    page = text(client_as(Role.ENGINEER).get(item.case.get_absolute_url()))
    for words in ("Inspect it inside", "Open samples of each wanted kind", "Never write the user area", "stopped"):
        assert words in page
    assert "let a manager lift it with a reason" in page


def test_several_steps_are_noted_with_one_press(item, client_as):
    client, address = client_as(Role.ENGINEER), reverse("bench:order", args=[str(item)])
    assert 'name="step-board"' in text(client.get(address))
    assert client.post(address, {"step-board": "done:clean, no short", "words": "under the lamp"}).status_code == 303
    assert OrderNote.objects.get().because == "clean, no short; under the lamp"
    assert "under the lamp" in text(client.get(address))


def test_nothing_tapped_is_said_and_nothing_noted(item, client_as):
    answer = client_as(Role.ENGINEER).post(reverse("bench:order", args=[str(item)]), {})
    assert answer.status_code == 422
    assert "Nothing is noted yet" in text(answer)


def test_the_counter_sees_the_order_and_presses_nothing(item, client_as):
    address = reverse("bench:order", args=[str(item)])
    assert 'name="step-board"' not in text(client_as(Role.COUNTER).get(address))
    assert client_as(Role.COUNTER).post(address, {"step-board": "done:clean, no short"}).status_code == 403


def test_a_manager_lifts_a_stop_on_its_own_page(item, client_as):
    client = client_as(Role.MANAGER)
    page = text(client.get(reverse("bench:order", args=[str(item)])))
    address = reverse("bench:lift", args=[str(item), "inside"])
    assert address in page
    assert client.post(address, {"because": "the owner wants it tried"}).status_code == 303
    assert "the owner wants it tried" in text(client.get("/bench/liftings/"))
    assert "the owner wants it tried" in b"".join(client.get("/bench/liftings/?format=csv")).decode()
    assert client.get(address).status_code == 404
    assert client_as(Role.ENGINEER).get(address).status_code == 403


def test_what_was_noted_is_taken_back_on_its_page(item, make, noon, client_as):
    (note,) = actions.answer(item=item, answers={"board": ("done", "clean")}, by=make.everyone(), happened=noon)
    address = reverse("bench:take-back", args=[str(item), note.pk])
    client = client_as(Role.ENGINEER)
    assert address in text(client.get(reverse("bench:order", args=[str(item)])))
    assert client.post(address, {"because": "another board"}).status_code == 303
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("kind", KINDS)
def test_every_order_can_be_read_by_everybody(db, client_as, kind):
    page = text(client_as(Role.AUDITOR).get(reverse("bench:protocol", args=[kind])))
    assert "Never write the user area" in page
    assert reverse("bench:edit-protocol", args=[kind]) not in page


def test_a_version_is_written_as_a_form_and_published(make, item, client_as):
    client = client_as(Role.MANAGER)
    assert "What the new version would change for 1 open patient" in text(client.get(EDIT))
    step = f"{EDIT}step/board/"
    said = {"what": "Look the board over", "why": "A minute now.", "grade": "remind", "reasons": "a\nb", "cautions": []}
    assert client.post(step, said).status_code == 303
    assert client.post(f"{EDIT}step/inside/retire/").status_code == 303
    assert client.post(f"{EDIT}step/board/down/").status_code == 303
    page = text(client.get(EDIT))
    assert "Look the board over" in page
    assert "for 1 something would change" in page
    assert not ProtocolVersion.objects.filter(number=2).exists()
    assert client.post(EDIT, {"because": "as we work"}).status_code == 303
    made = queries.protocol_of(ProtocolVersion.objects.get(number=2))
    assert made.step("inside") is None
    assert str(made.step("board").grade) == "remind"
    assert made.step("board").reasons == ("a", "b")
    page = text(client.get(made_address()))
    assert "as we work" in page
    move = reverse("bench:move-protocol", args=[str(item)])
    assert move in text(client.get(reverse("bench:order", args=[str(item)])))
    assert (
        client.post(move, {"version": ProtocolVersion.objects.get(number=2).pk, "because": "agreed"}).status_code == 303
    )


def test_an_item_is_moved_to_the_newest_order_of_its_own_kind_unless_it_goes_by_that_one(item, make, noon, client_as):
    client, move = client_as(Role.MANAGER), reverse("bench:move-protocol", args=[str(item)])
    actions.answer(item=item, answers={"board": ("done", "clean")}, by=make.everyone(), happened=noon)
    (kept,) = ProtocolVersion.objects.filter(kind="disk")
    assert offered(client, move)[:2] == [("", "Choose one"), ("helium", KINDS["helium"] + ", as delivered")]
    assert client.post(move, {"version": "", "because": "x"}).status_code == 422
    same = {"kind": kept.kind, "steps": kept.steps, "happened": noon}
    newer = [ProtocolVersion.objects.create(number=number, **same) for number in (2, 3)]
    assert offered(client, move)[0] == (str(newer[1].pk), str(newer[1]))
    assert client.post(move, {"version": newer[0].pk, "because": "as agreed"}).status_code == 303
    assert [key for key, _ in offered(client, move)][:2] == [str(newer[1].pk), str(kept.pk)]


def offered(client, address: str) -> list[tuple[str, str]]:
    """The versions that the page offers, the chosen one first, as a browser without scripts shows it."""
    page = client.get(address)
    field = page.context["form"]["version"]
    assert field.value() in (None, "")  # nothing else is chosen: then it is the first
    return list(field.field.choices)


def made_address() -> str:
    return ProtocolVersion.objects.get(number=2).get_absolute_url()


def test_a_step_is_added_with_a_stop_of_its_own(db, client_as):
    client = client_as(Role.MANAGER)
    said = {"what": "Weigh it", "why": "A wet one is heavier.", "grade": "ask", "reasons": "no scales",
            "after": ["board"], "applies-all": ["spinning"], "stop-0-because": "It is locked.",
            "stop-0-lift": "Unlock it.", "stop-0-none": ["locked"]}  # fmt: skip
    assert client.post(f"{EDIT}step/", said).headers["location"].endswith("#step-weigh-it")
    page = text(client.get(EDIT))
    for words in ("Weigh it", "it has platters", "not: a disk password locks it", "no scales"):
        assert words in page


def test_facts_are_ticked_those_that_count_first_and_the_others_unfolded(db, client_as):
    field = client_as(Role.MANAGER).get(f"{EDIT}step/heads/").context["form"]["applies-any"]
    assert len(field.value()) > 1
    open_, folded = str(field).split("<details>")
    assert sorted(open_values(open_)) == sorted(field.value())
    assert len(open_values(open_) + open_values(folded)) == len(FACTS)
    assert "<select" not in str(field)
    assert open_.count(" checked") == len(field.value())
    assert " checked" not in folded


def open_values(html: str) -> list[str]:
    return re.findall(r'type="checkbox" name="applies-any" value="([\w-]+)"', html)


def test_a_draft_that_cannot_be_worked_by_says_so_and_is_thrown_away(db, client_as):
    client = client_as(Role.MANAGER)
    said = {"what": "Look the board over", "why": "w", "grade": "stop", "after": ["copy"]}
    client.post(f"{EDIT}step/board/", said)
    assert "These steps wait for each other" in text(client.get(EDIT))
    assert client.post(EDIT, {"because": "x"}).status_code == 422
    client.post(f"{EDIT}again/")
    assert "These steps wait for each other" not in text(client.get(EDIT))


def test_only_managers_write_orders(db, client_as):
    for address in (EDIT, f"{EDIT}step/", f"{EDIT}step/board/"):
        assert client_as(Role.ENGINEER).get(address).status_code == 403


@pytest.mark.parametrize(
    "address", ["/bench/protocols/elsewhere/", "/bench/protocols/elsewhere/edit/", f"{EDIT}step/x/"]
)
def test_what_is_no_order_is_not_found(db, client_as, address):
    assert client_as(Role.MANAGER).get(address).status_code == 404


def test_managers_see_the_counts_of_each_month_beside_the_orders(item, make, noon, client_as):
    actions.lift(item=item, key="inside", because="x", by=make.everyone(), happened=noon)
    assert "March 2026" in text(client_as(Role.MANAGER).get("/bench/protocols/"))
    assert "March 2026" not in text(client_as(Role.ENGINEER).get("/bench/protocols/"))
