"""The bench order as data: what is next, what is stopped and by what. The order is the trade's (no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.bench.protocol import Condition, Grade, Protocol, State, Step, Stop, judge, mistakes
from labcases.bench.protocol_defaults import COPY, DEFAULTS, KINDS, kind_of
from labcases.bench.protocol_facts import FACTS, suspicions
from labcases.bench.protocol_record import as_record, from_record
from labcases.cases.words import reasons_for_no_power

KIND = pytest.mark.parametrize("kind", DEFAULTS)
DISK = DEFAULTS["disk"]
GIVEN = sorted(FACTS)


@st.composite
def standings(draw):
    """A protocol, some facts and taps, and some liftings."""
    protocol = DEFAULTS[draw(st.sampled_from(sorted(DEFAULTS)))]
    keys = [step.key for step in protocol.steps]
    stops = [step.stop_key(stop) for step in protocol.steps for stop in step.stops]
    facts = draw(st.frozensets(st.sampled_from(GIVEN + keys)))
    return protocol, facts, draw(st.frozensets(st.sampled_from(keys + stops)))


@st.composite
def protocols(draw):
    """Protocols that a lab might write: any grades, any order, any facts."""
    keys = [f"s{n}" for n in range(draw(st.integers(1, 7)))]
    some = st.lists(st.sampled_from(GIVEN), max_size=2, unique=True).map(tuple)
    steps = []
    for place, key in enumerate(keys):
        unless = draw(st.builds(Condition, all=some, any=some, none=some))
        stop = Stop("x", unless, "b", "l", draw(st.sampled_from(Grade)), reasons=("r",))
        before = draw(st.lists(st.sampled_from(keys[:place]), unique=True)) if place else []
        steps.append(
            Step(
                key, f"Do {key}", "w", draw(st.sampled_from(Grade)), done=draw(st.builds(Condition, all=some)),
                after=tuple(before), stops=(stop,) if unless else (), reasons=("r",),
                applies=draw(st.builds(Condition, all=some, none=some)),
            )
        )  # fmt: skip
    return Protocol("disk", tuple(draw(st.permutations(steps))))


def ancestors(protocol: Protocol, key: str) -> set[str]:
    """All that comes before a step, found the long way round."""
    step = protocol.step(key)
    return set().union(*({other} | ancestors(protocol, other) for other in step.after)) if step else set()


def all_true(condition: Condition, true: set[str]) -> bool:
    some = not condition.any or any(name in true for name in condition.any)
    return some and all(name in true for name in condition.all) and not any(name in true for name in condition.none)


@given(standings())
def test_the_next_step_is_never_stopped(standing):
    found = judge(*standing).next
    assert found is None or (found.state is State.OPEN and not found.standing)


def nothing_is_skipped(protocol, facts, lifted):
    judged = judge(protocol, facts, lifted)
    if judged.next is None:
        return
    settled = {State.DONE, State.PASSED}
    for key in ancestors(protocol, judged.next.key):
        state = judged.state(key)
        assert state is None or state.state in settled or state.step.grade is Grade.REMIND
    behind = {s.key for s in judged.steps if s.state in settled} | {s.key for s in judged.not_needed}
    true = {fact for fact in facts if protocol.step(fact) is None} | behind
    for stop in judged.next.step.stops:
        free = stop.grade is Grade.REMIND or (judged.next.step.stop_key(stop) in lifted and not stop.always)
        assert free or all_true(stop.unless, true)


@given(standings())
def test_a_stop_is_never_skipped(standing):
    nothing_is_skipped(*standing)


@given(protocols(), st.frozensets(st.sampled_from(GIVEN)), st.frozensets(st.sampled_from(["s0", "s1", "s2/x"])))
def test_a_stop_is_never_skipped_in_any_labs_own_protocol(protocol, facts, lifted):
    nothing_is_skipped(protocol, facts, lifted)


@given(protocols())
def test_what_a_lab_may_write_is_kept_as_it_is(protocol):
    assert from_record("disk", as_record(protocol)) == protocol


@given(standings(), st.frozensets(st.sampled_from(GIVEN)))
def test_facts_that_are_added_undo_no_step(standing, more):
    protocol, facts, lifted = standing
    before, after = judge(protocol, facts, lifted), judge(protocol, facts | more, lifted)
    done = {s.key for s in before.steps if s.state is State.DONE}
    assert done <= {s.key for s in after.steps if s.state is State.DONE}


@KIND
def test_every_step_is_reached_by_doing_the_next_one(kind):
    protocol, seen = DEFAULTS[kind], set()
    facts = {name for step in protocol.steps for name in (*step.applies.all, *step.applies.any[:1])}
    facts |= {name for step in protocol.steps for stop in step.stops for name in stop.unless.all}
    for _ in protocol.steps:
        judged = judge(protocol, facts)
        seen |= {s.key for s in judged.steps if s.state is State.OPEN}
        if judged.next is None:
            break
        facts.add(judged.next.key)
    assert seen == {step.key for step in protocol.steps if not step.never}


@KIND
def test_what_is_delivered_has_no_mistakes(kind):
    assert mistakes(DEFAULTS[kind]) == []
    assert from_record(kind, as_record(DEFAULTS[kind])) == DEFAULTS[kind]
    assert kind in KINDS


@KIND
def test_nothing_is_copied_under_power_before_what_forbids_it_is_settled(kind):
    facts = {"power-forbidden", "may-open", "authorised", "destination-assigned", "work-started", "board", "slots"}
    copying = judge(DEFAULTS[kind], facts).state(COPY)
    assert copying.state is State.STOPPED
    assert {s.key for s in copying.standing if s.grade is Grade.STOP} & {"inside", "clean"}


TOLD = [
    ({"stories": ["dropped"]}, "dropped"), ({"behaviours": ["clicks"]}, "clicks"),
    ({"behaviours": ["grinds"]}, "grinds"), ({"stories": ["liquid"]}, "wet"), ({"stories": ["fire"]}, "fire"),
    ({"marks": ["burn"]}, "burn"), ({"tried": ["opened"]}, "opened"), ({"marks": ["screws"]}, "screws"),
]  # fmt: skip


@pytest.mark.parametrize(("told", "word"), TOLD)
def test_these_behaviours_and_stories_forbid_power_before_an_inspection(told, word):
    nothing = {"marks": [], "behaviours": [], "stories": [], "tried": []}
    assert word in " ".join(reasons_for_no_power(spinning=True, **(nothing | told)))


@pytest.mark.parametrize("mark", ["liquid", "burn"])
def test_what_does_not_spin_gets_no_power_while_it_is_wet_or_burnt(mark):
    nothing = {"behaviours": ["clicks"], "stories": ["dropped"], "tried": []}
    assert reasons_for_no_power(spinning=False, marks=["dents", mark], **nothing)
    assert not reasons_for_no_power(spinning=False, marks=["dents"], **nothing)


def test_a_box_of_disks_gets_no_power_after_a_fall(make):
    assert make.item(kind="nas", behaviours=["clicks"]).no_power_because == ["it clicks"]
    assert make.item(kind="recorder", behaviours=["clicks"]).no_power_because == []


def test_a_manager_lifts_a_stop_and_the_order_goes_on():
    assert judge(DISK, {"power-forbidden", "may-open"}).next.key == "inside"
    assert judge(DISK, {"power-forbidden"}).next.key == "board"  # without power, while the leave to open is asked for
    held = judge(DISK, {"power-forbidden", "board"})
    assert (held.next, held.held.key) == (None, "inside")
    assert "not allowed" in held.held.standing[0].because
    assert judge(DISK, {"power-forbidden", "board"}, {"inside"}).next.key == "identity"
    assert judge(DISK, {"power-forbidden", "board"}, {"inside/leave-to-open"}).next.key == "inside"


def test_nobody_lifts_what_stands_always():
    facts = {"wrong-item", "may-open", "power-forbidden"}
    (standing,) = judge(DISK, facts, {"inside/right-item"}).state("inside").standing
    assert standing.always
    never = judge(DISK, {"user-area"}, {"user-area"}).state("user-area")
    assert never.state is State.STOPPED
    assert never.standing[0].always


def test_asks_are_answered_together_and_stops_are_not():
    assert [s.key for s in judge(DISK, {"board"}).asks] == ["identity", "service-area", "destination"]
    assert [s.key for s in judge(DISK, {"power-forbidden", "may-open"}).asks] == ["board"]


def test_reminders_stand_beside_the_step_they_go_before():
    facts = {"board", "identity-read", "service-area-kept", "destination-assigned", "authorised", "work-started"}
    judged = judge(DISK, facts | {"heads-suspect"})
    assert judged.next.key == COPY
    assert [s.key for s in judged.reminders] == ["heads", "structures", "passes"]
    assert [s.key for s in judge(DISK, facts | {"structures"}).reminders] == ["passes"]


def test_firmware_is_written_only_after_a_backup_that_was_read_twice():
    facts = {"board", "identity-read", "service-area-kept", "destination-assigned", "authorised", "work-started"}
    facts |= {"firmware-suspect"}
    assert [s.key for s in judge(DISK, facts).state("firmware").standing] == ["firmware/twice-read"]
    assert judge(DISK, facts | {"backup-read-twice"}).state("firmware").state is State.OPEN


A, B = Step("a", "Open it", "w"), Step("b", "Close it", "w")
WRONG = [
    ((), "no step"),
    ((A, A), "the same key"),
    ((replace(A, after=("b",)), replace(B, after=("a",))), "“Open it”, “Close it”"),
    ((replace(A, stops=(Stop("x", Condition(any=("b",)), "b", "l"),)), replace(B, after=("a",))), "wait for each"),
    ((replace(A, after=("z",)),), "there is no such step"),
    ((replace(A, applies=Condition(all=("moonlight",))),), "no known fact"),
    ((replace(A, done=Condition(all=("b",))), B), "no known fact"),
    ((replace(A, stops=(Stop("x", Condition(all=("moonlight",)), "b", "l"),)),), "no known fact"),
    ((replace(A, done=Condition(none=("disputed",))),), "undo it"),
    ((replace(A, grade=Grade.ASK),), "no reason"),
    ((replace(A, what=""),), "what to do"),
    ((replace(A, key="disputed"),), "key of its own"),
    ((replace(A, applies=Condition(all=("locked",), none=("locked",))),), "Nobody can reach “Open it”"),
    ((replace(A, never=True), replace(B, after=("a",))), "Nobody can reach “Close it”"),
    (
        (replace(A, applies=Condition(any=("locked",)),
                 stops=(Stop("x", Condition(none=("locked",)), "b", "l", always=True),)),),
        "Nobody can reach",
    ),
    ((replace(A, stops=(Stop("x", Condition(), "b", "l"),)),), "asks for nothing"),
    ((replace(A, stops=(Stop("x", Condition(all=("locked",)), "b", "l", Grade.ASK),)),), "no reason"),
    ((replace(A, stops=(Stop("x", Condition(all=("locked",)), "b", "l", Grade.REMIND, True),)),), "is no stop"),
]  # fmt: skip


@pytest.mark.parametrize(("steps", "said"), WRONG)
def test_what_cannot_be_worked_by_is_refused_with_a_sentence(steps, said):
    found = mistakes(Protocol("disk", steps))
    assert any(said in sentence for sentence in found), found
    assert all(sentence.endswith(".") for sentence in found)


def test_steps_in_a_circle_are_judged_by_nobody():
    with pytest.raises(ValueError, match="wait for each other"):
        judge(Protocol("disk", (replace(A, after=("b",)), replace(B, after=("a",)))), set())


@pytest.mark.parametrize(
    ("medium", "kind"),
    [("disk25", "disk"), ("external", "disk"), ("helium", "helium"), ("soldered", "ssd"), ("onepiece", "stick"),
     ("embedded", "chip"), ("member", "array"), ("phone", "plain"), ("no such kind", "plain")],
)  # fmt: skip
def test_every_medium_has_its_order(medium, kind):
    assert kind_of(medium) == kind


@pytest.mark.parametrize(
    ("medium", "nature", "kind"),
    [("disk35", {"shingled"}, "shingled"), ("external", {"helium"}, "helium"), ("helium", {"shingled"}, "helium"),
     ("member", {"shingled"}, "array"), ("ssd", {"shingled"}, "ssd")],
)  # fmt: skip
def test_what_is_known_of_a_disk_besides_its_kind_chooses_its_order(medium, nature, kind):
    assert kind_of(medium, nature) == kind


def test_a_finding_raises_its_suspicion():
    assert suspicions(["heads", "service area"]) == {"heads-suspect", "firmware-suspect"}
    assert suspicions(["none"]) == set()
