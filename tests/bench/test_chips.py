"""Chips that were taken off: items of their own below their patient."""

from __future__ import annotations

import pytest

from labcases.bench.actions import examine, make_ready, note_step, record_result, start_work
from labcases.bench.identity.actions import NoChip, remove_chip
from labcases.cases.models import Item
from labcases.core.refused import NotAllowed
from labcases.custody.actions import case_of
from labcases.custody.models import Event
from labcases.custody.queries import section_of
from labcases.docket.queries import address_of, bench_sheet
from labcases.handover.actions import due_back
from labcases.lab.roles import Role
from labcases.office.actions import accept_quote, send_quote

STICK = {"kind": "stick", "model": "Stub 32", "sectors": 62_333_952}


def in_work(make, noon) -> Item:
    item = make.item(**STICK)
    by = make.everyone()
    examine(item=item, by=by, happened=noon, faults=["flash controller"], found="No answer.", prospects="fair")
    quote = send_quote(case=item.case, lines=[("Chip reading", 20_000)], by=by, happened=noon)
    accept_quote(quote=quote, who="Orrin Vale", how="by phone", by=by, happened=noon)
    item = Item.objects.with_context().get(pk=item.pk)
    start_work(item=item, by=by, happened=noon)
    return item


def off(make, noon, item: Item, **about: object) -> Item:
    told = {"words": "U3, top side", "change": "The controller is dead.", "by": make.actor(Role.ENGINEER)} | about
    return remove_chip(item=item, happened=noon, **told)


def test_a_chip_has_a_code_below_its_patients_and_lies_where_it_lies(make, noon):
    item = in_work(make, noon)
    first, second = off(make, noon, item), off(make, noon, item)
    assert [str(chip).rpartition("-")[0] for chip in (first, second)] == ["26-00001-P1-C1", "26-00001-P1-C2"]
    assert first.thing.whereabouts == item.thing.whereabouts
    assert first.parent_code == str(item)


def test_taking_it_off_is_an_unavoidable_change_of_the_patient(make, noon):
    item = in_work(make, noon)
    chip = off(make, noon, item)
    assert Event.objects.get(kind="chip-removed").thing_code == chip.thing.code
    changed = Event.objects.filter(kind="work-noted", thing_code=item.thing.code).get()
    assert b'"change"' in bytes(changed.body)


def test_nothing_is_taken_off_before_authority_or_off_a_chip(make, noon):
    with pytest.raises(NoChip, match="no authority is on file"):
        off(make, noon, make.item(**STICK))
    chip = off(make, noon, in_work(make, noon))
    with pytest.raises(NoChip, match="a chip itself"):
        off(make, noon, chip)


def test_only_an_engineer_takes_one_off(make, noon):
    item = in_work(make, noon)
    with pytest.raises(NotAllowed):
        off(make, noon, item, by=make.actor(Role.MANAGER))
    assert not item.chips.exists()


def test_a_chip_goes_its_patients_way_and_is_counted_at_the_handover(make, noon):
    item, by = in_work(make, noon), make.everyone()
    chip = off(make, noon, item)
    note_step(item=item, what="Read chip U3.", copied=True, by=by, happened=noon)
    record_result(item=item, by=by, happened=noon, files=3, compared="full")
    make_ready(item=item, by=by, happened=noon)
    chip.refresh_from_db()
    assert chip.stage == "ready"
    assert [stamp.stage for stamp in chip.stamps.all()] == ["in work", "checked", "ready"]
    assert {thing.code for thing in due_back(item.case)} == {item.thing.code, chip.thing.code}


def test_the_bench_sheet_and_the_docket_have_one_row_for_a_patient_with_chips(make, noon, client_as):
    make.profile()
    item = in_work(make, noon)
    chip = off(make, noon, item)
    assert [row.item for row in bench_sheet(make.staff())] == [item]
    page = client_as(Role.ENGINEER).get(f"/cases/{item.case}/").content.decode()
    assert str(chip) in page
    assert chip.thing in section_of(item.case).things
    assert page.index(f'id="item-{item.number}"') < page.index(f'id="item-{chip.number}"')


def test_a_scanned_chip_opens_its_docket_and_belongs_to_its_case(make, noon):
    item = in_work(make, noon)
    chip = off(make, noon, item)
    assert case_of(chip.thing) == item.case.code
    assert address_of(chip.thing) == chip.get_absolute_url()
