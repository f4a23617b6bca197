from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcases.bench.coverage import STATES, BadSpan, Coverage
from labcases.bench.plan import READS, Area, Head, Plan, PlannedSpan, make_plan

TOTAL = 60  # a band of so small a medium is one sector
STATE_OF_HEAD = st.sampled_from(["good", "slow", "weak", "dead", "left_out"])

span = st.integers(0, TOTAL).flatmap(lambda first: st.tuples(st.just(first), st.integers(0, min(20, TOTAL - first))))
spans = st.lists(span, max_size=3)
rows = st.lists(st.tuples(span, st.sampled_from(STATES)).map(lambda pair: (*pair[0], pair[1])), max_size=8)
areas = st.lists(spans.map(lambda held: Area("an area", held)), max_size=3)


@st.composite
def disks(draw: st.DrawFn) -> dict[str, Any]:
    """Everything a plan is made from, on a medium small enough to go through sector by sector."""
    edges = sorted(draw(st.lists(st.integers(0, TOTAL), max_size=6)))
    heads = [Head(n, [(a, b - a)], draw(STATE_OF_HEAD)) for n, (a, b) in enumerate(pairwise(edges))]
    return {
        "coverage": Coverage.from_rows(TOTAL, draw(rows)),
        "pass_number": draw(st.integers(1, 4)),
        "structures": draw(areas),
        "wanted": draw(areas),
        "partitions": draw(areas),
        "heads": heads,
        "damage": draw(st.lists(st.one_of(st.sampled_from(["outer", "inner"]), span), max_size=2)),
        "tried": draw(spans),
    }


def sectors_of(held: Any) -> set[int]:
    return {sector for first, length in held for sector in range(first, first + length)}


def in_order(plan: Plan) -> Iterator[tuple[int, PlannedSpan]]:
    """Each sector as it would be read."""
    for line in plan:
        run = range(line.first_lba, line.first_lba + line.sectors)
        for sector in run if line.direction == "forward" else reversed(run):
            yield sector, line


def heads_by_sector(disk: dict[str, Any]) -> list[Head | None]:
    found: list[Head | None] = [None] * TOTAL
    for head in disk["heads"]:
        for sector in sectors_of(head.spans):
            found[sector] = head
    return found


def to_be_read(disk: dict[str, Any]) -> list[int]:
    reads, tried = READS[min(disk["pass_number"], 3) - 1], sectors_of(disk["tried"])
    usable = [head is None or head.state in ("good", "slow", "weak") for head in heads_by_sector(disk)]
    return [s for s in range(TOTAL) if usable[s] and disk["coverage"].state_at(s) in reads and s not in tried]


def damage_of(disk: dict[str, Any]) -> list[tuple[int, int]]:
    ends = {"outer": (0, 0), "inner": (TOTAL, TOTAL)}
    sides = [ends[hint] for hint in disk["damage"] if isinstance(hint, str)]
    hinted = [(hint[0], sum(hint)) for hint in disk["damage"] if not isinstance(hint, str) and hint[1]]
    found = [(s, s + 1) for first, length in disk["coverage"].spans("unreadable") for s in range(first, first + length)]
    near = [(a[1], b[0]) for a, b in pairwise(found) if b[0] - a[1] <= 1]  # the gap of one sector that joins two
    return [*sides, *hinted, *found, *near]


def distances(disk: dict[str, Any]) -> list[int]:
    """Per sector, the sectors between it and the nearest damage; -1 inside damage, 999 where there is none."""
    damage = damage_of(disk)
    inside = {sector for a, b in damage for sector in range(a, b)}
    between = [[a - s - 1 if s < a else s - b for a, b in damage if not a <= s < b] for s in range(TOTAL)]
    return [-1 if s in inside else min(between[s], default=999) for s in range(TOTAL)]


def keys(disk: dict[str, Any]) -> list[tuple[Any, ...]]:
    """The order as the text of the module has it, written a second time, sector by sector."""
    purposes = [(3, 0)] * TOTAL
    for part, group in reversed(list(enumerate(("structures", "wanted", "partitions")))):
        for at, area in reversed(list(enumerate(disk[group]))):
            for sector in sectors_of(area.spans):
                purposes[sector] = (part, at)
    states = [head.state if head else "good" for head in heads_by_sector(disk)]
    return [
        (part != 0, 2 * (state == "weak") + (far < 0), part, at, STURDINESS.index(state), -far if far >= 0 else 0)
        for (part, at), state, far in zip(purposes, states, distances(disk), strict=True)
    ]


