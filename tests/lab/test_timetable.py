"""The worker's timetable: due jobs run once, however many workers look, and one failure stops nobody else."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta

import pytest

from labcases.lab import timetable
from labcases.lab.actions import run_due
from labcases.lab.models import JobRun

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


@pytest.fixture
def jobs(db, monkeypatch) -> list[str]:
    """An empty timetable; the list fills with what ran."""
    monkeypatch.setattr(timetable, "JOBS", {})
    return []


def add(ran: list[str], name: str, **about) -> None:
    timetable.add(name, every=HOUR, run=lambda: ran.append(name), **about)


def test_a_job_runs_when_it_is_due_and_then_not_before_the_next_time(jobs):
    add(jobs, "sweep")
    assert run_due() == 1
    assert run_due() == 0
    assert jobs == ["sweep"]
    row = JobRun.objects.get(name="sweep")
    assert row.due == row.last_ended + HOUR
    assert row.held_until is None
    assert run_due(row.due) == 1
    assert jobs == ["sweep", "sweep"]


def test_a_job_that_a_living_worker_holds_is_left_to_it(jobs):
    add(jobs, "sweep")
    JobRun.objects.create(name="sweep", due=NOW - HOUR, held_until=NOW + MINUTE)
    assert run_due(NOW) == 0
    assert jobs == []


def test_a_job_whose_worker_fell_silent_is_taken_up(jobs):
    add(jobs, "sweep")
    JobRun.objects.create(name="sweep", due=NOW - HOUR, held_until=NOW - MINUTE)
    assert run_due(NOW) == 1
    assert jobs == ["sweep"]


def test_while_a_job_runs_it_is_held_for_its_lease(jobs):
    held = []
    timetable.add(
        "sweep", every=HOUR, run=lambda: held.append(JobRun.objects.get(name="sweep").held_until), lease=7 * MINUTE
    )
    JobRun.objects.create(name="sweep", due=NOW)
    run_due(NOW)
    assert held == [NOW + 7 * MINUTE]


def test_a_second_worker_finds_nothing_while_the_first_is_at_it(jobs):
    def sweep() -> None:
        jobs.append("first")
        assert run_due(NOW) == 0

    timetable.add("sweep", every=HOUR, run=sweep)
    JobRun.objects.create(name="sweep", due=NOW)
    assert run_due(NOW) == 1
    assert jobs == ["first"]


def test_a_worker_that_outran_its_lease_does_not_let_go_of_what_another_holds(jobs):
    later = NOW + 2 * HOUR

    def slow() -> None:
        JobRun.objects.filter(name="sweep").update(held_until=later)  # the lease ran out, and another took it up

    timetable.add("sweep", every=HOUR, run=slow)
    JobRun.objects.create(name="sweep", due=NOW)
    run_due(NOW)
    assert JobRun.objects.get(name="sweep").held_until == later


def test_a_job_that_fails_says_so_and_does_not_stop_the_others(jobs, caplog):
    def fails() -> None:
        raise ConnectionError("no route")

    timetable.add("mail", every=HOUR, run=fails)
    add(jobs, "sweep")
    with caplog.at_level(logging.ERROR):
        assert run_due() == 2
    assert jobs == ["sweep"]
    row = JobRun.objects.get(name="mail")
    assert row.last_error == "ConnectionError: no route"
    assert row.held_until is None
    assert "mail" in caplog.text


def test_a_failed_job_is_tried_again_at_its_next_time_and_its_error_is_forgotten_then(jobs):
    attempts = iter([ConnectionError("no route"), None])

    def mends() -> None:
        if problem := next(attempts):
            raise problem

    timetable.add("mail", every=HOUR, run=mends)
    run_due()
    run_due(JobRun.objects.get().due)
    assert JobRun.objects.get().last_error == ""


def test_a_job_added_again_under_its_name_is_the_later_one(jobs):
    add(jobs, "sweep")
    timetable.add("sweep", every=HOUR, run=lambda: jobs.append("newer"))
    run_due()
    assert jobs == ["newer"]


def test_the_rooms_have_put_their_jobs_on_the_timetable():
    assert timetable.JOBS
    assert all(job.every > timedelta(0) and job.lease > timedelta(0) for job in timetable.JOBS.values())
