"""The pages of the bench: one address a verb, what is wrong is said, nothing typed is lost."""

from __future__ import annotations

import pytest
from django.urls import reverse

from labcases.bench.models import Examination, Step
from labcases.cases.models import Item
from labcases.lab.roles import Role

FINDINGS = {"faults": ["heads"], "found": "Two heads weak: 1 and 3.", "prospects": "fair"}


def send(client, verb: str, item, **typed):
    return client.post(reverse(f"bench:{verb}", args=[str(item)]), typed)


def test_findings_are_recorded_and_lead_back_to_the_item(make, client_as):
    item = make.item()
    answer = send(client_as(Role.ENGINEER), "examine", item, **FINDINGS, hours_people="1.5")
    assert answer.status_code == 303
    assert answer.url == item.get_absolute_url()
    assert Examination.objects.get().found == "Two heads weak: 1 and 3."
    page = client_as(Role.AUDITOR).get(item.case.get_absolute_url()).content.decode()
    assert "Two heads weak: 1 and 3." in page


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"faults": []}, "Faults is needed"),
        ({"found": ""}, "Found is needed"),
        ({"prospects": ""}, "Prospects is needed"),
        ({"faults": ["haunted"]}, "haunted"),
        ({"hours_people": "-1"}, "0"),
        ({"happened": "2999-01-01T10:00"}, "lies in the future"),
    ],
)
def test_what_is_wrong_with_findings_is_said_and_what_was_typed_stands(make, client_as, wrong, said):
    item = make.item()
    answer = send(client_as(Role.ENGINEER), "examine", item, **(FINDINGS | {"would_change": "a donor"} | wrong))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert "a donor" in page
    assert not Examination.objects.exists()


def test_the_form_says_loudly_that_it_gets_no_power(make, client_as):
    item = make.item(behaviours=["clicks"])
    page = client_as(Role.ENGINEER).get(reverse("bench:examine", args=[str(item)])).content.decode()
    assert "No power before it was inspected inside: it clicks." in page
    assert "ISO 14644-1 class 5" in page


def test_a_stage_that_may_not_be_entered_is_said_on_the_form(make, client_as):
    item = make.item()
    answer = send(client_as(Role.ENGINEER), "make-ready", item)
    assert answer.status_code == 422
    assert "cannot become “ready” now" in answer.content.decode()


def test_pressing_twice_notes_one_step(make, client_as):
    item, client = make.item(), client_as(Role.ENGINEER)
    sent = {"what": "Read the identity.", "once": "8a8a8a8a-0000-4000-8000-000000000003"}
    first, second = (send(client, "note-step", item, **sent) for _ in range(2))
    assert first.url == second.url
    assert Step.objects.count() == 1


def test_no_more_sectors_are_read_than_the_patient_has(make, client_as):
    item = make.item(sectors=1_000)
    line = item.case.wanted.get()
    sent = {"sectors_read": "1 001", "compared": "not", f"wanted-{line.pk}": "whole"}
    answer = send(client_as(Role.ENGINEER), "record-result", item, **sent)
    assert answer.status_code == 422
    assert "The patient has 1,000 sectors" in answer.content.decode()


def test_the_result_asks_about_each_wanted_line(make, client_as):
    item = make.item()
    page = client_as(Role.ENGINEER).get(reverse("bench:record-result", args=[str(item)])).content.decode()
    assert f'name="wanted-{item.case.wanted.get().pk}"' in page
    assert "Photographs" in page


@pytest.mark.parametrize("verb", ["examine", "start-work", "note-step", "record-result", "make-ready", "send-back"])
@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
def test_only_engineers_open_the_pages_of_the_bench(make, client_as, verb, role):
    item = make.item()
    assert client_as(role).get(reverse(f"bench:{verb}", args=[str(item)])).status_code == 403
    assert client_as(Role.ENGINEER).get(reverse(f"bench:{verb}", args=[str(item)])).status_code == 200


def test_going_back_needs_its_reason(make, client_as):
    item = make.worked(make.case()).items.get()
    client = client_as(Role.ENGINEER)
    assert send(client, "send-back", item).status_code == 422
    assert Item.objects.get(pk=item.pk).stage == "ready"


def test_the_code_of_a_case_is_not_the_code_of_an_item(make, client_as):
    answer = client_as(Role.ENGINEER).get(reverse("bench:examine", args=[str(make.case())]))
    assert answer.status_code == 404
    assert "There is no item" in answer.content.decode()
