"""What a bench computer tells and asks, and every wrong way of asking, said as a problem."""

from __future__ import annotations

import html
import subprocess
import sys
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from labcases.api.views import problems
from labcases.api.views.door import document
from labcases.bench.coverage import Coverage
from labcases.bench.models import Step
from labcases.bench.plan import make_plan
from labcases.bench.reading.actions import keep_plan
from labcases.bench.reading.models import Progress
from labcases.core.clock import rfc3339
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role
from tests.api.conftest import Caller


def is_problem(answer, status: int) -> dict:
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == problems.KIND
    said = answer.json()
    assert said["status"] == status
    assert said["type"].startswith("/api/#problem-")
    assert said["title"]
    assert said["detail"].endswith(".")
    return said


# --- steps ------------------------------------------------------------------------------------------------------------


def test_a_step_is_noted_as_told_by_the_computer(call, item):
    answer = call.post(f"items/{item}/steps", {"what": "Service area saved, whole.", "method": "twice"})
    assert answer.status_code == 201
    step = Step.objects.get()
    assert answer.json()["step"] == step.pk
    assert (step.what, step.method, step.by) == ("Service area saved, whole.", "twice", None)
    event = Event.objects.filter(kind="work-noted").last()
    assert EventText.objects.get(sequence=event.sequence, field="by").text == "bench computer Bench 2"


def test_a_step_sent_again_under_its_key_is_one_step(call, item):
    key = {"Idempotency-Key": str(uuid4())}
    first, again = (call.post(f"items/{item}/steps", {"what": "Saved."}, **key) for _ in range(2))
    assert (first.status_code, first.json()) == (again.status_code, again.json())
    assert Step.objects.count() == 1
    said = is_problem(call.post(f"items/{item}/steps", {"what": "Another."}, **key), 409)
    assert "used before" in said["detail"]


def test_what_the_bench_order_stops_is_refused_with_its_why(call, make):
    dropped = make.item(behaviours=["clicks"])
    said = is_problem(call.post(f"items/{dropped}/steps", {"what": "Copied.", "copied": True}), 409)
    assert len(said["detail"]) > 40
    assert not Step.objects.exists()


def test_a_step_that_happened_earlier_says_when(call, item):
    when = timezone.now() - timedelta(hours=3)
    answer = call.post(f"items/{item}/steps", {"what": "Saved.", "happened": rfc3339(when)})
    assert answer.json()["happened"] == rfc3339(when)


# --- readings ---------------------------------------------------------------------------------------------------------


def test_readings_are_kept_and_the_same_again_are_not(call, item):
    began = timezone.now() - timedelta(hours=2)
    readings = [{"at": rfc3339(began + timedelta(minutes=n)), "sectors": n * 1000, "pass": 1} for n in range(5)]
    first, again = (call.post(f"items/{item}/readings", {"readings": readings}).json() for _ in range(2))
    assert (first["kept"], again["kept"]) == (5, 0)
    assert "noted already" in again["notes"][0]
    assert Progress.objects.count() == 5


def test_of_readings_with_one_impossible_none_is_kept(call, item):
    now = timezone.now()
    readings = [{"at": rfc3339(now), "sectors": 5}, {"at": rfc3339(now), "sectors": item.sectors + 1, "pass": 2}]
    said = is_problem(call.post(f"items/{item}/readings", {"readings": readings}), 409)
    assert "Row 2" in said["detail"]
    assert not Progress.objects.exists()


# --- plan -------------------------------------------------------------------------------------------------------------


def test_the_newest_plan_is_given_in_its_order(call, item, make, noon):
    plan = make_plan(Coverage.from_rows(item.sectors), pass_number=1)
    kept = keep_plan(item=item, plan=plan, asked={}, derivation=None, by=make.everyone(), happened=noon)
    said = call.get(f"items/{item}/plan").json()
    assert (said["plan"], said["sectors"]) == (kept.number, kept.sectors)
    assert sum(span["sectors"] for span in said["spans"]) == kept.sectors
    assert [span["order"] for span in said["spans"]] == sorted(span["order"] for span in said["spans"])


