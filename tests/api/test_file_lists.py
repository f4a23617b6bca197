"""Lists of files from a bench computer: in parts, packed, again, cut off; one list comes of them or nothing."""

from __future__ import annotations

import gzip
import hashlib
import json
from datetime import timedelta
from io import BytesIO
from itertools import pairwise
from typing import Any
from uuid import uuid4

import pyarrow as pa
import pyarrow.parquet as parquet
import pytest
from django.db import IntegrityError
from django.test import RequestFactory

from labcases.api.actions import take_part, tidy, transfers
from labcases.api.actions.transfers import PARQUET
from labcases.api.models import BenchComputer, Transfer, TransferPart
from labcases.api.views.door import door
from labcases.bench.files.actions import read_waiting, withdraw_list
from labcases.bench.files.models import FileList
from labcases.core import vault
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role
from tests.api.conftest import KEY, Caller, token_for

CSV = b"path,size,extents,check\nPhotos/a.jpg,512,0+1,ok\nPhotos/b.jpg,1024,8+2,\nwill.odt,9,,damaged\n"


@pytest.fixture
def at(item) -> str:
    return f"items/{item}/files/{KEY}"


def send(call, at: str, data: bytes = CSV, kind: str = "text/csv", **finish: Any) -> Any:
    assert call.put(f"{at}/parts/1", data, kind).status_code == 201
    return call.post(at, {"parts": 1, **finish})


def as_parquet() -> bytes:
    out = BytesIO()
    extents = pa.array([[{"first": 0, "sectors": 1}], None])
    parquet.write_table(pa.table({"path": [b"a/\xff.jpg", b"b\0.txt"], "size": [512, None], "extents": extents}), out)
    return out.getvalue()


def test_a_list_in_one_part_is_kept_and_told_by_the_computer(call, at, item):
    answer = send(call, at, name="second partition.csv", sha256=hashlib.sha256(CSV).hexdigest())
    assert answer.status_code == 201, answer.content
    about = {"number": 1, "state": "kept", "done": 3, "files": 3, "folders": 2, "notes": [], "trouble": ""}
    assert answer.json() == {"item": str(item), **about}
    found = FileList.objects.get()
    assert (found.source, found.name, found.placed, found.by) == ("station", "second partition.csv", 2, None)
    assert vault.get(found.file) == CSV
    event = Event.objects.get(kind="file-list-received")
    assert EventText.objects.get(sequence=event.sequence, field="by").text == "bench computer Bench 2"


def test_parquet_is_taken_as_the_pages_take_it(call, at):
    answer = send(call, at, as_parquet(), PARQUET)
    assert (answer.status_code, answer.json()["files"]) == (201, 2)
    assert FileList.objects.get().placed == 1


def test_parts_are_cut_anywhere_packed_and_in_any_order(call, at):
    cuts = [0, 7, 30, 41, len(CSV)]
    for number, (begin, end) in reversed(list(enumerate(pairwise(cuts), 1))):
        packed = gzip.compress(CSV[begin:end])
        answer = call.put(f"{at}/parts/{number}?offset={begin}", packed, **{"Content-Encoding": "gzip"})
        assert answer.status_code == 201
    assert call.post(at, {"parts": 4}).status_code == 201
    assert vault.get(FileList.objects.get().file) == CSV


def test_columns_words_and_numbers_mean_what_the_sender_says(call, at):
    data = "Größe;Ort;Wo;ja?\n5;C:\\Bilder\\ä.png;512-1023;jo\n".encode("cp1252")
    meant = {"path": "Ort", "size": "Größe", "extents": "Wo", "check": "ja?"}
    how = {"letters": "cp1252", "separator": "\\", "unit": "bytes", "extent": "last", "base": 2048}
    answer = send(call, at, data, columns=meant, checks={"jo": "whole"}, **how)
    assert answer.status_code == 201, answer.content
    found = FileList.objects.get()
    assert (found.folders, found.bytes, found.placed) == (3, 5, 1)
    assert found.how["checks"] == {"jo": 1}


def test_the_same_part_twice_is_one_and_finishing_twice_is_one_list(call, at):
    assert [call.put(f"{at}/parts/1", CSV).status_code for _ in range(2)] == [201, 200]
    assert call.put(f"{at}/parts/1", CSV + b"x,,,\n").status_code == 409
    answers = [call.post(at, {"parts": 1}) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200]
    assert answers[0].json() == answers[1].json()
    assert call.post(at, {"parts": 1, "separator": "\\"}).status_code == 409
    assert call.put(f"{at}/parts/2", CSV).status_code == 409
    assert FileList.objects.count() == 1


