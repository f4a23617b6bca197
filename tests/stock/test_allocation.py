"""Who gets which part when all waiting patients are looked at together. All names are invented."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcases.media.traits import Traits
from labcases.stock.allocation import FreePart, Waiting, missed, suggest
from labcases.stock.matching import GRADES, RULES, Grade, PartKind, Rule, judge
from labcases.stock.table import judge_table

BOARD, HEADS = PartKind.CONTROLLER_BOARD, PartKind.HEAD_STACK
PLAIN = (Rule("board_number"), Rule("main_chip"))


def plain(kind: PartKind, traits: Traits) -> tuple[Rule, ...]:
    return PLAIN


def waits(key: str, board: str | None = "B7", chip: str | None = None, **more: object) -> Waiting:
    return Waiting(key, BOARD, Traits(board_number=board, main_chip=chip, **more))


def board(key: str, number: str | None = "B7", chip: str | None = None, **more: object) -> FreePart:
    return FreePart(key, BOARD, Traits(board_number=number, main_chip=chip, **more))


def given_out(pairs) -> dict[object, object]:
    return {pair.patient: pair.part for pair in pairs}


def test_a_patient_with_a_choice_leaves_the_only_fit_to_the_other():
    plan = suggest(
        [waits("early"), waits("late", chip="Q2")], [board("D-2", chip="Q2"), board("D-1", chip="Q1")], plain
    )
    assert given_out(plan.pairs) == {"early": "D-1", "late": "D-2"}
    assert given_out(plan.first_come) == {"early": "D-2"}
    assert plan.unserved == ()


def test_what_it_would_change_is_said_patient_by_patient():
    plan = suggest(
        [waits("early"), waits("late", chip="Q2")], [board("D-2", chip="Q2"), board("D-1", chip="Q1")], plain
    )
    assert plan.changes == (
        "early gets D-1 instead of D-2.",
        "late gets D-2; first come, first served would leave it without.",
    )


def test_the_better_use_may_mean_that_somebody_waits_and_that_is_said():
    rules = {"Alder": (Rule("board_number"),)}
    waiting = [waits("one", board="B7", family="Alder"), waits("two", board="B7", chip="Q2")]
    chance = lambda family, kind, band: 0.2 if family == "Alder" else 0.9  # noqa: E731
    plan = suggest(waiting, [board("D-2", chip="Q2")], lambda kind, t: rules.get(t.family or "", PLAIN), chance)
    assert given_out(plan.pairs) == {"two": "D-2"}
    assert plan.unserved == ("one",)
    assert plan.changes[0] == "one waits: D-2, which it would get by first come, first served, does more for another."


def test_a_part_that_is_excluded_is_never_given():
    plan = suggest([waits("one", chip="Q1")], [board("D-2", chip="Q2")], plain)
    assert (plan.pairs, plan.first_come, plan.unserved) == ((), (), ("one",))


def test_a_part_serves_only_patients_that_wait_for_its_kind():
    plan = suggest([waits("one")], [FreePart("D-1", HEADS, Traits(board_number="B7"))], plain)
    assert plan.unserved == ("one",)


def test_a_patient_may_wait_for_two_parts():
    heads = Waiting("one: heads", HEADS, Traits(board_number="B7"))
    plan = suggest([waits("one: board"), heads], [board("D-1"), FreePart("D-1h", HEADS, Traits())], plain)
    assert given_out(plan.pairs) == {"one: board": "D-1", "one: heads": "D-1h"}


def test_equal_parts_are_interchangeable_and_show_no_change():
    waiting = [waits(n, chip="Q1") for n in "abc"]
    plan = suggest(waiting, [board(f"D-{n}", chip="Q1", serial=f"S{n}") for n in range(5)], plain)
    assert plan.changes == ()
    assert list(given_out(plan.pairs).values()) == ["D-0", "D-1", "D-2"]


def test_of_equally_good_matchings_the_one_with_least_change_is_suggested():
    # Without the last step of the cost the solver takes D-1 here, for no reason.
    waiting = [waits("nobody's", chip="Q2"), waits("one", board=None, chip="Q1")]
    plan = suggest(waiting, [board("D-0", "B7", "Q1"), board("D-1", None, "Q1")], plain)
    assert (given_out(plan.pairs), plan.changes) == ({"one": "D-0"}, ())


def test_expected_success_decides_between_matchings_that_serve_as_many():
    chance = lambda family, kind, band: 0.9 if band.low >= 85 else 0.3  # noqa: E731
    waiting = [waits("vague"), waits("clear", chip="Q1")]
    plan = suggest(waiting, [board("D-1", chip="Q1"), board("D-0")], plain, chance)
    assert given_out(plan.pairs) == {"vague": "D-0", "clear": "D-1"}
    assert [pair.success for pair in plan.pairs] == [0.3, 0.9]


def test_a_likelier_success_outweighs_any_score():
    chance = lambda family, kind, band: 0.52 if band.high == 84 else 0.5  # noqa: E731
    plan = suggest([waits("one", chip="Q1")], [board("D-1", chip="Q1"), board("D-0")], plain, chance)
    assert given_out(plan.pairs) == {"one": "D-0"}  # score 75 against 100
    assert given_out(plan.first_come) == {"one": "D-1"}


def test_who_keeps_a_part_of_the_same_sort_keeps_the_very_part():
    waiting = [waits("early"), waits("mid", chip="Q2"), waits("late", chip="Q2")]
    plan = suggest(waiting, [board("D-1", chip="Q2"), board("D-2", chip="Q2"), board("D-9", chip="Q1")], plain)
    assert given_out(plan.first_come) == {"early": "D-1", "mid": "D-2"}
    assert given_out(plan.pairs) == {"early": "D-9", "mid": "D-2", "late": "D-1"}


def test_no_history_is_shown_as_none():
    assert suggest([waits("one")], [board("D-1")], plain).pairs[0].success is None


def test_nobody_waiting_or_nothing_free_gives_an_empty_suggestion():
    assert suggest([], [board("D-1")], plain).pairs == ()
    assert suggest([waits("one")], [], plain).unserved == ("one",)
    assert suggest([waits("one")], [], plain).headline == (
        "0 of 1 waiting patients can be served; first come, first served would serve 0."
    )


def test_a_part_listed_twice_is_refused_before_it_is_given_twice():
    with pytest.raises(ValueError, match=r"The part D-1 is listed twice\."):
        suggest([waits("one")], [board("D-1"), board("D-1")], plain)


def test_the_only_fit_of_another_is_missed_more_than_any_number_of_shared_ones():
    shares = {f"P{n}": ["shared", f"other {n}"] for n in range(50)}
    found = missed({"Q": ["only"], **shares})
    assert found["only"] == 1.0
    assert 0 < found["shared"] < 1


def test_a_part_named_twice_for_one_patient_is_still_the_only_fit():
    assert missed({"Q": ["only", "only"]}) == {"only": 1.0}


# --- what holds for any lab

CHIPS = st.sampled_from([None, "Q1", "Q2", "Q-1"])
NUMBERS = st.sampled_from([None, "B7", "B8"])
TRAITS = st.builds(Traits, board_number=NUMBERS, main_chip=CHIPS, board_revision=CHIPS, family=NUMBERS)


def lab(size: int):
    waiting = st.lists(TRAITS, max_size=size).map(
        lambda found: [Waiting(f"P{n}", BOARD, t) for n, t in enumerate(found)]
    )
    free = st.lists(TRAITS, max_size=size).map(lambda found: [FreePart(f"D{n}", BOARD, t) for n, t in enumerate(found)])
    return st.tuples(waiting, free)


def default(kind: PartKind, traits: Traits) -> tuple[Rule, ...]:
    return RULES[kind]


def banded(family, kind, band):
    return None if family is None else (band.high + (7 if family == "B7" else 0)) / 110


def value(patient: Waiting, part: FreePart) -> tuple[int, int, int] | None:
    """(served, expected success in thousandths, minus what verdict and score lose), worked out one by one."""
    verdict = judge(patient.traits, part.traits, RULES[BOARD])
    if verdict.grade not in (Grade.FITS, Grade.CHECK):
        return None
    family = patient.traits.family
    band_high = {49: 49, 69: 69, 84: 84, 100: 100}[next(h for h in (49, 69, 84, 100) if verdict.score <= h)]
    share = 0.5 if family is None else (band_high + (7 if family == "B7" else 0)) / 110
    return 1, round(1000 * share), -(GRADES.index(verdict.grade) * 101 + 100 - verdict.score)


def total(values) -> tuple[int, int, int]:
    found = [one for one in values if one is not None]
    return tuple(sum(column) for column in zip(*found, strict=True)) if found else (0, 0, 0)


@settings(deadline=None)
@given(lab(4))
def test_no_other_way_of_giving_serves_more_or_better(found):
    waiting, free = found
    plan = given_out(suggest(waiting, free, default, banded).pairs)
    parts = {part.key: part for part in free}
    ours = total(value(one, parts[plan[one.key]]) for one in waiting if one.key in plan)
    places = [*free, *[None] * len(waiting)]
    every = permutations(range(len(places)), len(waiting)) if len(waiting) <= 3 else ()
    for way in every:
        other = total(value(one, places[n]) for one, n in zip(waiting, way, strict=True) if places[n] is not None)
        assert ours >= other


@settings(deadline=None)
@given(lab(8))
def test_nothing_is_changed_where_first_come_is_as_good(found):
    waiting, free = found
    plan = suggest(waiting, free, default, banded)
    patients, parts = {one.key: one for one in waiting}, {part.key: part for part in free}
    ours, theirs = (
        total(value(patients[pair.patient], parts[pair.part]) for pair in pairs)
        for pairs in (plan.pairs, plan.first_come)
    )
    assert (plan.changes == ()) == (ours == theirs)


@settings(deadline=None)
@given(lab(8))
def test_no_part_is_given_twice_and_no_patient_gets_two(found):
    waiting, free = found
    plan = suggest(waiting, free, default, banded)
    for pairs in (plan.pairs, plan.first_come):
        assert len({pair.part for pair in pairs}) == len({pair.patient for pair in pairs}) == len(pairs)
    assert len(plan.pairs) >= len(plan.first_come)
    assert {pair.patient for pair in plan.pairs} | set(plan.unserved) == {one.key for one in waiting}


@settings(deadline=None)
@given(lab(8))
def test_each_pair_carries_the_verdict_it_would_get_alone(found):
    waiting, free = found
    patients, parts = ({one.key: one.traits for one in side} for side in found)
    for pair in suggest(waiting, free, default).pairs:
        verdict = judge(patients[pair.patient], parts[pair.part], RULES[BOARD])
        assert (pair.grade, pair.score) == (verdict.grade, verdict.score)


@settings(deadline=None)
@given(lab(8))
def test_a_family_with_rules_of_its_own_is_judged_by_them(found):
    waiting, free = found
    own = lambda kind, traits: PLAIN if traits.family == "B7" else RULES[kind]  # noqa: E731
    patients, parts = ({one.key: one.traits for one in side} for side in found)
    plan = suggest(waiting, free, own)
    for pair in (*plan.pairs, *plan.first_come):
        patient = patients[pair.patient]
        verdict = judge(patient, parts[pair.part], own(BOARD, patient))
        assert (pair.grade, pair.score) == (verdict.grade, verdict.score)


HEADS_OR_FLASH = st.builds(
    Traits,
    model=st.sampled_from([None, "M1"]),
    sectors=st.sampled_from([None, 100]),
    family=st.sampled_from([None, "Alder"]),
    board_number=NUMBERS,
    firmware=CHIPS,
    head_map=st.sampled_from([(), (0, 1)]),
    heads_alive=st.sampled_from([(), (0, 1), (1,)]),
    flash_controller=st.sampled_from([None, "FC9"]),
    head_offsets=st.sampled_from([(), (0.0, 5.0), (0.0, 50.0)]),
)


@settings(deadline=None)
@given(
    st.lists(HEADS_OR_FLASH, max_size=5), st.lists(HEADS_OR_FLASH, max_size=5), st.sampled_from([*RULES.values(), ()])
)
def test_the_table_agrees_with_judging_one_by_one(patients, parts, rules):
    table = judge_table(patients, parts, rules)
    for i, j in np.ndindex(len(patients), len(parts)):
        alone = judge(patients[i], parts[j], rules)
        assert GRADES[table.grades[i, j]] is alone.grade
        assert table.scores[i, j] == (0 if alone.excluded else alone.score)
