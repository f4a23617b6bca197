"""The bench sheet: live by a version number, with who else has a docket open, and how long nothing has happened."""

from __future__ import annotations

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from labcases.bench.actions import examine
from labcases.bench.presence.models import FRESH, Presence
from labcases.docket.sheet.queries import sheet_for, version_for

FOUND = {"faults": ["heads"], "found": "Head 1 weak.", "prospects": "fair"}


def test_the_page_is_told_nothing_while_nothing_changed(make, noon, client_as):
    item, client = make.item(), client_as()
    page = client.get("/bench/")
    version = next(section for part, section in page.context["parts"] if part.key == "sheet").version
    address = f"{reverse('docket:sheet')}?since={version}"
    assert client.get(address).status_code == 204
    examine(item=item, by=make.everyone(), happened=noon, **FOUND)
    answer = client.get(address)
    assert answer.status_code == 200
    assert "examined" in answer.content.decode()


def test_two_on_one_patient_see_each_other(make, client_as):
    item, (first, second) = make.item(), (client_as(), client_as())
    here = reverse("bench:here", args=[str(item.case)])
    assert "Also here" not in first.post(here).content.decode()
    other = second.post(here).content.decode()
    assert "Also here" in other
    assert "open with" in first.get("/bench/").content.decode()
    assert Presence.objects.count() == 2
    Presence.objects.update(seen=timezone.now() - FRESH - timedelta(seconds=1))
    assert "open with" not in first.get("/bench/").content.decode()
    assert "Also here" not in first.post(here).content.decode()


def test_somebody_coming_changes_the_version_and_my_own_looking_does_not(make):
    case, me, other = make.case(), make.staff(), make.staff()
    before = version_for(me)
    Presence.objects.create(person=me, case=case, seen=timezone.now())
    assert version_for(me) == before
    Presence.objects.create(person=other, case=case, seen=timezone.now())
    assert version_for(me) != before


def test_a_row_says_since_when_nothing_happened(make, noon, rf):
    item = make.item()
    request = rf.get("/bench/")
    request.user = make.staff()
    (row,) = sheet_for(request).rows
    assert (row.entry.item, row.last, row.session) == (item, noon, None)
