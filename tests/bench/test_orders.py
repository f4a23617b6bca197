"""The bench order of a patient: noted with one tap, passed by with a reason, lifted by a manager, all on record."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labcases.bench.actions import NeverWritten, examine, note_step, start_work
from labcases.bench.arrays.actions import Found, find_array
from labcases.bench.dumps.actions import keep_dump
from labcases.bench.identity.actions import read_at_bench
from labcases.bench.protocol import Grade, State, first_word
from labcases.bench.protocol_defaults import DEFAULTS
from labcases.bench.protocol_editing import retired
from labcases.bench.protocols import actions, queries
from labcases.bench.protocols.actions import NotAProtocol, NotInThisOrder, SomeoneWasFaster
from labcases.bench.protocols.models import KeptProtocol, OrderNote, ProtocolVersion
from labcases.bench.reading.actions import map_heads
from labcases.cases.actions import correct_item
from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.readings.actions import read_page
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.docket.next_step import next_step
from labcases.lab.roles import Role
from labcases.office.actions import accept_quote, send_quote
from tests.media.test_identify import made

FOUND = {"faults": ["heads"], "found": "Head 1 weak.", "prospects": "fair"}
ANSWERS = {"board": ("done", "clean, no short"), "identity": ("done", "as on the label"),
           "service-area": ("passed", "not reachable")}  # fmt: skip


def fresh(item) -> Item:
    return Item.objects.with_context().get(pk=item.pk)


def authorised(make, *, found=FOUND, **about) -> Item:
    """A patient with authority on file; ``about`` as for ``make.item``."""
    item, by = make.item(**about), make.everyone()
    examine(item=item, by=by, happened=item.happened, **found)
    quote = send_quote(case=item.case, lines=[("Work", 10_000)], by=by, happened=item.happened)
    accept_quote(quote=quote, who="Orrin Vale", how="by phone", by=by, happened=item.happened)
    return fresh(item)


def judged(item):
    return queries.judged(facts_for([item])[item.pk])


def said(kind: str) -> str:
    return EventText.objects.get(
        sequence=Event.objects.filter(kind=kind).latest("sequence").sequence, field="because"
    ).text


def test_several_asks_are_answered_at_once_and_make_one_event(make, noon):
    item, engineer = authorised(make), make.actor(Role.ENGINEER)
    assert next_step(facts_for([item])[item.pk]).verb == "answer-order"
    actions.answer(item=item, answers=ANSWERS, by=engineer, happened=noon)
    assert Event.objects.filter(kind="order-noted").count() == 1
    assert "clean, no short" in said("order-noted")
    assert "passed by, not reachable" in said("order-noted")
    assert engineer.staff in item.case.engineers.all()
    assert judged(item).next.key == "destination"


def test_what_is_recorded_elsewhere_is_done_by_itself(make, noon):
    item, by = authorised(make), make.everyone()
    actions.answer(item=item, answers={"board": ANSWERS["board"]}, by=by, happened=noon)
    keep_dump(item=item, kind="rom", outcome="whole", data=b"x", again=b"x", by=by, happened=noon)
    start_work(item=fresh(item), by=by, happened=noon)
    states = {state.key: state.state for state in judged(item).steps}
    assert (states["service-area"], states["start"]) == (State.DONE, State.DONE)
    assert {"service-area-kept", "backup-read-twice", "heads-suspect"} <= facts_for([item])[item.pk].bench_known


@pytest.mark.parametrize(
    ("answers", "why"),
    [
        ({}, "Nothing was answered"),
        ({"copy": ("done", "x")}, "Stopped"),
        ({"freeze": ("done", "x")}, "Stopped"),
        ({"start": ("passed", "in a hurry")}, "not passed by at the bench"),
        ({"user-area": ("done", "x")}, "Stopped"),
        ({"user-area": ("passed", "x")}, "not passed by"),
        ({"board": ("passed", "")}, "Say why"),
        ({"no-such": ("done", "")}, "no step no-such"),
        ({"no-such/thing": ("passed", "x")}, "no step no-such"),
    ],
)
def test_what_the_order_does_not_allow_is_refused_and_leaves_no_trace(make, noon, answers, why):
    item = authorised(make)
    with pytest.raises(NotInThisOrder, match=why):
        actions.answer(item=item, answers=answers, by=make.everyone(), happened=noon)
    assert not OrderNote.objects.exists()
    assert not Event.objects.filter(kind="order-noted").exists()


def test_two_engineers_do_not_answer_the_same_step_twice(make, noon, client_as):
    item, by = authorised(make), make.everyone()
    actions.answer(item=item, answers={"board": ANSWERS["board"]}, by=by, happened=noon)
    page = client_as().post(f"/bench/{item}/order/", {"step-board": "done:clean, no short"})
    assert page.status_code == 422
    assert OrderNote.objects.count() == 1


def test_no_power_before_an_inspection_unless_a_manager_lifts_it(make, noon):
    item = authorised(make, behaviours=["clicks"])
    by, manager = make.actor(Role.ENGINEER), make.actor(Role.MANAGER)
    for act in (
        lambda: start_work(item=item, by=by, happened=noon),
        lambda: note_step(item=item, what="Copied", copied=True, by=by, happened=noon),
    ):
        with pytest.raises(NotInThisOrder, match="Stopped"):
            act()
    with pytest.raises(NotAllowed):
        actions.lift(item=item, key="inside", because="x", by=by, happened=noon)
    actions.lift(item=item, key="inside", because="the owner wants it tried", by=manager, happened=noon)
    assert "the owner wants it tried" in said("stop-lifted")
    start_work(item=item, by=by, happened=noon)


def test_who_it_is_is_not_read_under_power_that_is_forbidden(make, noon, client_as):
    item = make.item(behaviours=["clicks"])
    page = client_as(Role.ENGINEER).post(f"/bench/{item}/identify/", {"model": item.model, "serial": item.serial})
    assert page.status_code == 422
    assert "inspect it inside" in page.content.decode()


def test_an_inspection_in_clean_air_frees_the_way(make, noon):
    item = authorised(make, behaviours=["clicks"], found=FOUND | {"inside": True})
    start_work(item=item, by=make.everyone(), happened=noon)
    assert judged(item).state("inside").state is State.DONE


@pytest.mark.parametrize("key", ["user-area", "board", "inside", "nothing"])
def test_only_what_stands_in_the_way_is_lifted(make, noon, key):
    item = authorised(make)
    actions.answer(item=item, answers={"board": ANSWERS["board"]}, by=make.everyone(), happened=noon)
    with pytest.raises(NotInThisOrder):
        actions.lift(item=item, key=key, because="x", by=make.everyone(), happened=noon)


def test_what_was_noted_is_taken_back_on_record_and_can_be_noted_again(make, noon):
    item, by = authorised(make), make.everyone()
    actions.answer(item=item, answers={"board": ANSWERS["board"]}, by=by, happened=noon)
    actions.take_back(item=item, key="board", because="it was another board", by=by, happened=noon)
    assert judged(item).state("board").state is State.OPEN
    assert "it was another board" in said("order-taken-back")
    with pytest.raises(SomeoneWasFaster):
        actions.take_back(item=item, key="board", because="again", by=by, happened=noon)
    actions.answer(item=item, answers={"board": ANSWERS["board"]}, by=by, happened=noon)
    assert OrderNote.objects.count() == 2


def test_an_engineer_takes_no_lifting_back(make, noon):
    item = authorised(make, behaviours=["clicks"])
    actions.lift(item=item, key="inside", because="x", by=make.everyone(), happened=noon)
    with pytest.raises(NotAllowed):
        actions.take_back(item=item, key="inside", because="x", by=make.actor(Role.ENGINEER), happened=noon)


def test_the_user_area_is_written_by_nobody(make, noon):
    item = authorised(make)
    with pytest.raises(NeverWritten, match="never written"):
        note_step(item=item, what="x", change="y", wrote="user-area", by=make.everyone(), happened=noon)


def test_firmware_is_written_after_a_backup_read_twice_with_its_reason(make, noon):
    item, by = authorised(make, found=FOUND | {"faults": ["service area"]}), make.everyone()
    actions.answer(item=item, answers=ANSWERS, by=by, happened=noon)
    start_work(item=item, by=by, happened=noon)
    write = {"item": item, "what": "One module written.", "wrote": "firmware", "by": by, "happened": noon}
    with pytest.raises(NotInThisOrder, match="Write firmware"):
        note_step(**write, change="a list was full")
    keep_dump(item=item, kind="module", outcome="whole", data=b"m", again=b"m", by=by, happened=noon)
    with pytest.raises(NeverWritten, match="why it could not"):
        note_step(**write)
    note_step(**write, change="a list was full")
    assert judged(item).state("firmware").state is State.DONE


# --- versions


def changed(kind="disk"):
    return retired(DEFAULTS[kind], "freeze")


def publish(make, noon, protocol=None, seen=0, by=None):
    about = {"seen": seen, "because": "our clones are kept read-only", "happened": noon}
    return actions.publish(protocol=protocol or changed(), by=by or make.actor(Role.MANAGER), **about)


def test_a_patient_keeps_the_version_it_began_with_until_a_manager_moves_it(make, noon):
    begun, new = authorised(make), make.item()
    version = publish(make, noon, seen=1)
    assert version.number == 2
    assert judged(begun).state("freeze") is not None
    assert judged(new).state("freeze") is None
    actions.move_to(item=begun, version=version, because="agreed", by=make.actor(Role.MANAGER), happened=noon)
    assert judged(begun).state("freeze") is None
    assert "version 1" in said("protocol-moved")
    with pytest.raises(SomeoneWasFaster):
        actions.move_to(item=begun, version=version, because="agreed", by=make.actor(Role.MANAGER), happened=noon)


def test_the_first_version_is_what_was_delivered(make, noon):
    version = publish(make, noon)
    first = ProtocolVersion.objects.get(number=1)
    assert (version.number, first.by) == (2, None)
    assert queries.protocol_of(first) == DEFAULTS["disk"]
    assert not KeptProtocol.objects.exists()


def test_only_a_manager_publishes_and_only_from_the_newest(make, noon):
    with pytest.raises(NotAllowed):
        publish(make, noon, by=make.actor(Role.ENGINEER))
    publish(make, noon)
    with pytest.raises(SomeoneWasFaster):
        publish(make, noon)
    with pytest.raises(NotAProtocol, match="Nothing is changed"):
        publish(make, noon, seen=2)


def test_what_cannot_be_worked_by_is_not_published(make, noon):
    board = DEFAULTS["disk"].step("board")
    circle = replace(DEFAULTS["disk"], steps=(replace(board, after=("copy",)), *changed().steps))
    with pytest.raises(NotAProtocol):
        publish(make, noon, circle)
    assert not ProtocolVersion.objects.exists()


def test_what_a_new_version_would_change_is_told_for_each_open_patient(make, noon):
    item = authorised(make)
    (change,) = queries.what_would_change(retired(DEFAULTS["disk"], "board"))
    assert (change.item, change.alike) == (item, False)
    assert change.before.startswith("Look the board over")
    assert change.after.startswith("Read who it says it is")
    assert queries.what_would_change(changed())[0].alike
    assert queries.what_would_change(changed("ssd")) == []


def test_liftings_are_counted_by_month(make, noon):
    item = authorised(make, behaviours=["clicks"])
    actions.answer(
        item=item, answers={"board": ("passed", "there is no board to reach")}, by=make.everyone(), happened=noon
    )
    actions.lift(item=item, key="inside", because="x", by=make.everyone(), happened=noon)
    (month,) = queries.liftings_by_month()
    assert (month.month.strftime("%Y-%m"), month.lifted, month.passed) == ("2026-03", 1, 1)


def test_the_order_costs_the_same_for_one_patient_and_for_nine(make, noon):
    def cost(items) -> int:
        with CaptureQueriesContext(connection) as ran:
            queries.order_of(items)
        return len(ran)

    one = authorised(make)
    many = [one, *(authorised(make, behaviours=["clicks"]) for _ in range(3)), *make.case(items=5).items.all()]
    assert cost([one]) == cost(many)


@pytest.mark.parametrize("kind", ["disk25", "helium", "nvme", "stick", "flashchip", "member", "tape"])
def test_every_kind_comes_to_its_result(make, noon, kind):
    item, by = authorised(make, kind=kind), make.everyone()
    for _ in range(30):
        judgement = judged(item)
        state = judgement.next
        if state is None or state.step.verb in ("start-work", "note-step", "record-result"):
            break
        how = ("passed", state.step.reasons[0]) if state.step.grade is Grade.ASK else first_word(state.step)
        actions.answer(item=item, answers={state.key: how}, by=by, happened=noon)
    assert judged(item).next.step.verb == "start-work"
    start_work(item=item, by=by, happened=noon)


def page_of_a_shingled_disk() -> bytes:
    """An IDENTIFY page whose word 69 says that the disk manages zones (bits 1-0, from memory of ACS-4)."""
    return made({69: 0x0002}, model="PELORUS PL2000-S", serial="PS2M-00417", sectors=3_907_029_168)


def identified(make, noon, **about):
    item = make.item(**about)
    read_at_bench(item=item, read=read_page(page_of_a_shingled_disk()), by=make.actor(Role.ENGINEER), happened=noon)
    return fresh(item)


def test_a_disk_of_a_shingled_family_begins_by_the_order_of_shingled_disks(make, noon):
    make.family("Pelorus Gannet", aliases=[("Pelorus", "PL2000S")], shingled=True)
    item = make.item(maker="Pelorus", model="PL2000S-1")
    assert queries.order_of([item])[0].kind_words == "shingled disk"
    make.family("Pelorus Auk", aliases=[("Pelorus", "PL9000")], helium=True)
    assert queries.order_of([make.item(maker="Pelorus", model="PL9000-1", kind="external")])[0].kind_words == (
        "helium-filled disk"
    )


def test_what_was_noted_of_a_disk_stands_above_its_family(make, noon):
    make.family("Pelorus Gannet", aliases=[("Pelorus", "PL2000S")], shingled=True)
    item = make.item(maker="Pelorus", model="PL2000S-1")
    correct_item(item=item, changes={"recording": "conventional"}, by=make.everyone(), happened=noon)
    assert queries.order_of([fresh(item)])[0].kind_words == "spinning disk"


def test_a_page_that_says_shingled_gives_the_order_of_shingled_disks(make, noon):
    item = identified(make, noon, sectors=None, model="", serial="")
    assert item.recording == "shingled"
    assert actions.keep_version(item=item, by=make.actor(Role.ENGINEER), happened=noon).kind == "shingled"


def test_an_order_that_has_not_begun_follows_what_is_learned_on_record(make, noon):
    item, by = make.item(sectors=None, model="", serial=""), make.actor(Role.ENGINEER)
    assert actions.keep_version(item=item, by=by, happened=noon).kind == "disk"
    correct_item(item=item, changes={"recording": "shingled"}, by=by, happened=noon)
    assert actions.keep_version(item=fresh(item), by=by, happened=noon).kind == "shingled"
    assert said("protocol-moved").endswith("it is known as a shingled disk by now")


def test_an_order_that_has_begun_is_moved_by_a_manager_alone(make, noon, client_as):
    make.profile()
    item, by = authorised(make), make.actor(Role.ENGINEER)
    actions.answer(item=item, answers={"board": ANSWERS["board"]}, by=by, happened=noon)
    correct_item(item=item, changes={"recording": "shingled"}, by=by, happened=noon)
    assert actions.keep_version(item=fresh(item), by=by, happened=noon).kind == "disk"
    (order,) = queries.order_of([fresh(item)])
    assert (order.kind_words, order.due_words) == ("spinning disk", "shingled disk")
    address = f"/bench/{item}/order/"
    assert "A manager may move it." in client_as(Role.ENGINEER).get(address).content.decode()
    manager = client_as(Role.MANAGER)
    form = manager.get(f"{address}version/").context["form"]
    assert form.fields["version"].choices[0][0] == "shingled"  # nobody has begun by it yet: it is as delivered
    assert manager.post(f"{address}version/", {"version": "shingled", "because": "agreed"}).status_code == 303
    (order,) = queries.order_of([fresh(item)])
    assert (order.kind_words, order.due_words) == ("shingled disk", "")


def test_a_table_of_heads_by_sector_does_its_step_by_itself(make, noon):
    item, by = authorised(make), make.actor(Role.ENGINEER)
    assert judged(item).state("heads").state is State.STOPPED
    whole = {"firsts": np.array([0]), "sectors": np.array([8])}
    map_heads(item=item, **whole, heads=[0], data=b"0,8,0", by=by, happened=noon)
    assert judged(item).state("heads").state is State.DONE


def test_that_a_family_does_not_tell_its_heads_is_noted_with_a_tap(make, noon, client_as):
    make.profile()
    item, by = authorised(make), make.everyone()
    actions.answer(item=item, answers=ANSWERS | {"destination": ("passed", "it goes onto the storage pool")},
                   by=by, happened=noon)  # fmt: skip
    start_work(item=item, by=by, happened=noon)
    client = client_as(Role.ENGINEER)
    assert f"/bench/{item}/heads/" in client.get(f"/bench/{item}/order/").content.decode()
    sent = client.post(f"/bench/{item}/order/", {"step-heads": "done:its family does not tell"})
    assert sent.status_code == 303
    assert judged(item).state("heads").state is State.DONE


def test_an_array_that_was_worked_out_does_its_step_by_itself(make, noon):
    case = make.case(items=[make.new_item(kind="member", slot="0"), make.new_item(kind="member", slot="1")])
    items, by = list(case.items.all()), make.actor(Role.ENGINEER)
    found = [Found(place, item) for place, item in enumerate(items)]
    find_array(case=case, level="1", members=2, found=found, by=by, happened=noon)
    assert judged(items[0]).state("arrangement").state is State.DONE
