"""Lines of custody, judged purely: what is a break and what is none.

That each event begins where the last one ended is ISO/IEC 27037's unbroken record (chain of custody, s.6.1). That late
entry is no fault, and how the breaks are graded, is common practice, no source.
"""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.custody.kinds import KINDS
from labcases.custody.lines import GRADE_OF, GRADES, SENTENCES, Spot, Standing, Step, judge, walk

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
AWAY, DESK, SHELF, BENCH = Spot("party:9"), Spot("staff:1"), Spot(None, "place:7"), Spot(None, "place:8")
NOWHERE = Spot()


def line(*told: tuple) -> list[tuple[int, str]]:
    """Breaks of a line told as (kind, minutes after noon, from, to, seals)."""
    steps = [
        Step(number, kind, NOON + timedelta(minutes=minutes), was, now, tuple(seals))
        for number, (kind, minutes, was, now, *seals) in enumerate(told, 1)
    ]
    return [(found.event, found.kind) for found in walk(steps).breaks]


IN = ("received", 0, AWAY, DESK)
ON_SHELF = ("moved", 10, DESK, SHELF)


def test_a_line_in_which_each_from_is_the_last_to_is_whole():
    assert line(IN, ON_SHELF, ("taken-into-work", 20, SHELF, BENCH), ("handed-over", 30, BENCH, AWAY)) == []


@pytest.mark.parametrize(
    ("told", "found"),
    [
        ([IN, ("moved", 10, SHELF, BENCH)], [(2, "gap")]),
        ([("expected", 0, AWAY, AWAY), ("handed-over", 10, AWAY, Spot("party:4"))], [(2, "never in")]),
        ([IN, ("handed-over", 10, DESK, AWAY), ("shipped", 20, AWAY, Spot("party:4"))], [(3, "never in")]),
        ([IN, ("handed-over", 10, DESK, AWAY), ("opened", 20, AWAY, AWAY)], [(3, "elsewhere")]),
        ([IN, ("destroyed", 10, DESK, NOWHERE), ("opened", 20, NOWHERE, NOWHERE)], [(3, "after its end")]),
        ([IN, ("power-begun", 1, DESK, DESK), ("power-begun", 2, DESK, DESK)], [(3, "powered twice")]),
        ([IN, ("power-ended", 1, DESK, DESK)], [(2, "power unknown")]),
        ([IN, ("power-begun", 1, DESK, DESK), ON_SHELF], [(3, "power left on")]),
        ([IN, ("seal-broken", 1, DESK, DESK, "S1")], [(2, "seal unknown")]),
        ([IN, ("seal-broken", 1, DESK, DESK, "S1"), ("sealed", 2, DESK, DESK, "S1")],
         [(2, "seal unknown"), (3, "seal too late")]),
        ([IN, ("sealed", 1, DESK, DESK, "S1"), ("sealed", 2, DESK, DESK, "S1")], [(3, "seal again")]),
        ([IN, ON_SHELF, ("moved", 5, SHELF, BENCH)], [(3, "times")]),
        ([("received", 10, AWAY, DESK), ("opened", 5, DESK, DESK)], [(2, "times")]),
    ],
)  # fmt: skip
def test_what_cannot_be_is_a_break(told, found):
    assert line(*told) == found


@pytest.mark.parametrize(
    "told",
    [
        [IN, ON_SHELF, ("opened", 5, SHELF, SHELF)],  # noted late: it was opened before it was put on the shelf
        [IN, ("handed-over", 30, DESK, AWAY), ("opened", 20, AWAY, AWAY)],  # noted after it had left
        [IN, ("handed-over", 30, DESK, AWAY), ("delivered", 90, AWAY, AWAY), ("returned", 99, AWAY, DESK)],
        [IN, ("sealed", 1, DESK, DESK, "S1"), ("seal-broken", 2, DESK, DESK, "S1"), ("sealed", 3, DESK, DESK, "S2")],
        [("stocked", 0, NOWHERE, SHELF), ("handed-over", 9, SHELF, AWAY, "S9")],
        [IN, ("moved", 0, DESK, SHELF), ("moved", 0, SHELF, BENCH)],  # entered to the minute
    ],
)
def test_what_can_be_is_none(told):
    assert line(*told) == []


def test_a_managers_correction_answers_and_somebody_elses_does_not():
    steps = [Step(1, "received", NOON, AWAY, DESK), Step(2, "moved", NOON, SHELF, BENCH)]
    answer = {"happened": NOON, "was": BENCH, "now": BENCH, "corrects": 2}
    assert walk([*steps, Step(3, "corrected", role="engineer", **answer)]).answered == {}
    assert walk([*steps, Step(3, "corrected", role="manager", **answer)]).answered == {2: 3}


def test_a_destruction_that_was_none_is_undone_by_a_correction():
    steps = [Step(1, "received", NOON, AWAY, DESK), Step(2, "destroyed", NOON, DESK, NOWHERE)]
    undone = walk([*steps, Step(3, "corrected", NOON, NOWHERE, SHELF, corrects=2)])
    assert undone.breaks == []
    assert not undone.standing.ended


spots = st.sampled_from([AWAY, DESK, SHELF, BENCH, NOWHERE])
steps = st.builds(
    Step,
    sequence=st.integers(1, 10**6),
    kind=st.sampled_from(sorted(KINDS)),
    happened=st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 1), timezones=st.just(UTC)),
    was=spots,
    now=spots,
    seals=st.lists(st.sampled_from(["S1", "S2"])).map(tuple),
)


@given(st.lists(steps, max_size=8))
def test_judging_one_by_one_through_what_is_kept_is_walking_the_whole_line(told):
    kept, found = {}, []
    for step in told:
        standing, more = judge(Standing.from_record(kept), step)
        kept, found = standing.as_record(), found + more
    assert found == walk(told).breaks


@given(st.lists(steps, max_size=8))
def test_a_gap_is_exactly_where_from_is_not_the_last_to(told):
    living = [step for step in told if step.kind not in ("destroyed",)]
    gaps = [b.event for b in walk(living).breaks if b.kind == "gap"]
    assert gaps == [now.sequence for last, now in itertools.pairwise(living) if last.now != now.was]


def test_every_break_has_its_grade_and_its_sentence():
    assert set(GRADE_OF) == set(SENTENCES)
    assert set(GRADE_OF.values()) == set(GRADES)
