"""Two clerks who take the same draft in at the same moment make one case."""

from __future__ import annotations

import pytest
from django.test import Client

from labcases.cases.models import Case, Draft
from labcases.lab.roles import Role
from tests.builders import Make
from tests.cases.filled import TAKE_IN, filled


@pytest.fixture
def clerks(transactional_db):
    """Two people at the counter; each press comes from a browser of its own."""
    make = Make()
    make.profile(country="GB")
    make.terms()
    return [make.staff(roles=[Role.COUNTER]) for _ in range(2)]


def press(person, typed):
    def run() -> int:
        client = Client()
        client.force_login(person)
        return client.post(TAKE_IN, typed).status_code

    return run


def test_one_draft_pressed_by_two_is_one_case(clerks, at_once):
    typed = filled()
    assert sorted(at_once(*(press(person, typed) for person in clerks))) == [303, 422]
    assert Draft.objects.get().case == Case.objects.get()


def test_two_drafts_pressed_at_once_are_two_cases(clerks, at_once):
    """The control: without a shared draft both win, so the test above does not pass for another reason."""
    assert at_once(*(press(person, filled()) for person in clerks)) == [303, 303]
    assert Case.objects.count() == 2
