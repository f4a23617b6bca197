"""A wipe from its beginning to its certificate, and the health of a medium."""

from __future__ import annotations

import contextlib
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from labcases.cases.models import Case
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.stock import actions, triggers
from labcases.stock.actions import NotNow
from labcases.stock.fitting import State as Word
from labcases.stock.life import CLEAN, FOLLOWS, WRITTEN
from labcases.stock.models import Destination, Wipe
from labcases.stock.wiping import terms
from labcases.stock.wiping.actions import begin_wipe, break_off_wipe, check_health, end_wipe, verify_wipe, wipe
from labcases.stock.wiping.queries import Run

State = Destination.State
DAY = timedelta(days=1)


def fresh(row):
    return type(row).objects.get(pk=row.pk)


def serve(medium, item, by, noon):
    return actions.assign_destination(destination=medium, patient=item, by=by, happened=noon)


@pytest.fixture
def by(make):
    return make.actor(Role.ENGINEER)


@pytest.fixture
def held(make, by, noon):
    """A medium of the lab's with data of a case on it, and that case's patient."""
    item, medium = make.item(), make.destination()
    actions.release_destination(assignment=serve(medium, item, by, noon), written=True, by=by, happened=noon)
    return medium, item


@pytest.fixture
def begin(by, noon):
    def run(medium, **about):
        about = {"method": "clear", "technique": "overwrite", "tool": "zeros 2.1", "happened": noon} | about
        return begin_wipe(destination=medium, by=by, **about)

    return run


@pytest.fixture
def verified(by, noon):
    def run(row, **about):
        about = {"verified": "full", "passed": True, "happened": noon + 2 * DAY} | about
        return verify_wipe(wipe=row, by=by, **about)

    return run


# --- the way of a wipe ---


def test_a_wipe_runs_ends_and_frees_the_medium_when_it_is_verified(held, begin, verified, by, noon):
    medium, item = held
    made = begin(medium, port="wipe bench, port 3", expected_end=noon + DAY)
    assert (fresh(medium).state, fresh(medium).held_for, made.case) == (State.WIPING, item.case, item.case)
    end_wipe(wipe=made, by=by, happened=noon + DAY)
    assert (fresh(medium).state, fresh(medium).holds) == (
        State.NOT_VERIFIED, f"Held data of case {item.case}; its wipe is not verified.",
    )  # fmt: skip
    verified(made, verified="sampled", share=10, verified_with="reader 1.0")
    assert (fresh(medium).state, fresh(medium).held_for, fresh(medium).written) == (State.WIPED, None, False)
    kinds = list(Event.objects.filter(thing_code=medium.thing.code).values_list("kind", flat=True))[-3:]
    assert kinds == ["wipe-begun", "wipe-ended", "wiped"]


@pytest.mark.parametrize("ended", [False, True])
def test_until_it_is_verified_no_other_case_gets_the_medium(held, begin, make, by, noon, ended):
    medium, _ = held
    made, other = begin(medium), make.item()
    if ended:
        end_wipe(wipe=made, by=by, happened=noon + DAY)
    with pytest.raises(actions.DoesNotFit, match="not verified" if ended else "being wiped"):
        serve(fresh(medium), other, by, noon + DAY)


def test_its_own_case_may_have_it_back_before_it_is_verified(held, begin, by, noon):
    medium, item = held
    made = begin(medium)
    end_wipe(wipe=made, by=by, happened=noon + DAY)
    serve(fresh(medium), item, by, noon + DAY)
    assert (fresh(medium).state, fresh(medium).written, fresh(made).state) == (State.ASSIGNED, True, "stopped")


@pytest.mark.parametrize("stopped", [True, False])
def test_a_wipe_that_comes_to_nothing_leaves_the_medium_holding_what_it_held(held, begin, by, noon, stopped):
    medium, item = held
    made = break_off_wipe(wipe=begin(medium), stopped=stopped, because="power cut", by=by, happened=noon + DAY)
    assert made.state == ("stopped" if stopped else "failed")
    assert (fresh(medium).state, fresh(medium).held_for) == (State.HOLDS_DATA, item.case)


def test_a_clean_medium_whose_wipe_failed_is_not_free_either(make, begin, by, noon):
    medium = make.destination()
    break_off_wipe(wipe=begin(medium), stopped=False, because="no answer", by=by, happened=noon)
    assert (fresh(medium).state, fresh(medium).holds) == (State.NOT_VERIFIED, "Its last wipe is not verified.")
    with pytest.raises(actions.DoesNotFit):
        serve(fresh(medium), make.item(), by, noon)


def test_a_verification_that_is_not_passed_frees_nothing(held, begin, verified, by, noon):
    medium, item = held
    made = begin(medium)
    end_wipe(wipe=made, by=by, happened=noon + DAY)
    verified(made, passed=False, because="old sectors at 40 %")
    assert (fresh(medium).state, fresh(medium).held_for) == (State.HOLDS_DATA, item.case)
    assert fresh(made).state == "not passed"


