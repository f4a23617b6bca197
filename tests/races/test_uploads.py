"""Bench computers send at the same moment: the same part, the same finish, two uploads of one item. Nothing is lost."""

from __future__ import annotations

import hashlib
import socket
import threading
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

import pytest

from labcases.api.actions import admit
from labcases.api.models import TransferPart
from labcases.api.scopes import SCOPES
from labcases.bench.files.models import FileList, FileStates
from labcases.bench.reading.actions import uploads
from labcases.bench.reading.models import CoverageUpload, ItemCoverage
from labcases.custody.models import Event
from tests.api.conftest import Caller
from tests.builders import NOON, Make

AtOnce = Callable[..., list[Any]]
CLIENTS = 4
SPANS = (b"first,sectors,state\n0,100,read\n", b"first,sectors,state\n100,50,read\n400,8,unreadable\n")
LIST = b"path,size,extents\na/b.txt,512,0+1\nc.txt,9,\n"


@pytest.fixture
def bench(transactional_db: None) -> tuple[str, list[str]]:
    """An item, and the tokens of two computers."""
    make = Make()
    make.profile()
    by = make.everyone()
    tokens = [admit(name=f"Bench {n}", scopes=list(SCOPES), by=by, happened=NOON)[1] for n in (1, 2)]
    return str(make.item()), tokens


def finishing(token: str, at: str, parts: int = 1) -> Callable[[], Any]:
    return lambda: Caller(token).post(at, {"parts": parts})


def statuses(answers: list[Any]) -> list[int]:
    assert not [answer for answer in answers if isinstance(answer, Exception)], answers
    return sorted(answer.status_code for answer in answers)


@pytest.mark.parametrize(("what", "data"), [("coverage", SPANS[0]), ("files", LIST)])
def test_the_same_part_sent_by_several_at_once_is_one_part_and_one_upload(
    at_once: AtOnce, bench: tuple[str, list[str]], what: str, data: bytes
) -> None:
    """Clients of one token, as when a program was started twice. The first part begins the transfer, the next do not:
    of those nothing but the part itself keeps one waiting for the other."""
    item, (token, _) = bench
    at, cut = f"items/{item}/{what}/{UUID(int=7)}", len(data) // 2

    def put(number: int, part: bytes) -> Callable[[], Any]:
        return lambda: Caller(token).put(f"{at}/parts/{number}", part)

    for number, part in enumerate((data[:cut], data[cut:]), 1):
        assert statuses(at_once(*[put(number, part)] * CLIENTS)) == [200] * (CLIENTS - 1) + [201]
    assert TransferPart.objects.count() == 2
    assert statuses(at_once(*[finishing(token, at, 2)] * CLIENTS)) == [200] * (CLIENTS - 1) + [201]
    made: Any = CoverageUpload if what == "coverage" else FileList
    assert made.objects.count() == 1
    kind = "coverage-kept" if what == "coverage" else "file-list-kept"
    assert Event.objects.filter(kind=kind).count() == 1


@pytest.mark.parametrize(("what", "data"), [("coverage", SPANS[0]), ("files", LIST)])
def test_the_same_bytes_from_two_computers_at_once_are_one_upload_and_one_sentence(
    at_once: AtOnce, bench: tuple[str, list[str]], what: str, data: bytes
) -> None:
    item, tokens = bench
    at = f"items/{item}/{what}/{UUID(int=7)}"
    assert statuses(at_once(*(lambda t=t: Caller(t).put(f"{at}/parts/1", data) for t in tokens))) == [201, 201]
    answers = at_once(*(finishing(token, at) for token in tokens))
    assert statuses(answers) == [201, 409]
    told = next(answer.json()["detail"] for answer in answers if answer.status_code == 409)
    assert told.startswith("These very bytes")
    made: Any = CoverageUpload if what == "coverage" else FileList
    assert made.objects.count() == 1


def test_different_parts_under_one_number_at_once_are_one_part_and_one_refusal(
    at_once: AtOnce, bench: tuple[str, list[str]]
) -> None:
    item, (token, _) = bench
    at = f"items/{item}/coverage/{UUID(int=7)}/parts"
    assert Caller(token).put(f"{at}/1", SPANS[0]).status_code == 201
    puts = [lambda data=data: Caller(token).put(f"{at}/2", data) for data in SPANS]
    assert statuses(at_once(*puts)) == [201, 409]
    assert TransferPart.objects.count() == 2


