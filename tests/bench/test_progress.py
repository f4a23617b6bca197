"""Readings over time: kept once, never backwards without a word, refused with their row."""

from __future__ import annotations

from datetime import timedelta

import pytest

from labcases.bench.reading.actions import Noted, NotThatMany, note_progress
from labcases.bench.reading.models import Progress
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.roles import Role


@pytest.fixture
def note(make, noon):
    item, by = make.item(), make.everyone()

    def run(*counts: tuple[int, int], **about):
        """Pairs of minutes after noon and sectors."""
        noted = [Noted(noon + timedelta(minutes=minutes), sectors) for minutes, sectors in counts]
        return note_progress(item=item, noted=noted, by=by, happened=noon, **about)

    return run


def test_readings_are_kept_with_one_event_a_batch(note):
    made, notes = note((0, 0), (10, 5_000), (20, 9_000))
    assert ([row.sectors for row in made], notes) == ([0, 5_000, 9_000], [])
    assert Event.objects.filter(kind="progress-noted").count() == 1


def test_the_same_reading_sent_twice_is_kept_once(note):
    note((0, 0), (10, 5_000))
    made, notes = note((10, 5_000), (20, 9_000))
    assert ([row.sectors for row in made], notes) == ([9_000], ["1 reading had been noted already."])
    assert Progress.objects.count() == 3


def test_another_count_for_the_same_moment_is_refused(note):
    note((10, 5_000))
    with pytest.raises(NotThatMany, match=r"Row 1: for .* another count was noted before, 5,000 sectors"):
        note((10, 5_001))


def test_a_count_that_goes_backwards_is_refused_with_its_row_and_nothing_is_kept(note):
    note((0, 5_000))
    with pytest.raises(NotThatMany, match="Row 2: 4,000 sectors are fewer than the 6,000 noted for"):
        note((10, 6_000), (20, 4_000))
    assert Progress.objects.count() == 1


def test_a_late_count_beyond_the_one_after_it_is_refused(note):
    note((0, 0), (20, 9_000))
    with pytest.raises(NotThatMany, match="Row 1: 9,001 sectors are more than the 9,000 noted for"):
        note((10, 9_001))
    assert len(note((10, 5_000))[0]) == 1


def test_a_late_count_from_before_counting_began_anew_is_no_mistake(note):
    note((0, 5_000), (20, 200), anew=True)
    assert note((10, 6_000))[1] == []


def test_counting_that_began_anew_is_kept_and_said(note):
    made, notes = note((0, 5_000), (10, 200), anew=True)
    assert len(made) == 2
    assert notes[0].endswith("counting began anew.")


def test_rows_in_no_order_are_put_in_order(note):
    made, notes = note((20, 9_000), (0, 0), (10, 5_000))
    assert ([row.sectors for row in made], notes) == ([0, 5_000, 9_000], [])


@pytest.mark.parametrize(
    ("minutes", "sectors", "sentence"),
    [
        (0, -1, "Row 1: a count cannot be negative."),
        (0, 2**63, "Row 1: 9,223,372,036,854,775,808 sectors are more than the medium has"),
        (60 * 24 * 365 * 90, 1, "lies in the future."),
    ],
)
def test_what_cannot_be_is_refused(note, minutes, sectors, sentence):
    with pytest.raises(NotThatMany) as refused:
        note((minutes, sectors))
    assert sentence in refused.value.what
    assert not Progress.objects.exists()


def test_only_an_engineer_notes_progress(make, noon):
    with pytest.raises(NotAllowed):
        note_progress(item=make.item(), noted=[Noted(noon, 1)], by=make.actor(Role.COUNTER), happened=noon)