def test_after_a_cut_the_sender_asks_what_is_there_and_goes_on(call, at):
    call.put(f"{at}/parts/1", CSV[:20])
    call.put(f"{at}/parts/3", CSV[40:])
    said = call.get(at).json()
    assert ([part["part"] for part in said["parts"]], said["next_part"], said["file_list"]) == ([1, 3], 2, None)
    assert "missing 2" in call.post(at, {"parts": 3}).json()["detail"]
    call.put(f"{at}/parts/2", CSV[20:40])
    assert call.post(at, {"parts": 3}).status_code == 201
    assert call.get(at).json()["file_list"]["state"] == "kept"


def test_of_a_part_whose_connection_was_cut_nothing_is_kept(call, at):
    """The body ends before Content-Length says; a web server gives it as an end of file."""
    request = RequestFactory().put(f"/api/v1/{at}/parts/1", CSV, content_type="text/csv", headers=call.headers)
    request._stream = BytesIO(CSV[:-9])
    answer = door(request, f"{at}/parts/1")
    assert answer.status_code == 400
    assert b"cut" in answer.content
    assert not Transfer.objects.exists()


def test_a_long_list_is_left_to_the_worker_and_asked_after(call, at, monkeypatch):
    monkeypatch.setattr(transfers, "READ_AT_ONCE", 10)
    answer = send(call, at)
    assert (answer.status_code, answer.json()["state"]) == (202, "waiting")
    assert call.post(at, {"parts": 1}).status_code == 200
    assert read_waiting() == 1
    said = call.get(at).json()["file_list"]
    assert (said["state"], said["files"]) == ("kept", 3)


@pytest.mark.parametrize(
    ("data", "finish", "where", "named"),
    [
        (CSV + b"x,12 apples,,\n", {}, "row 5", "12 apples"),
        (CSV + b"x,99999999999999999999,,\n", {}, "row 5", "64 bits"),
        (b"path,extents\na,1-2\nx,9-4\n", {"extent": "end"}, "row 3", "ends before it begins"),
        (CSV + b"x,1\n", {}, "row 5", "cells"),
        (b"path,extents\na,1+1\nb,99999999999+1\nc,99999999999+1\nd,99999999999+1\n", {}, "file", "beyond the end"),
        (b"path\n\n", {}, "file", "No row of it has a path."),
        (b"a,b\n1,2\n", {}, "file", "No column is known to hold the path."),
        (CSV, {"columns": {"path": "Ort"}}, "file", "There is no column “Ort”"),
        (CSV, {"columns": {"path": "path", "check": "path"}}, "file", "two things"),
        (CSV, {"columns": {"size": "size"}}, "file", "to hold the path"),
        (CSV, {"base": 2**63 - 1}, "file", "cannot be counted from sector"),
        (b"PAR1 and no more", {}, "file", "Parquet"),
        (as_parquet(), {}, "file", "It was sent as text/csv, and is PARQUET."),
    ],
)
def test_a_list_that_cannot_be_is_refused_whole_and_says_where(call, at, data, finish, where, named):
    answer = send(call, at, data, **finish)
    assert answer.status_code == 422, answer.content
    said = answer.json()
    assert named in said["detail"]
    assert said["errors"][0]["where"] == where
    assert not FileList.objects.standing().exists()
    assert call.post(at, {"parts": 1, **finish}).status_code == 422


def test_a_refused_list_may_be_finished_in_another_way_without_sending_it_again(call, at):
    data = b"name,first size,size\na,12 apples,12\n"
    wrong = {"columns": {"path": "name", "size": "first size"}}
    assert send(call, at, data, **wrong).status_code == 422
    assert call.get(at).json()["file_list"]["trouble"].startswith("Row 2: the size is no whole number")
    right = {"columns": {"path": "name", "size": "size"}}
    assert call.post(at, {"parts": 1, **right}).status_code == 201
    assert call.post(at, {"parts": 1, **right}).status_code == 200
    assert list(FileList.objects.values_list("number", "state")) == [(1, "refused"), (2, "kept")]


@pytest.mark.parametrize(
    "sent",
    [
        {"parts": 0},
        {"parts": 1, "columns": {"colour": "x"}},
        {"parts": 1, "separator": ";"},
        {"parts": 1, "checks": {"ok": "fine"}},
        {"parts": 1, "base": -1},
        {"parts": 1, "more": 1},
        {"parts": 1, "checks": {str(n): "whole" for n in range(101)}},
        {"parts": 1, "name": "\ud800"},
        {"parts": 1, "happened": "2199-01-01T00:00:00Z"},
    ],
)
def test_a_finish_that_is_not_valid_is_a_problem(call, at, sent):
    assert send(call, at).status_code == 201
    answer = call.post(at, json.dumps(sent))
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")