@pytest.mark.parametrize("before", ["running", "failed", "verified", "not passed"])
def test_only_a_wipe_that_ended_can_be_verified(held, begin, verified, by, noon, before):
    made = begin(held[0])
    if before == "failed":
        break_off_wipe(wipe=made, stopped=False, because="died", by=by, happened=noon)
    elif before != "running":
        end_wipe(wipe=made, by=by, happened=noon + DAY)
        verified(made, passed=before == "verified", because="old data")
    with pytest.raises(NotNow, match=f"is {fresh(made).get_state_display()}"):
        verified(made)


def test_a_wipe_ends_once(held, begin, by, noon):
    made = begin(held[0])
    end_wipe(wipe=made, by=by, happened=noon + DAY)
    with pytest.raises(NotNow, match="ended, to be verified"):
        end_wipe(wipe=made, by=by, happened=noon + DAY)


def test_a_second_wipe_of_a_medium_that_is_being_wiped_is_refused_with_since_when(held, begin):
    begin(held[0])
    with pytest.raises(NotNow, match="runs since 02 Mar 2026, 12:00 UTC"):
        begin(held[0])


@pytest.mark.parametrize("verb", ["end", "break off", "verify"])
def test_a_clock_that_was_set_back_is_said_and_nothing_is_half_done(held, begin, verified, by, noon, verb):
    medium, _ = held
    made, before = begin(medium), noon - DAY
    if verb == "verify":
        end_wipe(wipe=made, by=by, happened=noon + DAY)
    was, events = fresh(medium).state, Event.objects.count()
    press = {
        "end": lambda: end_wipe(wipe=made, by=by, happened=before),
        "break off": lambda: break_off_wipe(wipe=made, stopped=True, because="x", by=by, happened=before),
        "verify": lambda: verified(made, happened=before),
    }
    with pytest.raises(NotNow, match="this lies before"):
        press[verb]()
    assert (fresh(medium).state, Event.objects.count()) == (was, events)


def test_what_the_law_holds_is_not_wiped(held, begin):
    Case.objects.filter(pk=held[1].case_id).update(legal_hold=True)
    with pytest.raises(NotNow, match="The law holds case"):
        begin(held[0])


def test_what_was_destroyed_is_retired_and_holds_nothing(held, begin, verified, by, noon):
    medium, _ = held
    made = begin(medium, method="destroy", technique="shred", tool="shredder")
    end_wipe(wipe=made, by=by, happened=noon)
    with pytest.raises(NotNow, match="Nothing can be read back"):
        verified(made)
    verified(made, verified="seen")
    assert (fresh(medium).state, fresh(medium).holds) == (State.RETIRED, "")


def test_the_medium_of_a_patient_that_has_left_is_kept(make, by, noon):
    item, medium = make.item(), make.destination()
    assignment = serve(medium, item, by, noon)
    type(item).objects.filter(pk=item.pk).update(stage="handed over")
    actions.release_destination(assignment=assignment, written=True, by=by, happened=noon)
    assert (fresh(medium).state, fresh(medium).holds[:9]) == (State.KEPT, "Kept with")
    assert medium in Destination.objects.waiting_for_a_wipe()


# --- the database, whoever writes ---


@pytest.mark.parametrize(
    "change",
    [
        {"state": "wiped and verified", "held_for": None, "written": False},
        {"state": "retired", "held_for": None, "written": False},
        {"state": "wiped, not verified"},
        {"written": False, "state": "assigned"},
        {"state": "new and sealed", "held_for": None, "written": False},
    ],
)
def test_the_database_frees_nothing_that_holds_data(held, change):
    with pytest.raises(IntegrityError), transaction.atomic():
        Destination.objects.filter(pk=held[0].pk).update(**change)


@pytest.mark.parametrize("state", ["assigned", "holds customer data"])
def test_the_database_gives_no_medium_with_data_to_another_case(held, make, state):
    with pytest.raises(IntegrityError, match="nobody else gets it"), transaction.atomic():
        Destination.objects.filter(pk=held[0].pk).update(state=state, held_for=make.item().case)


def row_in(state, case, *, was=None):
    """The columns of a sound row in this state; ``was``: one that comes from there, with what it held."""
    clean, holding = state in CLEAN, state in (*WRITTEN, *((Word.WIPING, Word.NOT_VERIFIED, Word.RETIRED, Word.GONE)))
    written = state in WRITTEN or (was["written"] if was else holding)
    return {"state": state, "held_for": None if clean else case, "written": written and not clean}


@pytest.mark.parametrize("was", FOLLOWS)
def test_the_database_knows_every_way_of_a_medium_and_no_other(make, was):
    assert set(FOLLOWS) == {Word(value) for value in State.values}
    case, possible = make.item().case, set()
    for now in set(FOLLOWS) - {was}:
        row, start = make.destination(), row_in(was, case)
        triggers.drop(connection)
        Destination.objects.filter(pk=row.pk).update(**start)
        triggers.install(connection)
        with contextlib.suppress(IntegrityError), transaction.atomic():
            Destination.objects.filter(pk=row.pk).update(**row_in(now, case, was=start))
            possible.add(now)
    assert possible == FOLLOWS[was]