def test_without_a_plan_it_is_said(call, item):
    assert "Nobody has made a plan" in is_problem(call.get(f"items/{item}/plan"), 404)["detail"]


# --- every wrong way --------------------------------------------------------------------------------------------------

STEP = {"what": "Saved."}


@pytest.mark.parametrize(
    ("method", "path", "sent", "kind", "status"),
    [
        ("get", "nowhere", None, "", 404),
        ("get", "", None, "", 404),
        ("get", "items/26-00417-X/plan", None, "", 404),
        ("get", "items/%00/plan", None, "", 404),
        ("get", "items/a%0Ab/plan", None, "", 404),
        ("get", "items/ITEM/steps", None, "", 405),
        ("delete", "computer", None, "", 405),
        ("post", "items/ITEM/steps", b"{", "application/json", 400),
        ("post", "items/ITEM/steps", b"\xff", "application/json", 400),
        ("post", "items/ITEM/steps", b"[]", "application/json", 422),
        ("post", "items/ITEM/steps", b"{}", "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": " "}', "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": "x", "more": 1}', "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": "\\ud800"}', "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": "x", "happened": "0001-01-01T00:00:00+23"}', "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": "x", "happened": "2199-01-01T00:00:00Z"}', "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": "x"}', "text/plain", 415),
        ("post", "items/ITEM/steps", b"what=x", "application/x-www-form-urlencoded", 415),
        ("post", "items/ITEM/readings", b'{"readings": []}', "application/json", 422),
        ("post", "items/ITEM/steps", b'{"what": "' + b"x" * 6_000_000 + b'"}', "application/json", 413),
    ],
)  # fmt: skip
def test_each_wrong_way_of_asking_is_a_problem(call, item, method, path, sent, kind, status):
    about = {"data": sent, "content_type": kind} if sent is not None else {}
    address = f"/api/v1/{path.replace('ITEM', str(item))}"
    answer = getattr(call.client, method)(address, headers=call.headers, **about)
    is_problem(answer, status)
    if status == 405:
        assert answer["Allow"]
    assert not Step.objects.exists()


def test_a_fault_of_the_program_is_a_problem_too(call, item, monkeypatch):
    monkeypatch.setattr("labcases.api.queries.newest_plan", lambda item: 1 / 0)
    said = is_problem(call.get(f"items/{item}/plan"), 500)
    assert "division" not in said["detail"]


def test_the_problems_of_a_field_name_it(call, item):
    said = is_problem(call.post(f"items/{item}/steps", {"what": 5}), 422)
    assert "what" in said["errors"][0]["where"]


# --- the document -----------------------------------------------------------------------------------------------------


def test_the_document_is_openapi_3_1_and_names_every_status(client, db):
    said = client.get(reverse("api:openapi")).json()
    assert said["openapi"].startswith("3.1")
    operations = [one for path in said["paths"].values() for one in path.values()]
    assert len(operations) == 10
    for one in operations:
        assert {"401", "403", "404", "422", "429"} <= set(one["responses"])
        assert one["security"]
        assert list(one["responses"]["404"]["content"]) == [problems.KIND]


def test_the_page_shows_every_operation_and_asks_no_other_host(client_as):
    page = client_as(Role.AUDITOR).get(reverse("api:interface")).content.decode()
    for path, methods in document()["paths"].items():
        for method, said in methods.items():
            assert f"{method.upper()} {path}" in page
            assert said["operationId"] in page.replace("<wbr>", "")
            assert html.escape(said.get("requestBody", {}).get("description", ""), quote=False) in page
    assert all(f'id="problem-{name}"' in page for name in problems.PROBLEMS)
    assert "https://" not in page


def test_starting_loads_no_part_of_the_interface():
    """It takes a second; ``manage.py check`` reads every address and must not pay for it."""
    code = (
        "import django, sys; django.setup(); from django.core.management import call_command; call_command('check');"
        "from django.urls import reverse; reverse('api:interface');"
        "sys.exit(any(name in sys.modules for name in ('ninja', 'pydantic', 'pyarrow')))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr


def test_a_stranger_gets_no_further_than_the_document(client, db):
    assert client.get(reverse("api:interface")).status_code == 302
    assert Caller("").get("computer").status_code == 401
