"""Facts in, one next safe step out. The order is the trade's (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.urls import reverse

from labcases.bench.protocol_defaults import DEFAULTS
from labcases.cases.facts import Facts
from labcases.cases.stages import EXITS, Stage
from labcases.docket.next_step import CLEAN_AIR, NOISE, WET, next_step
from labcases.docket.queries import VERBS

DISK = DEFAULTS["disk"]
ANSWERED = {"order_noted": frozenset({"board", "identity"}), "order_lifted": frozenset({"service-area"})}
SIGNED = {"in_the_lab": True, "terms_signed": True, "may_examine": True}
AT = {  # one ordinary item at each stage
    Stage.EXPECTED: Facts(stage=Stage.EXPECTED),
    Stage.RECEIVED: Facts(stage=Stage.RECEIVED, **SIGNED),
    Stage.EXAMINED: Facts(stage=Stage.EXAMINED, examined=True, found="heads", **SIGNED),
    Stage.QUOTED: Facts(stage=Stage.QUOTED, examined=True, **SIGNED),
    Stage.AUTHORISED: Facts(stage=Stage.AUTHORISED, authorised=True, destinations=1, spinning=True, **SIGNED),
    Stage.IN_WORK: Facts(stage=Stage.IN_WORK, authorised=True, destinations=1, spinning=True, **SIGNED),
    Stage.CHECKED: Facts(stage=Stage.CHECKED, result_checked=True, **SIGNED),
    Stage.READY: Facts(stage=Stage.READY, result_checked=True, money_settled=True, **SIGNED),
    **{stage: Facts(stage=stage, money_settled=True, **SIGNED) for stage in EXITS},
    **{stage: Facts(stage=stage) for stage in (Stage.HANDED_OVER, Stage.CLOSED, Stage.NEVER_CAME)},
}
STEPS = [
    (Stage.EXPECTED, {}, "arrive"),
    (Stage.RECEIVED, {"terms_signed": False}, "complete-intake"),
    (Stage.RECEIVED, {}, "examine"),
    (Stage.RECEIVED, {"differs": ("serial",)}, "answer-identity"),
    (Stage.IN_WORK, {"differs": ("serial", "model"), "locked": True}, "answer-identity"),
    (Stage.AUTHORISED, {"locked": True}, "identify"),
    (Stage.IN_WORK, {"locked": True}, "identify"),
    (Stage.IN_WORK, {"locked": True, "clone_noted": True}, "record-result"),
    (Stage.RECEIVED, {"locked": True}, "examine"),
    (Stage.RECEIVED, {"wrong_item": True}, "lift-wrong-item"),
    (Stage.READY, {"wrong_item": True}, "lift-wrong-item"),
    (Stage.EXAMINED, {}, "quote"),
    (Stage.QUOTED, {}, "answer-quote"),
    (Stage.AUTHORISED, {"needs_part": "head stack"}, "assign-donor"),
    (Stage.AUTHORISED, {"needs_part": "head stack", "donor_parts": 1, "destinations": 0}, "assign-destination"),
    (Stage.AUTHORISED, {"destinations": 0}, "assign-destination"),
    (Stage.AUTHORISED, {}, "start-work"),
    (Stage.IN_WORK, {}, "note-step"),
    (Stage.IN_WORK, {"clone_noted": True}, "record-result"),
    (Stage.IN_WORK, {"destinations": 0}, "assign-destination"),
    (Stage.AUTHORISED, {"bench_order": DISK}, "answer-order"),
    (Stage.AUTHORISED, {"bench_order": DISK, "order_noted": frozenset({"board", "identity"})}, "keep-dump"),
    (Stage.AUTHORISED, {"bench_order": DISK, **ANSWERED}, "start-work"),
    (Stage.IN_WORK, {"bench_order": DISK, **ANSWERED}, "note-step"),
    (Stage.IN_WORK, {"bench_order": DISK, **ANSWERED, "clone_noted": True}, "answer-order"),
    (Stage.CHECKED, {}, "make-ready"),
    (Stage.READY, {}, "tell"),
    (Stage.READY, {"told_ready": True}, "hand-over"),
    (Stage.DECLINED, {}, "hand-over"),
    (Stage.UNRECOVERABLE, {}, "hand-over"),
    (Stage.WITHDRAWN, {}, "hand-over"),
    (Stage.ABANDONED, {}, "hand-over"),
    (Stage.HANDED_OVER, {}, ""),
    (Stage.CLOSED, {}, ""),
    (Stage.NEVER_CAME, {}, ""),
]


@pytest.mark.parametrize(("stage", "facts", "verb"), STEPS)
def test_the_facts_lead_to_one_step(stage, facts, verb):
    step = next_step(replace(AT[stage], **facts))
    assert step.verb == verb
    assert step.stopped_by == ()
    assert step.what
    assert step.why.endswith(".")


def test_the_table_above_speaks_of_every_stage():
    assert {stage for stage, _, _ in STEPS} == set(Stage) == set(AT)


@pytest.mark.parametrize("stage", list(Stage))
def test_while_the_law_holds_it_nothing_is_done(stage):
    step = next_step(replace(AT[stage], legal_hold=True))
    assert not step.open
    assert step.verb == ""
    assert "The law holds it" in step.why


def test_every_verb_of_a_step_has_a_button():
    of_other_orders = {"remove-chip", "map-heads", "find-array"}  # steps of flash, of several heads, of arrays
    assert {verb for _, _, verb in STEPS if verb} | of_other_orders == set(VERBS)


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_the_button_of_a_verb_leads_to_a_page(verb):
    name, takes, button = VERBS[verb]
    assert takes in ("item", "case")
    assert reverse(name, args=["26-00001-P1-X" if takes == "item" else "26-00001-X"]).startswith("/")
    assert button[0].isupper()


@pytest.mark.parametrize("reason", ["it was dropped", "it clicks", "it grinds", "it was opened before"])
def test_what_was_told_forbids_power_before_an_inspection_in_clean_air(reason):
    told = replace(AT[Stage.RECEIVED], spinning=True, may_open=True, no_power_because=(reason,))
    step = next_step(told)
    assert step.what == "Inspect it inside, in clean air, before any power"
    assert reason in step.why
    assert CLEAN_AIR in step.cautions


def test_without_leave_to_open_it_is_examined_without_power_and_the_leave_is_asked_for():
    step = next_step(replace(AT[Stage.RECEIVED], spinning=True, no_power_because=("it clicks",)))
    assert step.what == "Examine it without power"
    assert "ask for that authority" in step.why


@pytest.mark.parametrize("reason", ["it got wet", "it went through liquid", "liquid was seen on it"])
def test_wet_media_bring_their_own_caution(reason):
    assert WET in next_step(replace(AT[Stage.RECEIVED], no_power_because=(reason,))).cautions
    assert WET not in next_step(replace(AT[Stage.RECEIVED], no_power_because=("it clicks",))).cautions


def test_a_fire_brings_the_caution_of_what_carries_contamination():
    assert WET in next_step(replace(AT[Stage.RECEIVED], no_power_because=("it was in a fire",))).cautions
    assert WET in next_step(replace(AT[Stage.RECEIVED], no_power_because=("it went through fire",))).cautions


@pytest.mark.parametrize("stage", [Stage.AUTHORISED, Stage.IN_WORK])
def test_only_what_spins_makes_noise(stage):
    assert NOISE in next_step(AT[stage]).cautions
    assert NOISE not in next_step(replace(AT[stage], spinning=False)).cautions


@pytest.mark.parametrize(
    ("stage", "wrong", "said"),
    [
        (Stage.RECEIVED, {"may_examine": False}, "not allowed the examination"),
        (Stage.RECEIVED, {"in_the_lab": False}, "not in the lab"),
        (Stage.READY, {"told_ready": True, "money_settled": False}, "money to settle"),
        (Stage.DECLINED, {"disputed": True}, "disputed"),
        (Stage.AUTHORISED, {"authorised": False}, "No authority"),
    ],
)
def test_a_step_that_may_not_be_done_says_what_stops_it_and_what_lifts_that(stage, wrong, said):
    step = next_step(replace(AT[stage], **wrong))
    assert not step.open
    assert said in step.stopped_by[0].because
    assert step.stopped_by[0].lift


def test_a_stop_of_the_bench_order_stands_before_the_work_and_says_what_lifts_it():
    told = replace(AT[Stage.AUTHORISED], bench_order=DISK, no_power_because=("it clicks",), **ANSWERED)
    step = next_step(told)
    assert step.what.startswith("Inspect it inside")
    assert not step.open
    assert [(stop.because, stop.lift) for stop in step.stopped_by] == [
        ("The customer has not allowed opening it.", "Ask for that authority, and note it.")
    ]
    assert next_step(replace(told, may_open=True)).verb == "examine"


def test_what_should_be_kept_in_mind_stands_beside_the_step():
    step = next_step(replace(AT[Stage.IN_WORK], bench_order=DISK, **ANSWERED))
    assert len(step.reminders) == 2
    assert "structures of the file system first" in step.reminders[0]


def test_a_dispute_stops_the_release_and_not_the_work():
    assert next_step(replace(AT[Stage.IN_WORK], disputed=True)).open
    assert not next_step(replace(AT[Stage.READY], told_ready=True, disputed=True)).open