@pytest.mark.parametrize(
    "change",
    [
        {"state": "verified"},
        {"state": "ended"},
        {"ended": "before", "state": "ended"},
        {"verified": "full"},
        {"share": 10},
    ],
)
def test_the_database_keeps_no_wipe_that_contradicts_itself(held, begin, noon, change):
    made = begin(held[0])
    change = {name: noon - DAY if value == "before" else value for name, value in change.items()}
    with pytest.raises(IntegrityError), transaction.atomic():
        Wipe.objects.filter(pk=made.pk).update(**change)


# --- health ---


def test_what_fails_its_health_check_is_retired_with_an_event(make, by, noon):
    medium = make.destination()
    check_health(destination=medium, passed=False, because="512 pending", pending=512, by=by, happened=noon)
    assert (fresh(medium).state, fresh(medium).healthy) == (State.RETIRED, False)
    kinds = list(Event.objects.filter(thing_code=medium.thing.code).values_list("kind", flat=True))[-2:]
    assert kinds == ["health-checked", "retired"]


def test_what_fails_while_it_serves_is_retired_when_its_service_ends(make, by, noon):
    item, medium = make.item(), make.destination()
    assignment = serve(medium, item, by, noon)
    check_health(destination=medium, passed=False, because="slow", by=by, happened=noon)
    assert fresh(medium).state == State.ASSIGNED
    actions.release_destination(assignment=assignment, written=True, by=by, happened=noon)
    assert (fresh(medium).state, fresh(medium).held_for) == (State.RETIRED, item.case)


def test_a_healthy_medium_says_so_where_it_is_chosen(make, by, noon):
    medium = make.destination()
    check_health(destination=medium, passed=True, reallocated=0, hours=12, self_test="passed", by=by, happened=noon)
    assert fresh(medium).room().healthy is True


def test_an_older_check_that_is_entered_late_changes_nothing(make, by, noon):
    medium = make.destination()
    check_health(destination=medium, passed=True, by=by, happened=noon)
    check_health(destination=medium, passed=False, because="slow", by=by, happened=noon - DAY)
    assert (fresh(medium).state, fresh(medium).healthy) == (State.SEALED, True)


def test_a_failed_check_says_why(make, by, noon):
    with pytest.raises(NotNow, match="Say why"):
        check_health(destination=make.destination(), passed=False, by=by, happened=noon)


# --- a customer's own ---


def test_a_customers_own_medium_is_never_offered_for_wiping(make, begin, by, noon):
    own = make.destination(use="delivery", own_of=make.item().case)
    with pytest.raises(NotNow, match="belongs to a customer"):
        begin(own)
    with pytest.raises(IntegrityError), transaction.atomic():
        Destination.objects.filter(pk=own.pk).update(state=State.WIPING)


def test_consent_counts_in_writing_only(make, by, noon):
    own = make.destination(use="delivery", own_of=make.item().case)
    about = {"destination": own, "content": "holiday photographs", "by": by, "happened": noon}
    with pytest.raises(NotNow, match="in writing"):
        actions.note_consent(consent="may be overwritten", consent_by="Orrin Vale", consent_paper="", **about)
    actions.note_consent(
        consent="may be overwritten", consent_by="Orrin Vale", consent_paper="folder 3, sheet 12", **about
    )
    assert fresh(own).room().consent
    assert fresh(own).content == "holiday photographs"


# --- words and time ---


@pytest.mark.parametrize(("method", "listed"), terms.TECHNIQUES.items())
def test_each_technique_belongs_to_its_method_only(method, listed):
    for technique in listed:
        assert [one for one in terms.TECHNIQUES if terms.belongs(one, technique)] == [method]


def test_a_technique_of_another_method_is_refused(held, begin):
    with pytest.raises(NotNow, match="no way to clear"):
        begin(held[0], technique="degauss")


def test_how_far_a_wipe_is_goes_by_the_clock(held, begin, noon):
    made = begin(held[0], expected_end=noon + timedelta(hours=30))
    run = Run.of(made, noon + timedelta(hours=10))
    assert (run.since, run.minutes, run.total, run.left, run.late) == ("10 h", 600, 1800, "20 h", "")
    late = Run.of(made, noon + timedelta(hours=35))
    assert (late.minutes, late.left, late.late) == (1800, "", "5 h")


def test_an_expected_end_before_the_beginning_is_refused(held, begin, noon):
    with pytest.raises(NotNow, match="expected end lies before"):
        begin(held[0], expected_end=noon - DAY)


def test_all_in_one_goes_on_record_as_one_event(held, by):
    before, now = Event.objects.count(), timezone.now()
    wipe(destination=held[0], method="clear", tool="zeros 2.1", verified="full", by=by, happened=now)
    assert Event.objects.count() == before + 1
    assert fresh(held[0]).state == State.WIPED
