"""The way of an item, as pure data: no stage is a dead end, and each guard holds and stops."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from labcases.cases.facts import Facts
from labcases.cases.stages import EDGES, ENDED, EXITS, GUARDS, WAY, NoSuchWay, Stage, least_advanced, stops

ALL_IS_WELL = Facts(
    in_the_lab=True,
    may_examine=True,
    examined=True,
    authorised=True,
    result_checked=True,
    money_settled=True,
)
# What makes each guard of each stage stop: the stage to enter, one fact made wrong, and a word of the reason.
STOPPED_BY = [
    (Stage.EXAMINED, {"in_the_lab": False}, "not in the lab"),
    (Stage.EXAMINED, {"legal_hold": True}, "law holds it"),
    (Stage.EXAMINED, {"may_examine": False}, "not allowed the examination"),
    (Stage.QUOTED, {"examined": False}, "not been examined"),
    (Stage.AUTHORISED, {"authorised": False}, "No authority"),
    (Stage.IN_WORK, {"in_the_lab": False}, "not in the lab"),
    (Stage.IN_WORK, {"legal_hold": True}, "law holds it"),
    (Stage.IN_WORK, {"authorised": False}, "No authority"),
    (Stage.CHECKED, {"result_checked": False}, "No result"),
    (Stage.READY, {"result_checked": False}, "not checked"),
    (Stage.HANDED_OVER, {"disputed": True}, "disputed"),
    (Stage.HANDED_OVER, {"legal_hold": True}, "law holds it"),
    (Stage.HANDED_OVER, {"money_settled": False}, "money to settle"),
]


def before(stage: Stage) -> Stage:
    """A stage from which a way leads to this one; on the usual way where there is one."""
    return next(one for one in (*WAY, *Stage) if stage in EDGES[one])


def test_every_stage_has_its_ways_written_down():
    assert set(EDGES) == set(Stage)


def test_every_stage_can_be_reached_from_where_items_begin():
    reached, waiting = set(), [Stage.EXPECTED]
    while waiting:
        stage = waiting.pop()
        if stage not in reached:
            reached.add(stage)
            waiting += EDGES[stage]
    assert reached == set(Stage)


@pytest.mark.parametrize("stage", [stage for stage in Stage if stage not in ENDED])
def test_from_every_open_stage_a_way_leads_to_an_end(stage):
    reached, waiting = set(), [stage]
    while waiting:
        one = waiting.pop()
        if one not in reached and (one == stage or one not in ENDED):
            reached.add(one)
            waiting += EDGES[one]
        reached |= {one} & ENDED
    assert reached & ENDED


@pytest.mark.parametrize("stage", EXITS)
def test_an_exit_still_ends_in_a_handover(stage):
    assert Stage.HANDED_OVER in EDGES[stage]
    assert not EDGES[stage] & ENDED


@pytest.mark.parametrize("stage", [s for s in Stage if s not in (Stage.HANDED_OVER, Stage.EXPECTED)])
def test_nothing_that_came_in_is_closed_without_a_handover(stage):
    assert not EDGES[stage] & ENDED


@pytest.mark.parametrize(("here", "following"), list(pairwise(WAY)))
def test_the_usual_way_leads_from_each_stage_to_the_next(here, following):
    assert stops(here, following, replace(ALL_IS_WELL, stage=here)) == []


@pytest.mark.parametrize(("stage", "wrong", "said"), STOPPED_BY)
def test_a_guard_holds_when_all_is_well_and_stops_when_one_fact_is_wrong(stage, wrong, said):
    assert stops(before(stage), stage, ALL_IS_WELL) == []
    standing = stops(before(stage), stage, replace(ALL_IS_WELL, **wrong))
    assert len(standing) == 1
    assert said in standing[0].because
    assert standing[0].lift.endswith(".")


def test_the_table_above_names_every_guard_there_is():
    seen = {(stage, guard.because) for stage, guards in GUARDS.items() for guard in guards}
    stopped = {
        (stage, stops(before(stage), stage, replace(ALL_IS_WELL, **wrong))[0].because) for stage, wrong, _ in STOPPED_BY
    }
    assert stopped == seen


@pytest.mark.parametrize(
    ("here", "there"),
    [
        (Stage.EXPECTED, Stage.EXAMINED),
        (Stage.RECEIVED, Stage.IN_WORK),
        (Stage.EXAMINED, Stage.HANDED_OVER),
        (Stage.DECLINED, Stage.CLOSED),
        (Stage.CLOSED, Stage.READY),
        (Stage.NEVER_CAME, Stage.HANDED_OVER),
    ],
)
def test_no_way_leads_past_what_lies_between(here, there):
    with pytest.raises(NoSuchWay, match=f"“{here}” to “{there}”"):
        stops(here, there, ALL_IS_WELL)


def test_all_that_stands_in_the_way_is_said_at_once():
    wrong = replace(ALL_IS_WELL, in_the_lab=False, legal_hold=True, may_examine=False)
    assert len(stops(Stage.RECEIVED, Stage.EXAMINED, wrong)) == 3


@pytest.mark.parametrize(
    ("stages", "shown"),
    [
        ([Stage.CHECKED, Stage.QUOTED], Stage.QUOTED),
        ([Stage.CLOSED, Stage.READY], Stage.READY),
        ([Stage.NEVER_CAME, Stage.CLOSED], Stage.CLOSED),
        ([Stage.HANDED_OVER, Stage.WITHDRAWN], Stage.WITHDRAWN),
        ([Stage.NEVER_CAME], Stage.NEVER_CAME),
    ],
)
def test_a_case_shows_the_least_advanced_item_that_is_open(stages, shown):
    assert least_advanced(stages) is shown
