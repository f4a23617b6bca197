"""What holds of a verdict and of the order of candidates for any traits and any rules."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from labcases.media.traits import Traits
from labcases.stock.comparing import reads
from labcases.stock.matching import GRADES, RULES, Candidate, Comparator, Grade, Rule, judge, rank

MAPS = st.sampled_from([(), (0,), (0, 1), (0, 1, 2), (1, 2), (0, 1, 2, 3)])
TEXT = st.sampled_from([None, "", "KB12", "kb 12", "KB-12", "KC3", "K"])


@st.composite
def traits(draw) -> Traits:
    head_map = draw(MAPS)
    alive = draw(st.lists(st.sampled_from(head_map), unique=True)) if head_map else draw(MAPS)
    return Traits(
        family=draw(TEXT),
        model=draw(TEXT),
        firmware=draw(TEXT),
        preamplifier=draw(TEXT),
        main_chip=draw(TEXT),
        serial=draw(TEXT),
        sectors=draw(st.sampled_from([None, 100, 200])),
        heads=draw(st.sampled_from([None, len(head_map)])) if head_map else draw(st.sampled_from([None, 1, 3])),
        head_map=head_map,
        heads_alive=tuple(sorted(alive)),
        made=draw(st.sampled_from([None, date(2021, 1, 1), date(2021, 5, 1), date(2022, 1, 1)])),
        head_offsets=draw(st.sampled_from([(), *[tuple(float(n) for n in head_map)], (0.0, 11.0), (0.0, 30.0)])),
        flash_ids=draw(st.sampled_from([(), ("A1",), ("A1", "B2"), ("B2", "A1")])),
        flash_controller=draw(TEXT),
    )


@st.composite
def pairs(draw) -> tuple[Traits, Traits]:
    """A patient and a part that mostly agree, so that not every pair is excluded from the start."""
    patient, other = draw(traits()), draw(traits())
    together = ("heads", "head_map", "heads_alive", "head_offsets")
    source = draw(st.sampled_from([patient, patient, other, Traits()]))
    part = Traits(**{name: getattr(source, name) for name in together})
    if source is patient:
        part = replace(part, heads_alive=draw(st.sampled_from([patient.head_map, part.heads_alive])))
    for name in sorted({field.name for field in fields(Traits)} - set(together)):
        part = replace(
            part, **{name: getattr(draw(st.sampled_from([patient, patient, patient, other, Traits()])), name)}
        )
    return patient, part


RULE_SETS = st.sampled_from([*RULES.values(), (Rule("head_offsets", comparator=Comparator.VECTOR, limit=5),)])


@st.composite
def rules_and_name(draw) -> tuple[tuple[Rule, ...], str]:
    """A rule set and the name of a trait that it reads."""
    rules = draw(RULE_SETS)
    return rules, draw(st.sampled_from(sorted({name for rule in rules for name in reads(rule)})))


@settings(max_examples=400)
@given(pairs(), rules_and_name(), st.booleans())
def test_forgetting_something_never_turns_a_verdict_into_no(pair, chosen, of_part):
    (patient, part), (rules, name) = pair, chosen
    if judge(patient, part, rules).excluded:
        return
    blank = getattr(Traits(), name)
    if of_part:
        part = replace(part, **{name: blank})
    else:
        patient = replace(patient, **{name: blank})
    assert not judge(patient, part, rules).excluded


@given(traits(), RULE_SETS)
def test_a_part_of_which_nothing_is_known_is_never_excluded_nor_called_fitting(patient, rules):
    assert judge(patient, Traits(), rules).grade is Grade.CHECK


@settings(max_examples=400)
@given(pairs(), rules_and_name())
def test_learning_that_the_part_agrees_never_lowers_score_or_verdict(pair, chosen):
    (patient, part), (rules, name) = pair, chosen
    if getattr(part, name) not in (None, (), ""):
        return
    agreeing = patient.head_map if name == "heads_alive" else getattr(patient, name)
    if name == "head_map" and set(part.heads_alive) - set(agreeing):
        return  # it would contradict what is known already
    if name == "heads" and part.head_map and len(part.head_map) != agreeing:
        return
    before, after = (judge(patient, p, rules) for p in (part, replace(part, **{name: agreeing})))
    assert after.score >= before.score
    assert GRADES.index(after.grade) <= GRADES.index(before.grade)


@given(pairs(), RULE_SETS)
def test_the_score_stays_within_0_and_100_and_every_rule_has_its_reason(pair, rules):
    verdict = judge(*pair, rules)
    assert 0 <= verdict.score <= 100
    assert [reason.attribute for reason in verdict.reasons] == [rule.attribute for rule in rules]
    assert all(reason.sentence.endswith(".") for reason in verdict.reasons)
    assert verdict.headline.endswith(".")
    assert json.loads(json.dumps(verdict.as_record())) == verdict.as_record()


@st.composite
def candidates(draw) -> list[Candidate]:
    several = draw(st.lists(traits(), max_size=8))
    chance = st.sampled_from([None, 0.2, 0.5, 0.9])
    cost = st.sampled_from([None, 0, 500])
    return [Candidate(n, t, draw(cost), draw(st.sampled_from([0.0, 1.0])), draw(chance)) for n, t in enumerate(several)]


@given(traits(), candidates(), RULE_SETS)
def test_ranking_loses_and_invents_nothing_and_agrees_with_judging_one_by_one(patient, parts, rules):
    ranked = rank(patient, parts, rules)
    assert sorted(r.candidate.key for r in ranked) == [part.key for part in parts]
    for r in ranked:
        alone = judge(patient, r.candidate.traits, rules)
        assert (r.verdict.grade, r.verdict.score) == (alone.grade, alone.score)
    places = [GRADES.index(r.verdict.grade) for r in ranked]
    assert places == sorted(places)