def test_two_uploads_of_one_item_at_once_both_stand_in_its_coverage(
    at_once: AtOnce, bench: tuple[str, list[str]]
) -> None:
    item, tokens = bench
    at = f"items/{item}/coverage/{UUID(int=7)}"
    for token, data in zip(tokens, SPANS, strict=True):
        assert Caller(token).put(f"{at}/parts/1", data).status_code == 201
    assert statuses(at_once(*(finishing(token, at) for token in tokens))) == [201, 201]
    assert sorted(CoverageUpload.objects.values_list("number", flat=True)) == [1, 2]
    state = ItemCoverage.objects.select_related("derivation").get()
    assert state.up_to_date
    assert (state.derivation.read, state.derivation.unreadable) == (150, 8)


def one_inside_the_other(bench: tuple[str, list[str]], monkeypatch: pytest.MonkeyPatch) -> list[Callable[[], Any]]:
    """The first one's coverage is worked out from its upload alone; before it is written, the second one is done."""
    item, tokens = bench
    at = f"items/{item}/coverage/{UUID(int=7)}"
    for token, data in zip(tokens, SPANS, strict=True):
        Caller(token).put(f"{at}/parts/1", data)
    looked, done, pack = threading.Event(), threading.Event(), uploads.pack

    def held(coverage: Any) -> bytes:
        if not looked.is_set():
            looked.set()
            assert done.wait(20)
        return pack(coverage)

    monkeypatch.setattr(uploads, "pack", held)
    first, second = (finishing(token, at) for token in tokens)

    def behind() -> Any:
        assert looked.wait(20)
        try:
            return second()
        finally:
            done.set()

    return [first, behind]


def test_a_coverage_that_was_overtaken_while_it_was_worked_out_is_worked_out_anew(
    at_once: AtOnce, bench: tuple[str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert statuses(at_once(*one_inside_the_other(bench, monkeypatch))) == [201, 201]
    state = ItemCoverage.objects.select_related("derivation").get()
    assert (state.up_to_date, state.derivation.read) == (True, 150)


def test_without_the_version_the_slower_one_would_write_over_the_other(
    at_once: AtOnce, bench: tuple[str, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: no upload raises the version, so nobody notices that the coverage was overtaken."""
    monkeypatch.setattr(
        uploads, "_raise_version", lambda item: ItemCoverage.objects.get_or_create(item=item, defaults={"version": 1})
    )
    statuses(at_once(*one_inside_the_other(bench, monkeypatch)))
    state = ItemCoverage.objects.select_related("derivation").get()
    assert (state.up_to_date, state.derivation.read) == (True, 100)


@pytest.mark.parametrize(("what", "data"), [("coverage", SPANS[1]), ("files", LIST)])
def test_a_cable_pulled_in_the_middle_of_a_part_leaves_nothing_and_the_sender_goes_on(
    live_server: Any, bench: tuple[str, list[str]], what: str, data: bytes
) -> None:
    """Over a real socket: half of what was announced, then nothing more."""
    item, (token, _) = bench
    at, cut = f"items/{item}/{what}/{UUID(int=7)}", len(data) // 2
    call = Caller(token)
    assert call.put(f"{at}/parts/1", data[:cut]).status_code == 201
    rest, host = data[cut:], urlsplit(live_server.url)
    head = f"PUT /api/v1/{at}/parts/2 HTTP/1.1\r\nHost: {host.netloc}\r\nAuthorization: Bearer {token}\r\n"
    head += f"Content-Type: text/csv\r\nContent-Length: {len(rest)}\r\n\r\n"
    with socket.create_connection((host.hostname, host.port), timeout=20) as line:
        line.sendall(head.encode() + rest[:5])
        line.shutdown(socket.SHUT_WR)
        assert b" 400 " in line.recv(100).splitlines()[0]
    said = call.get(at).json()
    assert (said["bytes"], said["next_part"]) == (cut, 2)
    assert call.put(f"{at}/parts/2", rest).status_code == 201
    assert call.post(at, {"parts": 2, "sha256": hashlib.sha256(data).hexdigest()}).status_code == 201


def test_a_list_and_the_coverage_it_is_held_against_come_at_once(at_once: AtOnce, bench: tuple[str, list[str]]) -> None:
    """Whichever is first: in the end the states of the files follow from the coverage."""
    from labcases.bench.files.actions import derive_waiting

    item, (one, other) = bench
    spans, files = f"items/{item}/coverage/{UUID(int=7)}", f"items/{item}/files/{UUID(int=8)}"
    Caller(one).put(f"{spans}/parts/1", SPANS[0])
    Caller(other).put(f"{files}/parts/1", LIST)
    assert statuses(at_once(finishing(one, spans), finishing(other, files))) == [201, 201]
    derive_waiting()
    assert not FileList.objects.behind().exists()
    found = FileList.objects.select_related("current").get()
    assert found.current.total.files == (1, 1, 0, 0)
    assert FileStates.objects.filter(list=found).exists()
