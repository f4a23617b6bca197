"""The verbs of a wipe (begin, end, break off, verify; or all in one when it is over) and of a health check.

A wipe runs for hours or days on a machine of the lab; the medium is busy for as long. Only a verification that was
passed frees it. Claims are conditional updates: of two who press at once one wins, and the other is told.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from labcases.cases.models import Case
from labcases.custody.actions import record, recorded
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right
from labcases.stock.actions.refusals import NotNow
from labcases.stock.actions.standing import taken_by
from labcases.stock.models import Destination, HealthCheck, Wipe
from labcases.stock.wiping import terms

State = Destination.State
WIPEABLE = (State.SEALED, State.WIPED, State.HOLDS_DATA, State.KEPT, State.NOT_VERIFIED, State.RETIRED)
LOOK_AGAIN = "Reload the page and look again."


@recorded
def begin_wipe(
    *,
    destination: Destination,
    method: str,
    tool: str,
    by: Actor,
    happened: datetime,
    technique: str = "",
    port: str = "",
    expected_end: datetime | None = None,
) -> Wipe:
    """A wipe runs from now on, and the medium serves nobody meanwhile.

    ``method`` and ``technique`` are words of NIST SP 800-88 (``wiping.terms``). Raises NotNow for a customer's own
    medium, one that was handed out, still serves a patient, is being wiped already, or is held by law.
    """
    made = _begin(destination, method, tool, by, happened, technique, port, expected_end)
    where = f" on {port}" if port else ""
    because = f"{made.how}{where}"
    record("wipe-begun", thing=made.destination.thing, by=by, happened=happened, because=because, case=_code(made))
    return made


def _begin(
    destination: Destination,
    method: str,
    tool: str,
    by: Actor,
    happened: datetime,
    technique: str = "",
    port: str = "",
    expected_end: datetime | None = None,
) -> Wipe:
    by.must(Right.KEEP_STOCK)
    if not terms.belongs(method, technique):
        raise NotNow(f"“{technique}” is no way to {method}.", why=f"{terms.STANDARD} keeps them apart.")
    if expected_end and expected_end <= happened:
        raise NotNow("The expected end lies before the beginning.", mend="Say when it should be over, or leave it.")
    destination = Destination.objects.with_context().get(pk=destination.pk)
    _must_be_ours_and_idle(destination)
    was, case = destination.state, destination.held_for
    if not Destination.objects.filter(pk=destination.pk, state__in=WIPEABLE).update(state=State.WIPING):
        raise NotNow(f"{destination} is {_now(destination)}: no wipe of it can begin.", mend=LOOK_AGAIN)
    Wipe.objects.filter(destination=destination, state=Wipe.State.ENDED).update(state=Wipe.State.STOPPED)
    return Wipe.objects.create(
        destination=destination,
        case=case,
        was=was,
        method=method,
        technique=technique,
        tool=tool,
        port=port,
        expected_end=expected_end,
        **Entry.stamp(by, happened),
    )


def _must_be_ours_and_idle(destination: Destination) -> None:
    if destination.owned_by_id:
        raise NotNow(f"{destination} belongs to a customer: it is never wiped here.", mend="Give it back as it is.")
    if destination.state == State.GONE:
        raise NotNow(f"{destination} was handed out: it is not here.")
    if said := taken_by(destination):
        raise NotNow(said, mend="Release it first.")
    if going := destination.wipes.filter(state=Wipe.State.RUNNING).first():
        raise NotNow(f"A wipe of {destination} runs since {going.happened:%d %b %Y, %H:%M} UTC.", mend=LOOK_AGAIN)
    if destination.held_for and Case.objects.filter(pk=destination.held_for.pk, legal_hold=True).exists():
        said = f"The law holds case {destination.held_for}: nothing of it is erased."
        raise NotNow(said, mend="End the hold first, on record.")


@recorded
def end_wipe(*, wipe: Wipe, by: Actor, happened: datetime) -> Wipe:
    """A wipe that ran is over. The medium waits for its verification. Raises NotNow when it does not run any more."""
    _end(wipe, by, happened)
    because = f"after {lasted(wipe.happened, happened)}; not verified yet"
    record("wipe-ended", thing=wipe.destination.thing, by=by, happened=happened, because=because, case=_code(wipe))
    return wipe


def _end(wipe: Wipe, by: Actor, happened: datetime) -> None:
    by.must(Right.KEEP_STOCK)
    _must_be_later(happened, wipe.happened, "It began")
    _claim(wipe, Wipe.State.RUNNING, state=Wipe.State.ENDED, ended=happened)
    Destination.objects.filter(pk=wipe.destination_id).update(state=State.NOT_VERIFIED)


@recorded
def break_off_wipe(*, wipe: Wipe, stopped: bool, because: str, by: Actor, happened: datetime) -> Wipe:
    """A wipe that ran came to nothing: it failed by itself, or was ``stopped``. What the medium held, it still holds.

    Raises NotNow when it does not run any more.
    """
    by.must(Right.KEEP_STOCK)
    _must_be_later(happened, wipe.happened, "It began")
    state = Wipe.State.STOPPED if stopped else Wipe.State.FAILED
    _claim(wipe, Wipe.State.RUNNING, state=state, ended=happened, ended_because=because)
    _put_back(wipe)
    words = f"{wipe.get_state_display()} after {lasted(wipe.happened, happened)}. {because}"
    record("wipe-failed", thing=wipe.destination.thing, by=by, happened=happened, because=words, case=_code(wipe))
    return wipe


@recorded
def verify_wipe(
    *,
    wipe: Wipe,
    verified: str,
    passed: bool,
    by: Actor,
    happened: datetime,
    share: int | None = None,
    verified_with: str = "",
    because: str = "",
) -> Wipe:
    """How an ended wipe was read back, and what came out. Passed, it frees the medium, unless that was destroyed,
    had been retired, or failed its health check.

    ``share`` is per cent of the sectors, for samples. Raises NotNow for a wipe that runs, failed, or was answered.
    """
    _verify(wipe, verified, passed, by, happened, share, verified_with, because)
    kind = "wiped" if passed else "wipe-failed"
    words = f"{wipe.how}, {wipe.how_verified}" if passed else f"{wipe.how_verified}: not passed. {because}"
    record(kind, thing=wipe.destination.thing, by=by, happened=happened, because=words.strip(), case=_code(wipe))
    return wipe


def _verify(
    wipe: Wipe,
    verified: str,
    passed: bool,
    by: Actor,
    happened: datetime,
    share: int | None = None,
    verified_with: str = "",
    because: str = "",
) -> None:
    by.must(Right.KEEP_STOCK)
    _must_be_read_back(wipe, verified)
    if wipe.ended:
        _must_be_later(happened, wipe.ended, "It ended")
    state = Wipe.State.VERIFIED if passed else Wipe.State.NOT_PASSED
    about = {"verified": verified, "share": share, "verified_with": verified_with, "ended_because": because}
    who = {"verified_at": happened, "verified_by": by.staff, "verified_role": by.role}
    _claim(wipe, Wipe.State.ENDED, state=state, **about, **who)
    if not passed:
        _put_back(wipe)
        return
    medium = Destination.objects.get(pk=wipe.destination_id)
    gone = wipe.method == Wipe.Method.DESTROY or wipe.was == State.RETIRED or medium.healthy is False
    freed = {"state": State.RETIRED if gone else State.WIPED, "held_for": None, "written": False}
    Destination.objects.filter(pk=medium.pk).update(**freed)


def _must_be_read_back(wipe: Wipe, verified: str) -> None:
    destroyed, seen = wipe.method == Wipe.Method.DESTROY, verified == Wipe.Verified.SEEN
    if destroyed != seen:
        said = "Nothing can be read back from what is destroyed." if destroyed else "A wipe is verified by reading."
        raise NotNow(said, mend="Say how it was verified.")


def _put_back(wipe: Wipe) -> None:
    """What it held it holds; what held nothing is of unknown content now, and waits for a wipe that is verified."""
    was = State(wipe.was) if wipe.was else State.HOLDS_DATA
    kept = was in (State.HOLDS_DATA, State.KEPT, State.RETIRED)
    Destination.objects.filter(pk=wipe.destination_id).update(state=was if kept else State.NOT_VERIFIED)


def _claim(wipe: Wipe, was: str, **now: Any) -> None:
    """One update decides, whatever the caller's copy of the row says."""
    if not Wipe.objects.filter(pk=wipe.pk, state=was).update(**now):
        wipe.refresh_from_db()
        raise NotNow(f"The wipe of {wipe.destination} is {wipe.get_state_display()}.", mend=LOOK_AGAIN)
    wipe.refresh_from_db()