STURDINESS = ["good", "slow", "weak", "dead", "left_out"]


@given(disks())
@settings(max_examples=80, deadline=None)
def test_every_sector_to_read_is_in_exactly_one_span_and_no_other_sector_is(disk: dict[str, Any]) -> None:
    planned = [sector for sector, _ in in_order(make_plan(**disk))]
    assert sorted(planned) == to_be_read(disk)


@given(disks())
@settings(max_examples=80, deadline=None)
def test_the_order_is_the_written_one(disk: dict[str, Any]) -> None:
    key = keys(disk)
    planned = [key[sector] for sector, _ in in_order(make_plan(**disk))]
    assert planned == sorted(planned)


@given(disks(), st.integers(0, 20))
@settings(max_examples=40, deadline=None)
def test_planning_again_after_reading_a_part_gives_the_rest_in_the_same_order(disk: dict[str, Any], cut: int) -> None:
    whole = list(in_order(make_plan(**disk)))
    read = disk["coverage"].overlay([(sector, 1, "read") for sector, _ in whole[:cut]])
    left = [sector for sector, _ in in_order(make_plan(**{**disk, "coverage": read}))]
    bad = disk["coverage"].count("unreadable") > read.count("unreadable")  # damage that could be read is damage no more
    assert sorted(left) == sorted(s for s, _ in whole[cut:]) if bad else left == [s for s, _ in whole[cut:]]


@given(disks())
@settings(max_examples=40, deadline=None)
def test_what_is_tried_is_not_planned_again_in_the_pass(disk: dict[str, Any]) -> None:
    plan = make_plan(**disk)
    done = [*disk["tried"], *((line.first_lba, line.sectors) for line in plan)]
    assert len(make_plan(**{**disk, "tried": done})) == 0


@given(disks())
@settings(max_examples=40, deadline=None)
def test_what_is_kept_back_and_what_is_planned_are_all_that_is_not_read(disk: dict[str, Any]) -> None:
    plan = make_plan(**disk)
    unread = TOTAL - disk["coverage"].count("read")
    assert int(plan.sectors.sum()) + sum(plan.kept_back.values()) == unread


@given(disks())
@settings(max_examples=40, deadline=None)
def test_each_span_names_the_heads_that_read_it(disk: dict[str, Any]) -> None:
    known = heads_by_sector(disk)
    for line in make_plan(**disk):
        held = {head.number for head in known[line.first_lba : line.first_lba + line.sectors] if head}
        assert line.heads == tuple(sorted(held))


@given(disks())
@settings(max_examples=40, deadline=None)
def test_reverse_is_for_the_far_side_of_damage_and_for_even_passes(disk: dict[str, Any]) -> None:
    even, far = disk["pass_number"] % 2 == 0, distances(disk)
    for sector, line in in_order(make_plan(**disk)):
        if far[sector] > 0:
            assert (line.direction == "reverse") is even
        elif far[sector] == 0 and line.direction == "reverse":
            assert any(end == sector for _, end in damage_of(disk)), "damage lies just below"


def plain(**asked: Any) -> Plan:
    return make_plan(asked.pop("coverage", Coverage.from_rows(6_400)), **asked)


def lines(plan: Plan) -> list[tuple[int, int, str]]:
    return [(line.first_lba, line.sectors, line.direction) for line in plan]


def test_an_untouched_medium_is_one_span_forward() -> None:
    assert lines(plain()) == [(0, 6_400, "forward")]


def test_nothing_left_is_an_empty_plan() -> None:
    assert list(plain(coverage=Coverage.from_rows(100, [(0, 100, "read")]))) == []
    assert list(plain(coverage=Coverage.from_rows(0), damage=["outer"])) == []


def test_structures_come_first_even_on_a_weak_head() -> None:
    plan = plain(structures=[Area("file table", [(5_000, 10)])], heads=[Head(0, [(4_000, 2_400)], "weak")])
    assert [(line.first_lba, line.part) for line in plan] == [
        (5_000, "structures"), (0, "rest"), (4_000, "rest"), (5_010, "rest"),
    ]  # fmt: skip


