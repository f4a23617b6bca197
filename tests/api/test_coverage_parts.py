"""Spans in parts: in any order, again, packed, cut off; one upload comes of them or nothing."""

from __future__ import annotations

import gzip
import hashlib
from datetime import timedelta
from io import BytesIO
from itertools import pairwise
from typing import Any
from uuid import uuid4

import pytest
from django.test import RequestFactory

from labcases.api import actions
from labcases.api.actions import transfers
from labcases.api.models import Transfer, TransferPart
from labcases.api.views.door import door
from labcases.bench.reading.actions import derive_waiting
from labcases.bench.reading.models import CoverageUpload, ItemCoverage
from labcases.core import vault
from tests.api.conftest import KEY

CSV = b"first,sectors,state\n0,1000,read\n1000,24,unreadable\n2048,8,skipped\n"
PACKED = gzip.compress(CSV, mtime=0)  # the same in every process, since tests are named after what they are given
NDJSON = b'{"first": 0, "sectors": 1000, "state": "read"}\n{"first": 1000, "sectors": 24, "state": "unreadable"}\n'


@pytest.fixture
def at(item) -> str:
    return f"items/{item}/coverage/{KEY}"


def counts(item) -> tuple[int, int, int]:
    made = ItemCoverage.objects.get(item=item).derivation
    return made.read, made.unreadable, made.skipped


def send(call, at: str, data: bytes = CSV, kind: str = "text/csv", **finish: Any) -> Any:
    assert call.put(f"{at}/parts/1", data, kind).status_code == 201
    return call.post(at, {"parts": 1, **finish})


def test_spans_in_one_part_become_an_upload_and_a_coverage(call, at, item):
    answer = send(call, at, **{"pass": 2, "head": 3, "name": "second pass", "sha256": hashlib.sha256(CSV).hexdigest()})
    assert answer.status_code == 201, answer.content
    upload = CoverageUpload.objects.get()
    assert answer.json() == {"item": str(item), "upload": 1, "spans": 3, "notes": [], "worked_out": True}
    assert (upload.source, upload.pass_number, upload.head, upload.name) == ("station", 2, 3, "second pass")
    assert vault.get(upload.file) == CSV
    assert counts(item) == (1000, 24, 8)


def test_the_coverage_of_a_large_upload_is_left_to_the_worker(call, at, item, monkeypatch):
    monkeypatch.setattr(transfers, "AT_ONCE", 2)
    assert send(call, at).json()["worked_out"] is False
    assert derive_waiting() == 1
    assert counts(item) == (1000, 24, 8)
    assert call.post(at, {"parts": 1}).json()["worked_out"] is True


def test_lines_of_json_say_the_same(call, at, item):
    assert send(call, at, NDJSON, "application/x-ndjson").status_code == 201
    assert counts(item) == (1000, 24, 0)


def test_parts_are_cut_anywhere_and_come_in_any_order(call, at, item):
    cuts = [0, 7, 30, 41, len(CSV)]
    parts = list(enumerate(pairwise(cuts), 1))
    for number, (begin, end) in reversed(parts):
        assert call.put(f"{at}/parts/{number}?offset={begin}", CSV[begin:end]).status_code == 201
    assert call.post(at, {"parts": 4}).status_code == 201
    assert vault.get(CoverageUpload.objects.get().file) == CSV


def test_a_part_may_be_packed(call, at, item):
    answer = call.put(f"{at}/parts/1", gzip.compress(CSV), **{"Content-Encoding": "gzip"})
    assert answer.json() == {"part": 1, "bytes": len(CSV), "sha256": hashlib.sha256(CSV).hexdigest()}
    assert call.post(at, {"parts": 1}).status_code == 201


def test_the_same_part_twice_is_one_and_another_under_its_number_is_refused(call, at):
    assert [call.put(f"{at}/parts/1", CSV).status_code for _ in range(2)] == [201, 200]
    answer = call.put(f"{at}/parts/1", CSV + b"9,9,read\n")
    assert answer.status_code == 409
    assert hashlib.sha256(CSV).hexdigest() in answer.json()["detail"]
    assert TransferPart.objects.count() == 1


def test_finishing_twice_is_one_upload_and_in_another_way_is_refused(call, at):
    assert send(call, at).status_code == 201
    again = call.post(at, {"parts": 1})
    assert (again.status_code, again.json()["upload"]) == (200, 1)
    assert call.post(at, {"parts": 1, "pass": 2}).status_code == 409
    assert call.put(f"{at}/parts/1", CSV).status_code == 200
    assert call.put(f"{at}/parts/2", CSV).status_code == 409
    assert CoverageUpload.objects.count() == 1


