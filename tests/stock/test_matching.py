"""What the engineer may rely on when a part is compared with a patient. All names are invented."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcases.media.traits import Traits
from labcases.stock import matching
from labcases.stock.comparing import reads
from labcases.stock.matching import (
    GRADES,
    RULES,
    Candidate,
    Comparator,
    Grade,
    Level,
    Mark,
    PartKind,
    Rule,
    judge,
    rank,
)
from labcases.stock.rules import with_aliases

HEAD_STACK = RULES[PartKind.HEAD_STACK]
PATIENT = Traits(
    family="Alder",
    model="ALD-1000X",
    serial="P-1",
    firmware="KB12",
    sectors=1_953_525_168,
    sector_bytes=512,
    heads=4,
    head_map=(0, 1, 2, 3),
    platters=2,
    preamplifier="PA-31",
    board_number="100-7421",
    main_chip="QX88",
    plant="N",
    made=date(2021, 3, 1),
    head_offsets=(10.0, 12.0, 9.0, 11.0),
)
TWIN = replace(PATIENT, serial="D-1", heads_alive=(0, 1, 2, 3))


def one(rule: Rule, patient: Traits, part: Traits) -> Mark:
    return judge(patient, part, [rule]).findings[0].mark


def test_a_part_that_agrees_in_everything_fits_with_full_score():
    verdict = judge(PATIENT, TWIN, HEAD_STACK)
    assert (verdict.grade, verdict.score, verdict.excluded) == (Grade.FITS, 100, False)
    assert verdict.headline == "Fits: everything that must match is the same; score 100."


def test_a_different_preamplifier_excludes_and_says_both_values():
    verdict = judge(PATIENT, replace(TWIN, preamplifier="PA-40"), HEAD_STACK)
    assert verdict.excluded
    assert verdict.headline == "Does not fit: preamplifier differs: the patient has PA-31, the part has PA-40."


def test_an_unknown_preamplifier_asks_for_an_eye_and_does_not_exclude():
    verdict = judge(PATIENT, replace(TWIN, preamplifier=None), HEAD_STACK)
    assert verdict.grade is Grade.CHECK
    assert verdict.headline == "Check by eye: preamplifier is not known of the part."


def test_several_doubts_are_counted_in_the_headline():
    verdict = judge(PATIENT, Traits(family="Alder"), HEAD_STACK)
    assert verdict.headline == "Check by eye: which heads are fitted is not known of the part. One more like it."


def test_knowing_nothing_at_all_scores_exactly_half():
    verdict = judge(Traits(), Traits(), HEAD_STACK)
    assert (verdict.grade, verdict.score) == (Grade.CHECK, 50)


def test_musts_alone_do_not_fit_when_all_else_speaks_against():
    rules = [Rule("family", weight=1), Rule("plant", Level.BETTER, weight=5)]
    verdict = judge(PATIENT, replace(TWIN, plant="Z"), rules)
    assert (verdict.grade, verdict.score) == (Grade.UNLIKELY, 17)


def test_a_better_match_that_differs_lowers_the_score_and_excludes_nothing():
    verdict = judge(PATIENT, replace(TWIN, plant="Z"), HEAD_STACK)
    assert verdict.grade is Grade.FITS
    assert verdict.score == round(100 * (42 - 3) / 42)  # weights of the default rules sum to 42; the plant weighs 3


def test_a_part_without_any_rule_is_never_said_to_fit():
    assert judge(PATIENT, TWIN, []).headline == "Check by eye: no rule could be applied."


def test_each_reason_carries_both_values_a_mark_and_a_sentence():
    reason = judge(PATIENT, replace(TWIN, made=date(2021, 4, 11)), HEAD_STACK).reasons[5]
    assert (reason.label, reason.patient, reason.part) == ("Made", "2021-03-01", "2021-04-11")
    assert (reason.mark, reason.mark.sign) == (Mark.SAME, "✓")
    assert reason.sentence == "Made 41 days apart: within 92."


def test_the_marks_are_the_five_of_the_product():
    assert {mark.value: mark.sign for mark in Mark} == {
        "same": "✓",
        "near": "≈",
        "unknown": "?",
        "different": "✕",
        "not applicable": "–",
    }


def test_a_verdict_can_be_kept_as_json_with_every_reason():
    record = json.loads(json.dumps(judge(PATIENT, replace(TWIN, preamplifier="PA-40"), HEAD_STACK).as_record()))
    assert (record["grade"], record["excluded"]) == ("no", True)
    assert [reason["sign"] for reason in record["reasons"]] == list("✓✓✕✓✓✓✓✓")


# --- comparators


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
    part = replace(TWIN, head_offsets=(10.0, 12.0, 9.0, 35.5))
    assert judge(PATIENT, part, HEAD_STACK).reasons[6].sentence == (
        "Head offsets differ most at head 3, by 24.5; the tolerance is 10."
    )


# --- what the default rules say


def test_adaptive_data_never_come_from_a_donor():
    verdict = judge(PATIENT, TWIN, RULES[PartKind.ROM])
    assert verdict.excluded
    assert "never take a donor's" in verdict.headline


def test_a_twin_with_heads_is_not_asked_for_a_flash_controller():
    reasons = judge(PATIENT, TWIN, RULES[PartKind.WHOLE_TWIN]).reasons
    assert {reason.label for reason in reasons if reason.mark is Mark.NOT_APPLICABLE} == {
        "Flash controller",
        "Flash ids",
    }


def test_a_flash_twin_is_not_asked_for_heads_and_can_fit():
    flash = Traits(model="BIR-240", sectors=468_862_128, flash_controller="FC9", flash_ids=("A1",), firmware="1.0")
    verdict = judge(flash, flash, RULES[PartKind.WHOLE_TWIN])
    assert verdict.grade is Grade.FITS


def test_a_rule_that_could_be_waived_still_counts_when_one_side_knows():
    patient = Traits(flash_controller="FC9", head_map=(0, 1))
    rules = [Rule("head_map", comparator=Comparator.HEADS, unless_known=("flash_controller",))]
    assert judge(patient, Traits(head_map=(0,)), rules).excluded


# --- the order of candidates


def order(*parts: Candidate, patient: Traits = PATIENT) -> list[object]:
    return [ranked.candidate.key for ranked in rank(patient, parts, HEAD_STACK)]


def test_the_verdict_comes_before_everything_else():
    doubtful = Candidate("doubtful", replace(TWIN, preamplifier=None), cost_minor=0, success=0.99)
    wrong = Candidate("wrong", replace(TWIN, preamplifier="PA-40"), cost_minor=0, success=1.0)
    assert order(wrong, doubtful, Candidate("right", TWIN, cost_minor=99_000, success=0.1)) == [
        "right",
        "doubtful",
        "wrong",
    ]


def test_then_expected_success_with_no_history_taken_as_even():
    parts = [Candidate("low", TWIN, success=0.4), Candidate("none", TWIN), Candidate("high", TWIN, success=0.6)]
    assert order(*parts) == ["high", "none", "low"]


def test_then_the_part_that_others_would_miss_least_and_then_the_cheaper():
    parts = [
        Candidate("only one for another", TWIN, cost_minor=1, missed=1.0),
        Candidate("price not known", TWIN),
        Candidate("dear", TWIN, cost_minor=5_000),
        Candidate("cheap", TWIN, cost_minor=500),
    ]
    assert order(*parts) == ["cheap", "dear", "price not known", "only one for another"]


def test_what_is_equal_in_everything_stays_in_the_order_given():
    assert order(*[Candidate(n, TWIN) for n in "cab"]) == ["c", "a", "b"]


def test_equal_traits_are_judged_once(monkeypatch):
    judged = []

    def counting(patient, rules):
        verdict_on = original(patient, rules)
        return lambda part: judged.append(part) or verdict_on(part)

    original = matching._judge_of
    monkeypatch.setattr(matching, "_judge_of", counting)
    rank(PATIENT, [Candidate(n, replace(TWIN, serial=f"D-{n}")) for n in range(50)], HEAD_STACK)
    assert len(judged) == 1


def test_ranking_writes_no_sentence(monkeypatch):
    monkeypatch.setattr(matching, "reason_for", lambda finding: pytest.fail("a reason was made for a row not shown"))
    assert len(rank(PATIENT, [Candidate(n, TWIN) for n in range(5)], HEAD_STACK)) == 5


# --- what holds for any traits

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
