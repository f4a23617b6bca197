"""How two values of one attribute are compared, comparator by comparator. All names are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from labcases.media.traits import Traits
from labcases.stock.matching import RULES, Comparator, Mark, PartKind, Rule, judge
from labcases.stock.rules import with_aliases

HEAD_STACK = RULES[PartKind.HEAD_STACK]
PATIENT = Traits(head_map=(0, 1, 2, 3), made=date(2021, 3, 1), head_offsets=(10.0, 12.0, 9.0, 11.0))


def one(rule: Rule, patient: Traits, part: Traits) -> Mark:
    return judge(patient, part, [rule]).findings[0].mark


@pytest.mark.parametrize(
    ("patient", "part", "mark"),
    [
        ("100-7421", "100-7421", Mark.SAME),
        ("100-7421 ra", " 100-7421RA", Mark.SAME),
        ("100-7421", "1007421", Mark.NEAR),
        ("100-7421", "100-7422", Mark.DIFFERENT),
        ("100-7421", "  ", Mark.UNKNOWN),
        ("--", "-", Mark.DIFFERENT),
    ],
)
def test_text_is_equal_without_blanks_and_case_and_near_without_punctuation(patient, part, mark):
    assert one(Rule("board_number"), Traits(board_number=patient), Traits(board_number=part)) is mark


def test_flash_ids_in_another_order_are_near():
    rule = Rule("flash_ids")
    assert one(rule, Traits(flash_ids=("A1", "B2")), Traits(flash_ids=("b2", "a1"))) is Mark.NEAR
    assert one(rule, Traits(flash_ids=("A1", "B2")), Traits(flash_ids=("A1",))) is Mark.DIFFERENT


@pytest.mark.parametrize(
    ("name", "patient", "part", "said"),
    [
        ("sectors", 8, 8, "Sectors are the same: 8."),
        ("sectors", 8, 9, "Sectors differ: the patient has 8, the part has 9."),
        ("channels", 4, None, "Channels are not known of the part."),
        ("flash_ids", ("A1",), ("a1",), "Flash ids count as the same: A1 and a1."),
        ("board_number", "B1", "B2", "Board number differs: the patient has B1, the part has B2."),
        ("board_number", "B1", None, "Board number is not known of the part."),
    ],
)
def test_an_attribute_of_several_is_spoken_of_as_several(name, patient, part, said):
    (reason,) = judge(Traits(**{name: patient}), Traits(**{name: part} if part else {}), [Rule(name)]).reasons
    assert reason.sentence == said


def test_an_alias_of_the_family_counts_as_the_family():
    rules = with_aliases([Rule("family", comparator=Comparator.ONE_OF)], [("Alder", "Alder II"), ("Birch",)])
    assert one(rules[0], Traits(family="Alder"), Traits(family="alder ii")) is Mark.SAME
    assert one(rules[0], Traits(family="Alder"), Traits(family="Birch")) is Mark.DIFFERENT
    reason = judge(Traits(family="Alder"), Traits(family="Alder II"), rules).reasons[0]
    assert reason.sentence == "Family counts as the same: Alder and Alder II are names of one thing."


@pytest.mark.parametrize(
    ("patient", "part", "mark"),
    [
        ("KB12", "KB99", Mark.SAME),
        ("KB12", "KC12", Mark.DIFFERENT),
        ("K", "KB12", Mark.UNKNOWN),
        ("K", "k", Mark.SAME),
        ("X", "KB12", Mark.DIFFERENT),
    ],
)
def test_a_prefix_compares_the_characters_that_count_and_too_short_is_unknown(patient, part, mark):
    rule = Rule("firmware", comparator=Comparator.PREFIX, limit=2)
    assert one(rule, Traits(firmware=patient), Traits(firmware=part)) is mark


def test_a_label_code_can_be_compared_by_position():
    rule = Rule("code:Label B", comparator=Comparator.PREFIX, limit=2, start=3)
    patient, part = Traits(codes=(("Label B", "99KD7"),)), Traits(codes=(("Label B", "12KD1"),))
    assert one(rule, patient, part) is Mark.SAME
    assert one(rule, patient, Traits(codes=(("Label B", "99KE7"),))) is Mark.DIFFERENT
    assert one(rule, patient, Traits()) is Mark.UNKNOWN


@pytest.mark.parametrize(
    ("days", "mark"),
    [(0, Mark.SAME), (92, Mark.SAME), (93, Mark.NEAR), (184, Mark.NEAR), (185, Mark.DIFFERENT), (-92, Mark.SAME)],
)
def test_dates_are_same_within_the_limit_and_near_within_twice(days, mark):
    rule = Rule("made", comparator=Comparator.DAYS, limit=92)
    assert one(rule, PATIENT, Traits(made=date(2021, 3, 1) + timedelta(days=days))) is mark


def test_at_least_takes_as_many_or_more():
    rule = Rule("channels", comparator=Comparator.AT_LEAST)
    marks = [one(rule, Traits(channels=4), Traits(channels=n)) for n in (3, 4, 8)]
    assert marks == [Mark.DIFFERENT, Mark.SAME, Mark.SAME]


def test_the_number_of_heads_follows_from_their_positions():
    assert one(Rule("heads"), Traits(head_map=(0, 1, 3)), Traits(heads=3)) is Mark.SAME


@pytest.mark.parametrize(
    ("part", "mark", "sentence"),
    [
        ({"head_map": (0, 1, 2, 3), "heads_alive": (0, 1, 2, 3)}, Mark.SAME, "Every head the patient needs (0, 1, 3)"),
        ({"heads_alive": (0, 1, 3)}, Mark.SAME, "Every head the patient needs"),
        ({"head_map": (0, 1, 3)}, Mark.UNKNOWN, "but not tested"),
        ({"heads": 3}, Mark.UNKNOWN, "Which heads are fitted is not known of the part."),
        ({}, Mark.UNKNOWN, "Which heads are fitted is not known of the part."),
        ({"head_map": (0, 1, 2)}, Mark.DIFFERENT, "Head 3 of the patient is not fitted on the part."),
        ({"head_map": (0, 1, 3), "heads_alive": (0,)}, Mark.DIFFERENT, "Heads 1, 3 are needed and not alive"),
        ({"heads": 2}, Mark.DIFFERENT, "The part has too few heads: the patient has 0, 1, 3, the part has 2 heads."),
    ],
)
def test_the_patients_heads_must_all_be_fitted_and_alive(part, mark, sentence):
    verdict = judge(Traits(head_map=(0, 1, 3)), Traits(**part), [Rule("head_map", comparator=Comparator.HEADS)])
    assert verdict.findings[0].mark is mark
    assert sentence in verdict.reasons[0].sentence


def test_counts_alone_can_exclude_a_stack_with_too_few_heads():
    rule = Rule("head_map", comparator=Comparator.HEADS)
    assert one(rule, Traits(heads=4), Traits(heads=2)) is Mark.DIFFERENT
    assert one(rule, Traits(heads=2), Traits(heads=4)) is Mark.UNKNOWN
    assert one(rule, Traits(heads=2), Traits(heads_alive=(0, 1))) is Mark.UNKNOWN
    assert one(rule, Traits(heads=2), Traits(heads_alive=(1,))) is Mark.DIFFERENT


def test_the_lab_may_allow_a_dead_head_to_be_looked_at():
    rule = Rule("head_map", comparator=Comparator.HEADS, limit=1)
    assert one(rule, Traits(head_map=(0, 1, 2)), Traits(heads_alive=(0, 2))) is Mark.NEAR
    assert one(rule, Traits(head_map=(0, 1, 2)), Traits(heads_alive=(0,))) is Mark.DIFFERENT
    assert one(rule, Traits(head_map=(0,)), Traits(heads_alive=(1,))) is Mark.DIFFERENT


@pytest.mark.parametrize(
    ("part", "mark"),
    [
        (Traits(head_offsets=(10.0, 17.0, 9.0, 11.0)), Mark.SAME),
        (Traits(head_offsets=(10.0, 17.1, 9.0, 11.0)), Mark.NEAR),
        (Traits(head_offsets=(10.0, 22.1, 9.0, 11.0)), Mark.DIFFERENT),
        (Traits(head_offsets=(10.0, float("nan"), 9.0, 11.0)), Mark.UNKNOWN),
        (Traits(head_offsets=(10.0, 12.0)), Mark.UNKNOWN),
        (Traits(head_offsets=(10.0, 12.0, 50.0, 9.0, 11.0), head_map=(0, 1, 9, 2, 3)), Mark.SAME),
        (Traits(head_offsets=(10.0, 12.0), head_map=(0, 1)), Mark.UNKNOWN),
    ],
)
def test_offsets_are_compared_head_by_head(part, mark):
    assert one(Rule("head_offsets", comparator=Comparator.VECTOR, limit=5), PATIENT, part) is mark


def test_the_worst_head_is_named():
    part = replace(PATIENT, head_offsets=(10.0, 12.0, 9.0, 35.5))
    assert judge(PATIENT, part, HEAD_STACK).reasons[6].sentence == (
        "Head offsets differ most at head 3, by 24.5; the tolerance is 10."
    )