def test_after_a_cut_the_sender_asks_what_is_there_and_goes_on(call, at):
    call.put(f"{at}/parts/1", CSV[:20])
    call.put(f"{at}/parts/3", CSV[40:])
    said = call.get(at).json()
    assert ([part["part"] for part in said["parts"]], said["next_part"], said["upload"]) == ([1, 3], 2, None)
    early = call.post(at, {"parts": 3})
    assert early.status_code == 409
    assert "missing 2" in early.json()["detail"]
    call.put(f"{at}/parts/2", CSV[20:40])
    assert call.post(at, {"parts": 3}).status_code == 201
    assert call.get(at).json()["upload"] == 1


@pytest.mark.parametrize("packed", [False, True])
def test_of_a_part_whose_connection_was_cut_nothing_is_kept(call, at, packed):
    """The body ends before Content-Length says; a web server gives it as an end of file."""
    body = gzip.compress(CSV) if packed else CSV
    headers = {**call.headers, **({"Content-Encoding": "gzip"} if packed else {})}
    request = RequestFactory().put(f"/api/v1/{at}/parts/1", body, content_type="text/csv", headers=headers)
    request._stream = BytesIO(body[:-9])
    answer = door(request, f"{at}/parts/1")
    assert answer.status_code == 400
    assert b"cut" in answer.content
    assert not Transfer.objects.exists()


@pytest.mark.parametrize(
    ("data", "headers", "status"),
    [
        (b"no gzip at all", {"Content-Encoding": "gzip"}, 400),
        (PACKED[:-4], {"Content-Encoding": "gzip"}, 400),
        (PACKED + b"more", {"Content-Encoding": "gzip"}, 400),
        (CSV, {"Content-Encoding": "br"}, 415),
    ],
)
def test_a_part_that_is_packed_wrongly_is_refused(call, at, data, headers, status):
    assert call.put(f"{at}/parts/1", data, **headers).status_code == status
    assert not TransferPart.objects.exists()


def test_a_small_body_that_unpacks_to_a_large_one_is_refused_early(call, at, monkeypatch):
    monkeypatch.setattr(actions, "MOST_PART", 1 << 20)
    bomb = gzip.compress(bytes(20 << 20))
    assert call.put(f"{at}/parts/1", bomb, **{"Content-Encoding": "gzip"}).status_code == 413
    assert call.put(f"{at}/parts/1", bytes(2 << 20)).status_code == 413
    assert not TransferPart.objects.exists()


def test_a_part_without_a_length_is_refused(call, at):
    request = RequestFactory().put(f"/api/v1/{at}/parts/1", CSV, content_type="text/csv", headers=call.headers)
    del request.META["CONTENT_LENGTH"]
    assert door(request, f"{at}/parts/1").status_code == 411


