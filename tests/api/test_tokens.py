"""Tokens of bench computers: shown once, kept as a hash, for what they were made for, until they are revoked."""

from __future__ import annotations

import html
import re
from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from labcases.api.actions import KNOCKS, NotAdmitted, admit, digest_of, knocked, revoke, seen, tidy
from labcases.api.models import BenchComputer, Knock
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Right, Role
from tests.api.conftest import Caller, token_for


def test_a_token_opens_the_door_and_its_use_is_noted(call):
    answer = call.get("computer")
    assert answer.json() == {"name": "Bench 2", "scopes": ["coverage", "files", "plan", "readings", "steps"]}
    assert BenchComputer.objects.get().last_used is not None


def test_only_the_hash_of_a_token_is_kept(make, noon):
    token = token_for(make, noon)
    kept = BenchComputer.objects.get()
    assert kept.digest == digest_of(token)
    assert len(token) >= 43
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM api_benchcomputer")
        assert token not in str(cursor.fetchall())


@pytest.mark.parametrize("token", ["", "labcases_wrong", "\u00e9", "x" * 5000])
def test_without_a_right_token_nobody_comes_in(make, noon, token):
    token_for(make, noon)
    answer = Caller(token).get("computer")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Bearer"
    assert answer["Content-Type"] == "application/problem+json"


def test_somebody_who_is_logged_in_is_no_bench_computer(client_as):
    assert client_as(Role.MANAGER).get("/api/v1/computer").status_code == 401


def test_a_revoked_token_opens_nothing_from_the_next_moment_on(call, make, noon):
    computer, by = BenchComputer.objects.get(), make.everyone()
    revoke(computer=computer, because="sold", by=by, happened=noon)
    assert call.get("computer").status_code == 401
    with pytest.raises(NotAdmitted):
        revoke(computer=computer, because="sold", by=by, happened=noon)


def test_a_token_does_only_what_it_was_made_for(make, noon, item):
    caller = Caller(token_for(make, noon, "plan"))
    answer = caller.post(f"items/{item}/steps", {"what": "Looked at it."})
    assert answer.status_code == 403
    assert "not made for steps" in answer.json()["detail"]
    assert caller.get(f"items/{item}/plan").status_code == 404


def test_a_computer_may_work_at_the_bench_and_nothing_else(call):
    actor = BenchComputer.objects.get().actor
    assert [right for right in Right if actor.may(right)] == [Right.LOOK, Right.EXAMINE]
    with pytest.raises(NotAllowed, match="bench computer may not"):
        actor.must(Right.HAND_OVER)


def test_admitting_and_revoking_stand_in_the_ledger(make, noon):
    by = make.everyone()
    made, _ = admit(name="Bench 3", scopes=["plan"], by=by, happened=noon)
    revoke(computer=made, because="sold", by=by, happened=noon)
    kinds = list(Event.objects.values_list("kind", flat=True))
    assert kinds == ["computer-admitted", "computer-revoked"]
    assert set(EventText.objects.filter(field="because").values_list("text", flat=True)) == {
        "Bench 3: plan",
        "Bench 3; sold",
    }


def test_use_is_noted_once_a_minute(call, django_assert_num_queries):
    call.get("computer")
    computer = BenchComputer.objects.get()
    with django_assert_num_queries(0):
        seen(computer)


def test_too_many_wrong_tokens_are_told_to_wait_and_a_right_one_still_comes_in(call):
    wrong = Caller("labcases_guess")
    answers = [wrong.get("computer").status_code for _ in range(KNOCKS + 2)]
    assert answers == [401] * KNOCKS + [429, 429]
    assert int(wrong.get("computer")["Retry-After"]) > 0
    assert call.get("computer").status_code == 200


def test_knocks_are_counted_by_address_and_forgotten(db):
    assert [knocked("192.0.2.1") for _ in range(KNOCKS + 1)] == [False] * KNOCKS + [True]
    assert not knocked("192.0.2.2")
    Knock.objects.update(since=timezone.now() - timedelta(days=2))
    tidy()
    assert not Knock.objects.exists()


def test_a_manager_makes_a_token_and_sees_it_once(client_as):
    manager = client_as(Role.MANAGER)
    form = manager.get(reverse("api:admit")).content.decode()
    once = re.search(r'name="once" value="([^"]+)"', form)[1]
    answer = manager.post(reverse("api:admit"), {"once": once, "name": "Bench 4", "scopes": ["plan", "steps"]})
    assert (answer.status_code, answer.url) == (303, reverse("api:computers"))
    page = html.unescape(manager.get(answer.url).content.decode())
    token = re.search(r"labcases_[\w-]{43}", page)[0]
    assert Caller(token).get("computer").json()["scopes"] == ["plan", "steps"]
    assert token not in manager.get(answer.url).content.decode()


def test_a_second_computer_of_one_name_is_refused_beside_the_field(client_as, make, noon):
    token_for(make, noon, name="Bench 4")
    answer = client_as(Role.MANAGER).post(reverse("api:admit"), {"name": "Bench 4", "scopes": ["plan"]})
    assert answer.status_code == 422
    assert "admitted already" in answer.content.decode()


def test_a_manager_revokes_a_token_with_a_reason(client_as, call):
    manager, computer = client_as(Role.MANAGER), BenchComputer.objects.get()
    address = reverse("api:revoke", args=[computer.pk])
    assert manager.post(address, {"because": ""}).status_code == 422
    assert manager.post(address, {"because": "stolen"}).status_code == 303
    assert "revoked" in manager.get(reverse("api:computers")).content.decode()
    assert call.get("computer").status_code == 401