def test_wanted_areas_keep_the_customers_order() -> None:
    plan = plain(wanted=[Area("letters", [(4_000, 10)]), Area("films", [(100, 10), (4_005, 10)])])
    assert [(line.name, line.first_lba, line.sectors) for line in plan[:3]] == [
        ("letters", 4_000, 10), ("films", 100, 10), ("films", 4_010, 5),
    ]  # fmt: skip
    assert plan[1].why == "Wanted, number 2: films."


def test_damage_toward_the_outer_tracks_is_come_upon_last_and_from_within() -> None:
    plan = plain(damage=["outer"])
    assert lines(plan)[0] == (6_300, 100, "forward")
    assert lines(plan)[-1] == (0, 100, "reverse")
    assert plan[-1].why.endswith("Comes upon the damage from its far side.")


def test_a_damaged_span_of_no_sectors_is_no_damage() -> None:
    assert lines(plain(damage=[(0, 0), (6_400, 0)])) == [(0, 6_400, "forward")]


def test_a_medium_with_an_odd_number_of_bands_is_still_read_far_from_damage_first() -> None:
    plan = plain(coverage=Coverage.from_rows(127), damage=["outer"])
    assert [line.first_lba for line in plan] == list(range(126, -1, -1))


def test_where_low_numbers_are_not_outer_the_hint_is_turned() -> None:
    assert lines(plain(damage=["outer"], low_is_outer=False))[-1] == (6_300, 100, "forward")
    assert lines(plain(damage=["inner"]))[-1] == (6_300, 100, "forward")


def test_a_damaged_span_comes_last_and_from_both_its_edges() -> None:
    plan = plain(damage=[(3_000, 100)])
    assert lines(plan)[-4:] == [
        (3_100, 100, "reverse"), (2_900, 100, "forward"), (3_000, 50, "forward"), (3_050, 50, "reverse"),
    ]  # fmt: skip


def test_unreadable_sectors_are_damage_as_soon_as_they_are_known() -> None:
    assert lines(plain(coverage=Coverage.from_rows(6_400, [(0, 1, "unreadable")])))[-1] == (1, 100, "reverse")


def test_later_passes_take_smaller_steps_from_the_other_side() -> None:
    coverage = Coverage.from_rows(6_400, [(0, 6_400, "skipped")])
    steps = [plain(coverage=coverage, pass_number=n)[0].step for n in (2, 3, 4, 9)]
    assert steps == [128, 8, 1, 1]
    assert [plain(coverage=coverage, pass_number=n)[0].direction for n in (2, 3)] == ["reverse", "forward"]
    assert plain(coverage=coverage, pass_number=2)[0].why.endswith("Pass 2: from the other side.")


def test_a_weak_head_is_stepped_through_more_finely() -> None:
    assert plain(heads=[Head(0, [(0, 6_400)], "weak")])[0].step == 128


def test_only_what_is_asked_for_can_be_planned() -> None:
    plan = plain(wanted=[Area("letters", [(4_000, 10)])], only_wanted=True)
    assert lines(plan) == [(4_000, 10, "forward")]
    assert plan.kept_back == {"not asked for": 6_390}


def test_dead_heads_and_heads_left_out_are_kept_back_and_counted() -> None:
    plan = plain(heads=[Head(0, [(0, 100)], "dead"), Head(1, [(100, 50)], "left_out")])
    assert plan.kept_back == {"head is dead": 100, "head left out": 50}


def test_a_plan_is_exported_as_a_table() -> None:
    headings, *rest = plain(damage=["outer"]).table()
    assert headings[:4] == ("order", "first sector", "sectors", "direction")
    assert [row[0] for row in rest] == list(range(1, 65))


def test_a_plan_is_a_sequence() -> None:
    plan = plain(damage=["outer"])
    assert plan[-1] == plan[63] == plan[60:][3] == list(plan)[63]
    with pytest.raises(IndexError):
        plan[64]


def test_two_heads_cannot_read_one_sector() -> None:
    with pytest.raises(BadSpan, match="Heads 0 and 3 both claim sector 90"):
        plain(heads=[Head(0, [(0, 100)]), Head(1, [(200, 5)]), Head(3, [(90, 20)])])


@pytest.mark.parametrize("asked", [{"damage": ["middle"]}, {"pass_number": 0}, {"steps": ()}, {"tried": [(6_400, 1)]}])
def test_a_question_that_cannot_be_answered_is_refused(asked: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        plain(**asked)