@pytest.mark.parametrize(
    ("data", "kind", "named"),
    [
        (b"\n", "text/csv", "column"),
        (b"first,sectors,state\n0,8,read\n976773168,1,read\n", "text/csv", "Row 3"),
        (b"first,sectors,state\n-1,8,read\n", "text/csv", "Row 2"),
        (b"first,sectors,state\n0,9223372036854775808,read\n", "text/csv", "64 bits"),
        (b"first,sectors,state\n0,8,sideways\n", "text/csv", "sideways"),
        (b"first,sectors,state\n0,8\n", "text/csv", "Row 2: it has 2 cells, where the headers have 3."),
        (b"first,sectors\n0,8\n1,2,3\n", "text/csv", "Row 3: it has 3 cells, where the headers have 2."),
        (b"first,sectors\n0,8\n\xff,9\n", "text/csv", "Row 3: it holds bytes that are no UTF-8."),
        (b"first,sectors\n0,8\n\n9,1\n", "text/csv", "Row 3: the beginning is missing."),
        (b"first,last\n0,9223372036854775807\n", "text/csv", "Row 2: the end does not fit into 64 bits."),
        (b"first,last\n8,8\n9,7\n", "text/csv", "Row 3: it ends at 7, before it begins at 9."),
        (b"first,sectors,state\n0,8,re\0ad\n", "text/csv", "Row 2: nobody said what the state"),
        (b"first,state\n0,read\n", "text/csv", "one of"),
        (b"first,sectors,colour\n0,8,red\n", "text/csv", "colour"),
        (b"\xff\xfe", "text/csv", ""),
        (b"{", "application/x-ndjson", "Row 1: it is no JSON object."),
        (b'{"first": 0, "sectors": 8}\n[1]\n', "application/x-ndjson", "Row 2: it is no JSON object."),
        (b'{"first": 0.5, "sectors": 8}\n', "application/x-ndjson", "Row 1: first is no whole number: “0.5”."),
        (b'{"first": "0", "sectors": 8}\n', "application/x-ndjson", "Row 1: first is no whole number"),
        (b'{"first": 0, "sectors": 8, "state": 5}\n', "application/x-ndjson", "Row 1: the state is no text."),
        (b'{"first": 0, "first": 0, "sectors": 8}\n', "application/x-ndjson", "the member “first” stands twice."),
        (b'{"first": 0, "sectors": 8, "colour": 1}\n', "application/x-ndjson", "Row 1: the member “colour” is not"),
        (b'{"first": 0, "sectors": 8, "delay": "x"}\n', "application/x-ndjson", "Row 1: delay is no number: “x”."),
        (b'{"first": 0, "sectors": 8}\n{"first": 8}\n', "application/x-ndjson", "Row 2"),
        (b'{"first": 99999999999999999999, "sectors": 8}\n', "application/x-ndjson", "Row 1: first does not fit"),
        (b'{"first": -1, "sectors": 8}\n', "application/x-ndjson", "Row 1: the beginning is -1"),
    ],
)
def test_spans_that_cannot_be_are_refused_whole(call, at, data, kind, named):
    answer = send(call, at, data, kind)
    assert answer.status_code == 422, answer.content
    assert named in answer.json()["detail"]
    assert not CoverageUpload.objects.exists()
    assert not ItemCoverage.objects.exists()


@pytest.mark.parametrize(
    ("sent", "named"),
    [
        ({"parts": 2}, "missing 2"),
        ({"parts": 1, "sha256": "00" * 32}, "SHA-256"),
    ],
)
def test_what_is_not_whole_is_not_finished(call, at, sent, named):
    call.put(f"{at}/parts/1", CSV)
    answer = call.post(at, sent)
    assert answer.status_code == 409
    assert named in answer.json()["detail"]
    assert call.post(at, {"parts": 1}).status_code == 201


def test_a_part_that_does_not_begin_where_it_should_is_noticed(call, at):
    call.put(f"{at}/parts/1?offset=0", CSV[:20])
    call.put(f"{at}/parts/2?offset=21", CSV[20:])
    assert "byte 21" in call.post(at, {"parts": 2}).json()["detail"]


def test_the_same_spans_under_another_key_are_refused_with_the_upload_they_are(call, at, item):
    send(call, at)
    answer = send(call, f"items/{item}/coverage/{uuid4()}")
    assert answer.status_code == 409
    assert "upload 1" in answer.json()["detail"]
    assert CoverageUpload.objects.count() == 1


def test_a_key_is_of_one_item(call, at, make):
    call.put(f"{at}/parts/1", CSV)
    other = make.item()
    assert call.put(f"items/{other}/coverage/{KEY}/parts/2", CSV).status_code == 409
    assert call.get(f"items/{other}/coverage/{KEY}").status_code == 404


def test_taking_back_needs_a_reason(call, at, item):
    send(call, at)
    again = f"items/{item}/coverage/{uuid4()}"
    call.put(f"{again}/parts/1", b"first,sectors\n0,8\n")
    assert call.post(again, {"parts": 1, "verb": "withdraw"}).status_code == 422
    assert call.post(again, {"parts": 1, "verb": "withdraw", "because": "wrong head"}).status_code == 201
    assert counts(item)[0] == 992


def test_parts_of_a_finished_transfer_are_cleared_away_and_the_evidence_stays(call, at, monkeypatch):
    call.put(f"{at}/parts/1", CSV[:20])
    call.put(f"{at}/parts/2", CSV[20:])
    call.post(at, {"parts": 2})
    monkeypatch.setattr(transfers, "UNUSED", timedelta(seconds=-1))
    digests = list(TransferPart.objects.values_list("digest", flat=True))
    assert actions.tidy() == 2
    assert not any(vault.path(digest).exists() for digest in digests)
    assert vault.get(CoverageUpload.objects.get().file) == CSV
    assert call.post(at, {"parts": 2}).status_code == 200
