"""What the engineer may rely on when a part is compared with a patient. All names are invented."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from labcases.media.traits import Traits
from labcases.stock import matching
from labcases.stock.matching import (
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