@pytest.mark.postgres
def test_words_and_names_with_what_no_database_keeps_are_kept_without_it(call, at):
    data = b"path,check\na,o\0k\n"
    assert send(call, at, data, name="a\0b", checks={"o\0k": "lost"}).status_code == 201
    found = FileList.objects.get()
    assert (found.name, found.how["checks"]) == ("a b", {"o k": 3})
    assert found.current.total.files == (0, 0, 0, 1)


def test_the_same_bytes_under_another_key_are_refused_with_the_list_they_are(call, at, item):
    assert send(call, at).status_code == 201
    other = f"items/{item}/files/{uuid4()}"
    answer = send(call, other)
    assert answer.status_code == 409
    assert "list 1" in answer.json()["detail"]
    assert call.get(other).json()["file_list"] is None


def test_a_key_is_for_one_thing(call, at, item):
    assert call.put(f"items/{item}/coverage/{KEY}/parts/1", b"first,sectors\n0,8\n").status_code == 201
    answer = call.put(f"{at}/parts/2", CSV)
    assert answer.status_code == 409
    assert "for spans that were read" in answer.json()["detail"]
    assert call.get(at).status_code == 404


def test_the_database_refuses_spans_that_became_a_list(call, at):
    send(call, at)
    with pytest.raises(IntegrityError, match="transfer_becomes_what_it_is"):
        Transfer.objects.update(what="coverage")


def test_files_are_sent_with_a_token_made_for_it(make, noon, item, at):
    caller = Caller(token_for(make, noon, "coverage"))
    assert caller.put(f"{at}/parts/1", CSV).status_code == 403
    assert caller.get(at).status_code == 403
    assert caller.post(at, {"parts": 1}).status_code == 403


def test_another_media_type_is_told_which_are_taken(call, at):
    answer = call.put(f"{at}/parts/1", CSV, "application/x-ndjson")
    assert answer.status_code == 415
    assert PARQUET in answer.json()["detail"]


def test_a_disk_that_is_nearly_full_takes_no_part(call, at, monkeypatch):
    monkeypatch.setattr("labcases.core.vault.free_bytes", lambda: 5)
    answer = call.put(f"{at}/parts/1", CSV)
    assert (answer.status_code, answer.json()["type"]) == (507, "/api/#problem-no-room")
    assert not TransferPart.objects.exists()


def test_a_list_above_the_limit_is_refused_part_by_part(call, item, monkeypatch):
    monkeypatch.setitem(transfers.MOST_WHOLE, Transfer.What.FILES, 100)
    about: dict[str, Any] = {"computer": BenchComputer.objects.get(), "item": item, "what": "files", "key": KEY}
    take_part(number=1, data=bytes(80), kind="text/csv", **about)
    with pytest.raises(transfers.NotWhole, match="at most"):
        take_part(number=2, data=bytes(21), kind="text/csv", **about)


def test_the_evidence_outlives_the_parts_it_came_in(call, at, monkeypatch):
    """In one part: the list's own bytes are those of the part."""
    send(call, at)
    monkeypatch.setattr(transfers, "UNUSED", timedelta(seconds=-1))
    assert tidy() == 1
    assert vault.get(FileList.objects.get().file) == CSV
    assert call.post(at, {"parts": 1}).status_code == 200


def test_parts_of_a_list_that_waits_are_not_cleared_away(call, at, monkeypatch):
    monkeypatch.setattr(transfers, "READ_AT_ONCE", 10)
    send(call, at)
    monkeypatch.setattr(transfers, "UNUSED", timedelta(seconds=-1))
    monkeypatch.setattr(transfers, "KEPT_UNFINISHED", timedelta(seconds=-1))
    assert tidy() == 0
    assert Transfer.objects.exists()


def test_a_list_that_was_sent_stands_on_the_pages_and_its_withdrawal_is_told(call, at, item, client_as, make, noon):
    send(call, at, name="second partition.csv")
    page = client_as(Role.ENGINEER).get(f"/bench/{item}/files/").content.decode()
    assert "second partition.csv" in page
    assert "bench computer" in page
    withdraw_list(found=FileList.objects.get(), because="of another disk", by=make.everyone(), happened=noon)
    assert call.get(at).json()["file_list"]["state"] == "withdrawn"
