"""The pages of lists of files, pressed as an engineer presses them."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from labcases.bench.files import actions
from labcases.bench.files.models import FileList, FileSample, TakenFiles, WantedFiles
from labcases.bench.files.queries import found_of, result_from
from labcases.bench.models import Result
from labcases.bench.protocol_facts import named
from labcases.bench.reading.actions import derive as derive_coverage
from labcases.bench.reading.actions import keep_upload
from labcases.cases.queries import facts_for
from labcases.core import vault
from labcases.lab.roles import Role
from tests.bench.files_given import COLUMNS, CSV, read_spans

KEPT = {
    "path": "0",
    "size": "1",
    "extents": "2",
    "check": "3",
    "separator": "/",
    "extent": "sectors",
    "unit": "sectors",
}


@pytest.fixture
def item(make):
    make.profile()
    return make.item()


@pytest.fixture
def engineer(client_as):
    return client_as(Role.ENGINEER)


def at(item, more: str = "") -> str:
    return f"/bench/{item}/files/{more}"


def send(engineer, item, data: bytes = CSV, name: str = "found.csv", **said: str) -> Any:
    first = engineer.post(at(item, "add/"), {"file": SimpleUploadedFile(name, data)})
    assert first.status_code == 303, first.content.decode()
    asked = engineer.get(first["Location"])
    form = asked.context["form"]
    words = {f"word-{n}": str(form.fields[f"word-{n}"].initial) for n in range(len(form.words))}
    about = {"base": "0", "happened": "2026-03-02 12:00", **words, **KEPT, **said}
    return engineer.post(first["Location"], about)


@pytest.fixture
def kept(engineer, item):
    assert send(engineer, item).status_code == 303
    return FileList.objects.get()


def press(engineer, address: str, **said: Any) -> Any:
    answer = engineer.post(address, {"happened": "2026-03-02 12:00", **said})
    assert answer.status_code == 303, answer.content.decode()[:2_000]
    return answer


def test_a_list_comes_in_by_two_pages_and_its_columns_are_remembered(engineer, item, kept):
    assert (kept.state, kept.rows, kept.name) == ("kept", 5, "found.csv")
    first = engineer.post(at(item, "add/"), {"file": SimpleUploadedFile("b.csv", CSV + b"more.txt,1,,\n")})
    form = engineer.get(first["Location"]).context["form"]
    assert [form.fields[name].initial for name in ("path", "size", "extents", "check")] == ["0", "1", "2", "3"]


def test_what_is_no_list_is_said_beside_the_file(engineer, item):
    answer = engineer.post(at(item, "add/"), {"file": SimpleUploadedFile("x.parquet", b"PAR1 and no more")})
    assert answer.status_code == 422
    assert "This Parquet file cannot be read" in answer.content.decode()


def test_a_refused_list_says_why_and_how_to_go_on(engineer, item):
    answer = send(engineer, item, CSV + b"x,many,,\n")
    page = engineer.get(answer["Location"]).content.decode()
    assert "Refused as a whole." in page
    assert "Row 7: the size is no whole number: “many”. Nothing of it was kept." in page


def test_folders_are_browsed_with_counts_of_all_under_them(engineer, kept):
    page = engineer.get(kept.get_absolute_url())
    assert [(one.name, one.counts.total) for one in page.context["folders"]] == [("Letters", 2), ("Photos", 2)]
    assert [one.name for one in page.context["files"]] == ["read me.txt"]
    inside = engineer.get(f"{kept.get_absolute_url()}?folder=2")
    assert [one.name for one in inside.context["folders"]] == ["old"]
    assert engineer.get(f"{kept.get_absolute_url()}?folder=9").status_code == 404


@pytest.mark.parametrize(
    ("asked", "names"),
    [
        ("q=*.JPG", ["a.jpg", "b.jpg"]),
        ("kind=documents&q=letters/", ["will.odt", "note.odt"]),
        ("state=partial", ["read me.txt"]),
        ("q=*.jpg&folder=1", []),
    ],
)
def test_files_are_sought_by_path_kind_and_state(engineer, kept, asked, names):
    page = engineer.get(f"{kept.get_absolute_url()}?{asked}")
    assert [one.name for one in page.context["files"]] == names


def test_a_hundred_stand_on_a_page_and_all_in_the_export(engineer, item):
    rows = b"".join(b"f%03d.txt,1,,\n" % n for n in range(250))
    send(engineer, item, b"path,size,extents,check\n" + rows)
    found = FileList.objects.get()
    page = engineer.get(f"{found.get_absolute_url()}?page=3")
    assert [one.name for one in page.context["files"]][::49] == ["f200.txt", "f249.txt"]
    exported = b"".join(engineer.get(f"{found.get_absolute_url()}?format=csv").streaming_content).decode()
    assert len(exported.splitlines()) == 251


def test_names_that_could_mislead_are_shown_in_escapes(engineer, item):
    data = (
        "path,size,extents,check\nx\u202egpj.exe,1,,\na<b>\x07.txt,1,,\n山田.txt,1,,\n".encode() + b"\xff\x00.bin,1,,\n"
    )
    send(engineer, item, data)
    page = engineer.get(FileList.objects.get().get_absolute_url()).content.decode()
    for shown in (r"x\u202egpj.exe", r"a&lt;b&gt;\x07.txt", "山田.txt", r"\xff\x00.bin"):
        assert shown in page
    assert "\u202e" not in page


def test_headers_and_words_that_could_mislead_are_shown_in_escapes_too(engineer, item):
    data = "path,si\u202eze,extents,check\na,1,,o\u202ek\n".encode()
    first = engineer.post(at(item, "add/"), {"file": SimpleUploadedFile("l.csv", data)})
    page = engineer.get(first["Location"]).content.decode()
    assert r"si\u202eze" in page
    assert r"“o\u202ek” means" in page
    assert "\u202e" not in page


@pytest.mark.postgres
def test_headers_and_words_with_a_nul_are_kept_as_a_database_can(engineer, item):
    """PostgreSQL keeps no NUL, in no text and no JSON."""
    data = b"path,size,ext\0ents,check\na\0b.txt,1,,o\0k\n"
    answer = send(engineer, item, data, **{"word-0": "1"})
    assert answer.status_code == 303, answer.content.decode()
    found = FileList.objects.get()
    assert (found.state, found.how["checks"], found.current.total.files) == ("kept", {"o k": 1}, (0, 1, 0, 0))
    press(engineer, at(item, "1/0/sample/"), outcome="opened")
    assert FileSample.objects.get().path == r"a\x00b.txt"


def test_ticks_are_pressed_and_shown(engineer, item, kept):
    back = f"{kept.get_absolute_url()}?folder=2"
    answer = press(engineer, at(item, "1/take/"), folder=["2"], taken="yes", back=back)
    assert answer["Location"] == back
    page = engineer.get(back)
    assert (page.context["taken"], [file.taken for file in page.context["files"]]) == ((2, 61_440), [True])
    press(engineer, at(item, "1/take/"), row=["0"], taken="no", back="https://elsewhere.example.com/")
    assert engineer.get(back).context["taken"] == (1, 10_240)
    assert TakenFiles.objects.count() == 2


@pytest.mark.parametrize("said", [{}, {"row": ["x"]}, {"row": ["99"]}])
def test_ticks_of_nothing_are_said(engineer, item, kept, said):
    assert engineer.post(at(item, "1/take/"), {"taken": "yes", **said}).status_code == 422


def test_a_wanted_line_is_tied_answered_and_taken_out_again(engineer, item, kept):
    line = item.case.wanted.get()
    press(engineer, at(item, "1/tie/?folder=2"), wanted=line.pk, by="folder")
    press(engineer, at(item, "1/tie/"), wanted=line.pk, by="pattern", pattern="*.odt")
    page = engineer.get(at(item))
    (answer,) = page.context["found"].answers
    assert (answer.counts.total, [tie.name for tie in answer.ties]) == (4, ["Photos", "*.odt"])
    press(engineer, at(item, f"ties/{WantedFiles.objects.last().pk}/drop/"))
    assert engineer.get(at(item)).context["found"].answers[0].counts.total == 2


def test_a_sample_is_noted_and_its_kinds_satisfy_the_bench_order(engineer, item, kept):
    line = item.case.wanted.get()
    press(engineer, at(item, "1/tie/?folder=2"), wanted=line.pk, by="folder")
    assert "samples" not in named(facts_for([item])[item.pk])
    press(engineer, at(item, "1/0/sample/"), outcome="structure", words="needs its program")
    assert FileSample.objects.get().path == "Photos/a.jpg"
    assert "cannot be opened here: structure checked" in engineer.get(at(item, "1/0/")).content.decode()
    assert "samples" in named(facts_for([item])[item.pk])


def test_the_form_of_a_result_begins_with_what_the_lists_say(make, engineer, item, kept, noon):
    by, line = make.everyone(), item.case.wanted.get()
    keep_upload(item=item, ready=read_spans([(0, 110, "read")]), by=by, happened=noon)
    derive_coverage(item)
    actions.tie_wanted(found=kept, wanted=line, folder=2, name="Photos", by=by, happened=noon)
    actions.note_sample(found=kept, row=0, outcome="opened", by=by, happened=noon)
    actions.derive(kept)
    form = engineer.get(f"/bench/{item}/result/").context["form"]
    assert (form["files"].initial, form["bytes"].initial) == (3, 61_460)
    assert form[f"wanted-{line.pk}"].initial == "partial"
    assert form[f"words-{line.pk}"].initial == "1 of 2 files whole, 1 partial"
    assert "Photos/a.jpg: opened, and is what its name says" in form["samples"].initial
    assert form["not_recovered"].initial == "Of the files in the list: 1 of 5 files whole, 2 partial, 2 not read."


def test_without_a_list_the_form_of_a_result_begins_empty(item):
    assert result_from(item) == {}


def test_a_withdrawn_list_counts_no_more(make, engineer, item, kept):
    press(engineer, at(item, "1/withdraw/"), because="of the wrong partition")
    page = engineer.get(at(item))
    assert page.context["found"] is None
    assert "of the wrong partition" in page.content.decode()
    assert "Withdrawn" in engineer.get(kept.get_absolute_url()).content.decode()


def test_the_bytes_come_back_as_they_came(engineer, item, kept):
    answer = engineer.get(at(item, "1/original/"))
    assert b"".join(answer.streaming_content) == CSV
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_a_long_list_waits_for_the_worker_and_the_page_asks_again(engineer, item, monkeypatch):
    monkeypatch.setattr("labcases.bench.files.views.AT_ONCE", 10)
    answer = send(engineer, item)
    page = engineer.get(answer["Location"]).content.decode()
    assert "Reading the list" in page
    assert 'hx-trigger="every 2s"' in page
    assert actions.read_waiting() == 1
    assert engineer.get(answer["Location"]).context["page"].paginator.count == 1


def test_as_many_queries_for_many_files_as_for_few(engineer, item):
    send(engineer, item)
    rows = b"".join(b"d%d/f%d.txt,1,%d+1,\n" % (n % 9, n, n) for n in range(3_000))
    send(engineer, item, b"path,size,extents,check\n" + rows)
    few, many = FileList.objects.order_by("number")
    asked = []
    for found in (few, many):
        with CaptureQueriesContext(connection) as ran:
            assert engineer.get(found.get_absolute_url()).status_code == 200
        asked.append(len(ran))
    assert asked[0] == asked[1]


def test_lists_of_several_items_are_asked_in_as_many_queries_as_of_one(make, noon):
    make.profile()
    case, by = make.case(items=3), make.everyone()
    items = list(case.items.select_related("thing", "case__thing"))
    asked = []
    for count, one in enumerate(items, 1):
        data = CSV + b"n%d,1,,\n" % count
        how = {"columns": COLUMNS}
        found = actions.receive(item=one, file=vault.put(data), size=1, name="l", how=how, by=by, happened=noon)
        actions.read_list(found.pk)
        with CaptureQueriesContext(connection) as ran:
            assert len(found_of(items)) == count
        asked.append(len(ran))
    assert len(set(asked)) == 1


def test_the_docket_shows_totals_and_leads_to_the_files(client_as, item, kept):
    page = client_as().get(f"/cases/{item.case}/").content.decode()
    assert "In the list: 4" not in page
    assert "0 of 5 files whole, 1 partial, 4 not known" in page
    assert at(item) in page


@pytest.mark.parametrize("role", [Role.COUNTER, Role.AUDITOR])
def test_who_may_not_examine_looks_and_presses_nothing(client_as, item, kept, role):
    other = client_as(role)
    assert other.get(kept.get_absolute_url()).status_code == 200
    assert other.post(at(item, "1/take/"), {"row": ["0"], "taken": "yes"}).status_code == 403
    assert other.get(at(item, "1/original/")).status_code == 403
    assert not Result.objects.exists()
