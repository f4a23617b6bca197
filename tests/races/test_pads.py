"""Two clerks who type in the same sheet of a paper pad at the same moment make one case of it."""

from __future__ import annotations

import pytest
from django.test import Client

from labcases.cases.actions import log_drive
from labcases.cases.models import Case
from labcases.cases.pads.actions import SheetIsSpent, reserve_pad, void_sheet
from labcases.cases.pads.models import ReservedCode
from labcases.lab.roles import Role
from tests.builders import NOON, Make
from tests.cases.filled import TAKE_IN, filled


@pytest.fixture
def pad(transactional_db):
    """A pad of two sheets, and who works at the counter."""
    make = Make()
    make.profile(country="GB")
    make.terms()
    return make, reserve_pad(count=2, by=make.everyone(), happened=NOON)


def typing_in(make, sheet):
    """One clerk's press: the sheet as they saw it when they opened the page."""
    copy, owner, by = ReservedCode.objects.get(pk=sheet.pk), make.party(), make.everyone()
    return lambda: log_drive(owner=owner, items=[make.new_item()], reserved=copy, by=by, happened=NOON)


def test_one_sheet_typed_in_by_two_is_one_case_and_the_slower_hears_it(pad, at_once):
    make, (sheet, _) = pad
    results = at_once(typing_in(make, sheet), typing_in(make, sheet))
    refused = [result for result in results if isinstance(result, SheetIsSpent)]
    assert len(refused) == 1, results
    assert str(sheet) in refused[0].sentences()[0]
    assert ReservedCode.objects.get(pk=sheet.pk).case == Case.objects.get()


def test_two_sheets_typed_in_at_once_are_two_cases(pad, at_once):
    """The control: with a sheet each both win, so the test above does not pass for another reason."""
    make, (first, second) = pad
    results = at_once(typing_in(make, first), typing_in(make, second))
    assert {str(case) for case in results} == {str(first), str(second)}


def test_a_sheet_that_is_voided_while_it_is_typed_in_is_either(pad, at_once):
    make, (sheet, _) = pad
    by = make.everyone()
    results = at_once(
        typing_in(make, sheet), lambda: void_sheet(reserved=sheet, by=by, happened=NOON, because="coffee")
    )
    assert sum(isinstance(result, SheetIsSpent) for result in results) == 1, results
    now = ReservedCode.objects.get(pk=sheet.pk)
    assert bool(now.case) != bool(now.void_because)


def test_two_real_presses_from_two_drafts_make_one_case(pad, at_once):
    make, (sheet, _) = pad
    clerks = [make.staff(roles=[Role.COUNTER]) for _ in range(2)]

    def press(person):
        client, typed = Client(), filled(reserved=sheet.code, happened="2026-03-03T09:00")
        client.force_login(person)
        return lambda: client.post(TAKE_IN, typed).status_code

    assert sorted(at_once(*(press(person) for person in clerks))) == [303, 422]
    assert Case.objects.get().code == sheet.code