def _must_be_later(happened: datetime, before: datetime, what: str) -> None:
    if happened < before:
        why = "A clock may have been set back, or a date mistyped."
        raise NotNow(f"{what} {before:%d %b %Y, %H:%M} UTC: this lies before.", why=why, mend="Say when it happened.")


@recorded
def wipe(
    *,
    destination: Destination,
    method: str,
    tool: str,
    verified: str,
    by: Actor,
    happened: datetime,
    technique: str = "",
    share: int | None = None,
    began: datetime | None = None,
) -> Wipe:
    """Put a wipe on record that is over and was verified at ``happened``; one event.

    The medium is clean again, unless it was destroyed or had been retired. Raises NotNow as ``begin_wipe`` does.
    """
    made = _begin(destination, method, tool, by, began or happened, technique)
    _end(made, by, happened)
    _verify(made, verified, True, by, happened, share)
    because = f"{made.how}, {made.how_verified}"
    record("wiped", thing=made.destination.thing, by=by, happened=happened, because=because, case=_code(made))
    return made


@recorded
def check_health(
    *, destination: Destination, passed: bool, by: Actor, happened: datetime, because: str = "", **figures: Any
) -> HealthCheck:
    """What a medium said of its health, and whether the lab trusts it. What fails is retired: at once, or when its
    service ends.

    ``figures`` are ``self_test reallocated pending hours tool``. Raises NotNow when it was handed out.
    """
    by.must(Right.KEEP_STOCK)
    destination = Destination.objects.with_context().get(pk=destination.pk)
    if destination.state == State.GONE:
        raise NotNow(f"{destination} was handed out: it is not here.")
    if not passed and not because:
        raise NotNow("Say why it failed.")
    made = HealthCheck.objects.create(
        destination=destination, passed=passed, because=because, **figures, **Entry.stamp(by, happened)
    )
    words = ", ".join(f"{name} {value}" for name, value in made.figures)
    said = ". ".join(part for part in ("passed" if passed else "failed", words, because) if part)
    case = destination.held_for.code if destination.held_for else None
    record("health-checked", thing=destination.thing, by=by, happened=happened, because=said, case=case)
    _follow(destination, made, by=by, happened=happened, case=case)
    return made


