"""Two clerks who merge records of one customer at the same moment leave one standing record."""

from __future__ import annotations

import pytest

from labcases.core.refused import Refused
from labcases.people.merging.actions import merge
from labcases.people.merging.models import PartyMerge
from labcases.people.models import Party
from tests.builders import NOON, Make


@pytest.fixture
def three(transactional_db):
    make = Make()
    return make, [make.party() for _ in range(3)]


def into(make, kept, gone):
    by = make.everyone()
    return lambda: merge(kept=kept, gone=gone, by=by, happened=NOON, because="same")


def test_two_who_merge_crosswise_leave_one_record(three, at_once):
    make, (one, other, _) = three
    results = at_once(into(make, one, other), into(make, other, one))
    assert sum(isinstance(result, Refused) for result in results) == 1
    assert Party.objects.standing().filter(pk__in=[one.pk, other.pk]).count() == 1
    assert PartyMerge.objects.standing().count() == 1


def test_two_who_merge_the_same_pair_do_it_once(three, at_once):
    make, (one, other, _) = three
    results = at_once(into(make, one, other), into(make, one, other))
    assert sum(isinstance(result, PartyMerge) for result in results) == 1


def test_merges_of_different_records_do_not_disturb_each_other(three, at_once):
    """The control: both win, so the tests above do not pass for another reason."""
    make, (one, other, third) = three
    results = at_once(into(make, one, other), into(make, one, third))
    assert all(isinstance(result, PartyMerge) for result in results), results
