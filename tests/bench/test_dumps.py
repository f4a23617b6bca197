"""Dumps: hashed, read twice or not, found by family, given out at the bench only."""

from __future__ import annotations

import hashlib
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labcases.bench.dumps.actions import NoFile, keep_dump
from labcases.bench.dumps.queries import dumps_of, dumps_of_family
from labcases.bench.models import Dump
from labcases.core import vault
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.roles import Role

ROM = b"\x00\x42" * 2048


def kept(make, noon, **about) -> Dump:
    about = {"kind": "rom", "outcome": "whole", "data": ROM, "by": make.actor(Role.ENGINEER)} | about
    return keep_dump(happened=noon, **about)


def test_a_dump_is_kept_by_its_digest_and_stands_in_the_ledger(make, noon):
    item = make.item()
    dump = kept(make, noon, item=item)
    assert dump.file == hashlib.sha256(ROM).hexdigest()
    assert (dump.size, vault.get(dump.file)) == (4096, ROM)
    assert Event.objects.get(kind="dumped").case_code == item.case.code


@pytest.mark.parametrize(("again", "twice"), [(b"", None), (ROM, True), (ROM[:-1] + b"\x43", False)])
def test_two_readings_are_alike_or_they_differ(make, noon, again, twice):
    dump = kept(make, noon, item=make.item(), again=again)
    assert dump.twice is twice
    if twice is False:
        assert vault.get(dump.second) == again


@pytest.mark.parametrize(
    ("outcome", "data"), [("whole", b""), ("partly", b""), ("not reachable", ROM), ("not worth", ROM)]
)
def test_what_was_read_has_a_file_and_what_was_not_has_none(make, noon, outcome, data):
    with pytest.raises(NoFile):
        kept(make, noon, item=make.item(), outcome=outcome, data=data)
    assert not Dump.objects.exists()


def test_what_was_not_worth_the_stress_is_on_record_too(make, noon):
    dump = kept(make, noon, item=make.item(), outcome="not worth", data=b"")
    assert (dump.file, dump.size, dump.twice) == ("", None, None)


def test_a_dump_is_found_by_the_family_of_its_item(make, noon):
    family = make.family(aliases=[("", "PL500")])
    dump = kept(make, noon, item=make.item())
    assert dumps_of_family(family) == [dump]
    other = make.case()
    assert [entry.in_family for entry in dumps_of(other)] == [1]


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
def test_only_an_engineer_keeps_one(make, noon, role):
    with pytest.raises(NotAllowed):
        kept(make, noon, item=make.item(), by=make.actor(role))
    assert not Dump.objects.exists()


def test_only_an_engineer_gets_the_bytes(make, noon, client_as):
    make.profile()
    dump = kept(make, noon, item=make.item())
    given = client_as(Role.ENGINEER).get(f"/bench/dumps/{dump.pk}/first/")
    assert given.content == ROM
    assert given.headers["Content-Disposition"].startswith("attachment")
    for role in (Role.COUNTER, Role.MANAGER, Role.AUDITOR):
        client = client_as(role)
        assert client.get(f"/bench/dumps/{dump.pk}/first/").status_code == 403
        assert client.get(f"/bench/dumps/{dump.pk}/").status_code == 200


def test_a_reading_that_is_not_there_is_not_found(make, noon, client_as):
    make.profile()
    dump = kept(make, noon, item=make.item())
    assert client_as(Role.ENGINEER).get(f"/bench/dumps/{dump.pk}/second/").status_code == 404


def test_the_page_keeps_two_readings_and_compares_them(make, client_as):
    make.profile()
    item, client = make.item(), client_as(Role.ENGINEER)
    files = {"first": SimpleUploadedFile("a", ROM), "again": SimpleUploadedFile("b", ROM)}
    about = {"once": str(uuid.uuid4()), "kind": "rom", "outcome": "whole", **files}
    assert client.post(f"/bench/{item}/dump/", about).status_code == 303
    page = client.get(f"/cases/{item.case}/").content.decode()
    assert "alike" in page


@pytest.mark.parametrize(
    ("about", "said"),
    [
        ({"outcome": "whole"}, "Give the file that was read."),
        ({"outcome": "not worth", "first": b"x"}, "What could not be read has no file."),
        ({"outcome": "not worth", "again": b"x"}, "Give the first reading too."),
        ({"outcome": "whole", "first": b""}, "The submitted file is empty."),
    ],
)
def test_a_dump_that_cannot_be_so_is_said(make, client_as, about, said):
    make.profile()
    about = {k: SimpleUploadedFile("a", v) if isinstance(v, bytes) else v for k, v in about.items()}
    answer = client_as(Role.ENGINEER).post(f"/bench/{make.item()}/dump/", {"kind": "rom", **about})
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_the_section_costs_the_same_for_many_dumps(make, noon):
    case = make.case(items=3)

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            dumps_of(case)
        return len(ran)

    before = cost()
    for item in case.items.all():
        kept(make, noon, item=item)
        kept(make, noon, item=item, kind="module", data=b"17")
    assert cost() == before