def _follow(destination: Destination, check: HealthCheck, *, by: Actor, happened: datetime, case: str | None) -> None:
    """The newest check counts. What failed and is free, or only holds data, is retired now."""
    newest = destination.health_checks.order_by("-happened", "-pk").first()
    if newest != check:
        return
    rows = Destination.objects.filter(pk=destination.pk)
    idle = (State.SEALED, State.WIPED, State.HOLDS_DATA, State.KEPT, State.NOT_VERIFIED)
    if (
        not check.passed
        and not destination.owned_by_id
        and rows.filter(state__in=idle).update(state=State.RETIRED, healthy=False)
    ):
        because = f"failed its health check. {check.because}"
        record("retired", thing=destination.thing, by=by, happened=happened, because=because, case=case)
    else:
        rows.update(healthy=check.passed)


def lasted(begin: datetime, end: datetime) -> str:
    """How long something ran, in words.

    >>> noon = datetime(2026, 3, 2, 12)
    >>> lasted(noon, datetime(2026, 3, 3, 15, 20)), lasted(noon, noon)
    ('1 day 3 h', 'less than a minute')
    """
    minutes = int((end - begin).total_seconds() // 60)
    days, rest = divmod(max(minutes, 0), 24 * 60)
    if days:
        return f"{days} {'day' if days == 1 else 'days'}{f' {rest // 60} h' if rest >= 60 else ''}"
    hours, left = divmod(rest, 60)
    if hours:
        return f"{hours} h{f' {left} min' if left else ''}"
    return f"{left} min" if left else "less than a minute"


def _now(destination: Destination) -> str:
    return str(Destination.objects.get(pk=destination.pk).get_state_display())


def _code(wipe: Wipe) -> str | None:
    return wipe.case.code if wipe.case else None
