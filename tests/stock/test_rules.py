"""Rules are data that the lab edits: they go out and come back, and what cannot be meant is refused in words."""

from __future__ import annotations

import json
from dataclasses import fields

import pytest

from labcases.media.traits import Traits
from labcases.stock.rules import (
    CAUTIONS,
    LABELS,
    RULES,
    Comparator,
    Level,
    PartKind,
    Rule,
    RuleError,
    rules_as_records,
    rules_from_records,
    with_aliases,
)


@pytest.mark.parametrize("kind", PartKind)
def test_every_part_has_rules_with_at_least_one_must(kind):
    assert any(rule.level is Level.MUST for rule in RULES[kind])


@pytest.mark.parametrize("kind", PartKind)
def test_rules_come_back_from_json_as_they_went(kind):
    stored = json.dumps(rules_as_records(RULES[kind]))
    assert rules_from_records(json.loads(stored)) == RULES[kind]


def test_a_rule_with_everything_set_comes_back_whole():
    rule = Rule(
        "code:Label B", Level.BETTER, Comparator.PREFIX, 2.5, limit=3, start=4, unless_known=("heads",), why="Look."
    )
    assert Rule.from_record(json.loads(json.dumps(rule.as_record()))) == rule


def test_groups_come_back_as_they_went():
    rule = Rule("family", comparator=Comparator.ONE_OF, groups=(("Alder", "Alder II"), ("Birch",)))
    assert Rule.from_record(json.loads(json.dumps(rule.as_record()))) == rule


def test_every_trait_has_a_name_on_screen():
    assert {field.name for field in fields(Traits)} - set(LABELS) == {"codes"}


def test_a_head_stack_asks_for_family_heads_and_preamplifier():
    # Trade table: common practice, no source.
    musts = [rule.attribute for rule in RULES[PartKind.HEAD_STACK] if rule.level is Level.MUST]
    assert musts == ["family", "head_map", "preamplifier"]


def test_the_controller_board_reminds_of_the_patients_own_rom():
    assert "patient's own ROM" in CAUTIONS[PartKind.CONTROLLER_BOARD]


@pytest.mark.parametrize(
    ("record", "words"),
    [
        ({"attribute": "colour"}, "no attribute “colour”"),
        ({}, "does not say which attribute"),
        ({"attribute": "code: "}, "no attribute"),
        ({"attribute": 7}, "no attribute “7”"),
        ({"attribute": "model", "level": "maybe"}, "“maybe” is no level. Choose one of: must, better"),
        ({"attribute": "model", "comparator": "like"}, "“like” is no comparator"),
        ({"attribute": "model", "wait": 3}, "A rule has no “wait”"),
        ({"attribute": "model", "weight": 0}, "weight of model is 0"),
        ({"attribute": "model", "weight": True}, "weight of model is True"),
        ({"attribute": "model", "weight": float("nan")}, "weight of model is nan"),
        ({"attribute": "model", "comparator": "same prefix"}, "needs its limit: how many characters count"),
        ({"attribute": "model", "comparator": "same prefix", "limit": 2.5}, "whole number of 1 or more"),
        ({"attribute": "model", "comparator": "same prefix", "limit": 2, "start": 0}, "must be 1 or more"),
        ({"attribute": "made", "comparator": "within days", "limit": -1}, "whole number of 0 or more"),
        ({"attribute": "model", "comparator": "within days", "limit": 3}, "compares made, not model"),
        ({"attribute": "sectors", "comparator": "same prefix", "limit": 3}, "sectors is not text"),
        ({"attribute": "model", "comparator": "at least"}, "not model"),
        ({"attribute": "heads", "comparator": "subset of heads"}, "compares head_map, not heads"),
        ({"attribute": "head_offsets", "comparator": "vector within tolerance"}, "the tolerance"),
        ({"attribute": "model", "limit": 3}, "“equal” takes no limit"),
        ({"attribute": "model", "why": 5}, "must be text"),
        ({"attribute": "family", "comparator": "one of", "groups": "Alder"}, "“groups” is a list"),
        ({"attribute": "family", "comparator": "one of", "groups": ["Alder"]}, "“groups” is a list"),
        ({"attribute": "family", "comparator": "one of", "groups": [[" "]]}, "at least one name"),
        ({"attribute": "family", "comparator": "one of", "groups": [["A"], ["a"]]}, "stands in two groups"),
        ({"attribute": "model", "unless_known": ["wheels"]}, "no attribute “wheels”"),
        ("model", "set of named values"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_number_of_the_rule(record, words):
    with pytest.raises(RuleError, match=r"^Rule 2: ") as refusal:
        rules_from_records([{"attribute": "serial"}, record])
    assert words in str(refusal.value)


def test_the_same_question_asked_twice_is_refused():
    with pytest.raises(RuleError, match="Rule 2: Model is compared in this way already"):
        rules_from_records([{"attribute": "model"}, {"attribute": "model", "level": "better"}])


@pytest.mark.parametrize("records", ["model", {"attribute": "model"}, 5, None])
def test_rules_that_are_no_list_are_refused(records):
    with pytest.raises(RuleError, match="Rules are a list"):
        rules_from_records(records)


def test_aliases_reach_the_family_rule_and_no_other():
    changed = with_aliases(RULES[PartKind.HEAD_STACK], [("Alder", "Alder II")])
    assert [rule.attribute for rule in changed if rule.groups] == ["family"]
