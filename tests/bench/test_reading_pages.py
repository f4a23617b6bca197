"""The pages of reading, pressed as an engineer presses them."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from typing import Any

import openpyxl
import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from labcases.bench.reading import queries
from labcases.bench.reading.actions import Noted, derive, keep_layout, note_progress
from labcases.bench.reading.models import CoverageUpload, HeadMap, HeadVerdict, ItemCoverage, PlanVersion, ReadingArea
from labcases.bench.reading.parts import typed
from labcases.bench.reading.tasks import replan_waiting, tidy_plans
from labcases.cases.queries import facts_for
from labcases.core import vault
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.paper.models import Paper

TABLE = b"Offset;Bytes;Result\n0;5120;good\n5120;512;lost\n10240;5120;Good\n"
HEADS = b"first,count,head\n0,500000000,0\n500000000,476773168,1\n"


@pytest.fixture
def bench(make, client_as):
    """An engineer at the page of an item: (client, item, address of a page of it)."""
    make.profile()
    item = make.item()
    client = client_as(Role.ENGINEER)
    return client, item, lambda name: f"/bench/{item.thing.printed_code}/{name}"


def upload(bench: Any, data: bytes, purpose: str = "coverage", **said: Any) -> Any:
    """Send a table, then say what its columns mean; the answer of the second step."""
    client, _, at = bench
    first = client.post(at(f"tables/{purpose}/"), {"file": SimpleUploadedFile("spans.csv", data)})
    assert first.status_code == 303, first.content.decode()
    page = client.get(first.headers["Location"])
    return client.post(first.headers["Location"], initial(page) | said)


def initial(page: Any) -> dict[str, Any]:
    """What the form on a page would send as it stands."""
    form = page.context["form"]
    values = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    return {name: value for name, value in values.items() if value not in (None, "", False)}


def test_a_table_is_uploaded_in_two_steps_and_its_words_are_asked_for(bench):
    client, item, at = bench
    asked = upload(bench, TABLE)
    assert asked.status_code == 422
    assert "“lost” means" in asked.content.decode()
    done = upload(bench, TABLE, **{"word-1": "unreadable"})
    assert done.status_code == 303
    made = ItemCoverage.objects.get(item=item).derivation
    assert (made.read, made.unreadable) == (20, 1)
    page = client.get(at("coverage/")).content.decode()
    assert "under 0.01 %" in page
    assert "0.00 %" in page


def test_what_the_columns_and_words_meant_is_remembered_for_the_next_table(bench):
    upload(bench, TABLE, **{"word-1": "unreadable"})
    assert upload(bench, TABLE.replace(b"10240;", b"20480;")).status_code == 303
    second = CoverageUpload.objects.get(number=2)
    assert second.how["states"] == {"good": "read", "lost": "unreadable"}
    assert second.how["unit"] == "bytes"


def test_a_bad_row_is_refused_with_its_number_and_nothing_is_kept(bench):
    done = upload(bench, TABLE + b"-512;512;good\n", **{"word-1": "unreadable"})
    assert done.status_code == 422
    assert "Row 5: the beginning is -512; it cannot be negative. Nothing was kept." in done.content.decode()
    assert not CoverageUpload.objects.exists()


def test_a_table_of_somebody_elses_session_is_not_opened(bench, client_as):
    client, _, at = bench
    digest = vault.put(b"something of the vault that is no table of theirs")
    assert client.get(at(f"tables/coverage/{digest}/")).status_code == 404


def test_the_second_partition_two_fifths_is_entered_by_hand(bench, make, noon):
    client, item, at = bench
    parts = typed("1 2048 1000000 System\n2 2000000 1000000 Recordings", item.sectors)
    keep_layout(item=item, kind="typed", parts=parts, by=make.everyone(), happened=noon)
    said = {"where": "part-2", "share": "two fifths", "side": "beginning", "state": "read", "pass_number": "1"}
    assert client.post(at("coverage/by-hand/"), said).status_code == 303
    read = queries.read_of(item)
    assert read.coverage.spans("read") == [(2_000_000, 400_000)]
    assert [row.share for row in read.counted_parts()] == ["0.00", "40.00"]
    assert CoverageUpload.objects.get().name == "partition 2 · Recordings, two fifths from beginning"


@pytest.mark.parametrize("state", ["doubtful", "take_back"])
def test_sectors_are_doubted_or_taken_back_only_with_a_reason(bench, state):
    client, _item, at = bench
    said = {"where": "whole", "share": "1/2", "side": "end", "state": state, "pass_number": "1"}
    refused = client.post(at("coverage/by-hand/"), said)
    assert "Say why these sectors are doubted or taken back." in refused.content.decode()
    assert client.post(at("coverage/by-hand/"), said | {"because": "wrong head"}).status_code == 303
    assert CoverageUpload.objects.get().because == "wrong head"


def test_an_upload_is_withdrawn_on_its_page(bench):
    client, item, at = bench
    upload(bench, TABLE, **{"word-1": "unreadable"})
    assert client.post(at("coverage/1/withdraw/"), {"because": "the bridge had translated"}).status_code == 303
    assert ItemCoverage.objects.get(item=item).derivation.read == 0
    page = client.get(at("coverage/1/")).content.decode()
    assert "the bridge had translated" in page
    assert client.get(at("coverage/1/file/")).content == TABLE


@pytest.mark.parametrize(
    ("query", "expected"),
    [("?part=2", "Partition 2"), ("?from=100&to=1,199", "Sectors 100 to 1,199"), ("", "The whole medium")],
)
def test_the_picture_is_looked_at_closer_by_address(bench, make, noon, query, expected):
    client, item, at = bench
    parts = typed("1 2048 1000000\n2 2000000 1000000 Recordings", item.sectors)
    keep_layout(item=item, kind="typed", parts=parts, by=make.everyone(), happened=noon)
    upload(bench, TABLE, **{"word-1": "unreadable"})
    page = client.get(at(f"coverage/{query}")).content.decode()
    assert f"<h2>{expected}" in page
    assert '<svg class="lanes"' in page


@pytest.mark.parametrize("query", ["?part=9", "?from=9&to=3", "?from=x", "?to=976773168", "?from=" + "9" * 40])
def test_an_address_that_shows_nothing_says_so_and_shows_the_whole(bench, query):
    client, _, at = bench
    upload(bench, TABLE, **{"word-1": "unreadable"})
    page = client.get(at(f"coverage/{query}"))
    assert page.status_code == 200
    assert 'class="said wrong"' in page.content.decode()


def test_heads_are_uploaded_judged_and_decided_over(bench):
    client, item, at = bench
    assert upload(bench, HEADS, "heads").status_code == 303
    assert HeadMap.objects.get().heads == [0, 1]
    upload(bench, b"first,sectors,state\n0,500000000,ok\n500000000,400000000,bad\n")
    rows = {row.said.number: row for row in queries.read_of(item).head_rows}
    assert rows[0].state == "good"
    said = {"state": HeadVerdict.State.WEAK, "because": "scrapes at the outer edge"}
    assert client.post(at("heads/0/"), said).status_code == 303
    assert "scrapes at the outer edge" in client.get(at("heads/")).content.decode()
    assert client.post(at("heads/0/"), {"state": "computed", "because": "was another noise"}).status_code == 303
    assert queries.read_of(item).head_rows[0].verdict is None


def test_two_heads_that_claim_one_sector_are_refused_with_their_rows(bench):
    done = upload(bench, HEADS.replace(b"500000000,476", b"499999999,476"), "heads")
    assert "Rows 2 and 3 give sector 499,999,999 to two heads, 0 and 1. Nothing was kept." in done.content.decode()
    assert not HeadMap.objects.exists()


def test_a_low_sector_on_an_inner_track_warns_the_next_disk_of_the_family(bench, make, client_as):
    client, _item, _ = bench
    make.family(aliases=[("", "PL500")])
    first, second = make.item(), make.item()
    for at_item, low in ((first, ""), (second, "on")):
        where = f"/bench/{at_item.thing.printed_code}/"
        sent = client.post(f"{where}tables/heads/", {"file": SimpleUploadedFile("h.csv", HEADS)})
        said = initial(client.get(sent.headers["Location"])) | {"low_is_outer": low}
        client.post(sent.headers["Location"], {name: value for name, value in said.items() if value})
    assert "“outer” and “inner” are turned round" in client.get(f"/bench/{first}/heads/").content.decode()
    assert "On another disk of this family" in client.get(f"/bench/{second}/heads/").content.decode()


def test_what_is_wanted_is_tied_to_a_partition_and_its_share_is_said(bench, make, noon):
    client, item, at = bench
    wanted = item.case.wanted.get()
    said = {"wanted": str(wanted.pk), "where": "numbers", "first": "5", "sectors": "15", "side": "beginning"}
    assert client.post(at("areas/tie/"), said).status_code == 303
    upload(bench, TABLE, **{"word-1": "unreadable"})
    row = queries.read_of(item).counted_areas()[0]
    assert (row.name, row.share, row.counts["read"]) == ("1. Photographs", "33.33", 5)
    area = ReadingArea.objects.get()
    assert client.post(at(f"areas/{area.pk}/drop/"), {}).status_code == 303
    assert queries.read_of(item).areas == []


def test_where_a_file_lies_comes_from_a_table_too(bench):
    _client, item, _ = bench
    said = {"wanted": str(item.case.wanted.get().pk), "name": "DCIM/0001.jpg"}
    assert upload(bench, b"start,end\n0,4\n8,9\n", "area", **said).status_code == 303
    area = ReadingArea.objects.get()
    assert (area.sectors, area.name) == (5, "DCIM/0001.jpg")


@pytest.mark.parametrize(
    ("typed_lines", "sentence"),
    [
        ("1 0 10\n1 20 10", "Two parts have the same number."),
        ("1 976773168 1", "Row 1: 1 sector from sector 976,773,168 runs past the end"),
        ("first 0 10", "Row 1: write number, first sector, number of sectors and a name."),
    ],
)
def test_a_layout_that_cannot_be_is_refused_beside_its_field(bench, typed_lines, sentence):
    client, _, at = bench
    page = client.post(at("layout/"), {"typed": typed_lines})
    assert page.status_code == 422
    assert sentence in page.content.decode()


def test_a_layout_comes_from_what_the_layout_reader_printed(bench):
    client, item, at = bench
    printed = b'{"kind": "gpt", "status": "ok", "sector_bytes": 512, "warnings": [], "parts": [{"number": 1, '
    printed += b'"first_lba": 2048, "sectors": 4096, "type_name": "basic data", "name": "Studio", "volume": null}]}'
    sent = client.post(at("layout/"), {"file": SimpleUploadedFile("layout.json", printed)})
    assert sent.status_code == 303
    assert queries.read_of(item).parts[0]["name"] == "Studio"


def test_a_plan_is_kept_shown_and_exported_and_says_when_it_is_overtaken(bench):
    client, item, at = bench
    upload(bench, TABLE, **{"word-1": "unreadable"})
    said = {"pass_number": "1", "damage": ["outer"], "damage_spans": "1000 50", "steps": "2048 128", "tried": "on"}
    assert client.post(at("plan/"), said).status_code == 303
    plan = PlanVersion.objects.get()
    assert plan.sectors == item.sectors - 21
    page = client.get(at("plan/1/")).content.decode()
    assert "What was read has changed since" not in page
    rows = b"".join(client.get(at("plan/1/?format=csv"))).decode().splitlines()
    assert rows[0] == "order,first sector,sectors,direction,heads,step,part,name,why"
    assert sum(int(line.split(",")[2]) for line in rows[1:]) == plan.sectors
    book = openpyxl.load_workbook(io.BytesIO(client.get(at("plan/1/?format=xlsx")).content))
    assert book.active.max_row == len(rows)
    upload(bench, b"first,sectors\n30,5\n")
    assert "What was read has changed since" in client.get(at("plan/1/")).content.decode()


def test_progress_gives_a_forecast_with_its_numbers(bench, make, noon):
    client, item, at = bench
    assert "no readings yet" in client.get(at("forecast/")).content.decode()
    noted = [Noted(noon + timedelta(minutes=10 * n), 600_000 * n) for n in range(12)]
    note_progress(item=item, noted=noted, by=make.everyone(), happened=noon)
    page = client.get(at("forecast/")).content.decode()
    assert "3,600,000 sectors an hour; 976,773,168 sectors left" in page
    assert "12 readings" in page
    said = {"pass_number": "1", "sectors": "5", "happened": "2026-03-02T15:00"}
    assert "fewer than the 6,600,000 noted" in client.post(at("forecast/note/"), said).content.decode()
    assert client.post(at("forecast/note/"), said | {"anew": "on"}).status_code == 303


def test_older_readings_are_folded_away_and_what_is_too_much_for_a_page_is_in_the_csv(bench, make, noon, monkeypatch):
    client, item, at = bench
    noted = [Noted(noon + timedelta(minutes=10 * n), 600_000 * n) for n in range(30)]
    note_progress(item=item, noted=noted, by=make.everyone(), happened=noon)
    shown, folded = client.get(at("forecast/")).content.decode().split('<details class="older">')
    assert "18 older readings</summary>" in folded
    assert ("17,400,000" in shown, "10,800,000" in shown, "10,200,000" in shown) == (True, True, False)  # the last 12
    assert ("10,200,000" in folded, "600,000</td>" in folded) == (True, True)
    monkeypatch.setattr("labcases.bench.reading.views.ahead.MOST_SHOWN", 20)
    page = client.get(at("forecast/")).content.decode()
    assert "30 readings, the newest 20 on this page" in page
    assert len(b"".join(client.get(at("forecast/?format=csv"))).decode().splitlines()) == 1 + 30


def test_the_docket_shows_the_picture_and_facts_know_the_counts(bench):
    client, item, _ = bench
    upload(bench, TABLE, **{"word-1": "unreadable"})
    page = client.get(item.case.get_absolute_url()).content.decode()
    section = page[page.index('id="reading"') :]
    assert '<svg class="lanes"' in section
    assert "0.00 % read" in section
    facts = facts_for([item])[item.pk]
    assert (facts.coverage_read, facts.coverage_total) == (20, item.sectors)


def test_the_docket_asks_as_often_for_twelve_items_as_for_two(make):
    def asked(case: Any) -> int:
        with CaptureQueriesContext(
            connection,
        ) as said:
            queries.section_of(case)
        return len(said)

    assert asked(make.case(items=2)) == asked(make.case(items=12))


def test_the_result_is_filled_in_from_the_coverage(bench):
    client, _item, at = bench
    upload(bench, TABLE, **{"word-1": "unreadable"})
    page = client.get(at("result/")).content.decode()
    assert re.search(r'name="sectors_read"[^>]*value="20"|value="20"[^>]*name="sectors_read"', page)


def test_the_coverage_is_printed_once_as_it_stands(bench):
    client, _item, at = bench
    upload(bench, TABLE, **{"word-1": "unreadable"})
    first = client.post(at("coverage/print/"), {})
    again = client.post(at("coverage/print/"), {})
    assert first.headers["Location"] == again.headers["Location"]
    assert vault.get(Paper.objects.get().sha256).startswith(b"%PDF")


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
@pytest.mark.parametrize("name", ["tables/coverage/", "coverage/by-hand/", "layout/", "areas/tie/", "forecast/note/"])
def test_only_an_engineer_writes_here_and_others_look(bench, client_as, role, name):
    _, _, at = bench
    other = client_as(role)
    assert other.get(at("coverage/")).status_code == 200
    assert other.get(at(name)).status_code == 403


def test_an_item_of_unknown_size_says_what_to_do_first(make, client_as):
    make.profile()
    item = make.item(sectors=None)
    page = client_as(Role.ENGINEER).get(f"/bench/{item}/coverage/").content.decode()
    assert "Nobody has noted how many sectors it has." in page
    assert derive(item) is None


def test_the_reading_stands_where_the_newest_upload_ends(bench):
    client, item, at = bench
    upload(bench, b"first,sectors\n0,1000\n5000,200\n", everything="read")
    upload(bench, b"first,sectors\n9000,100\n8000,100\n", everything="skipped", pass_number="2")
    page = client.get(at("coverage/")).content.decode()
    assert re.search(r"The reading stands at sector <span[^>]*>8,000</span>.*upload 2, pass 2, ends", page)
    assert "the reading stands here" in page
    assert "The reading stands at sector" in client.get(item.case.get_absolute_url()).content.decode()
    client.post(at("coverage/2/withdraw/"), {"because": "of the port beside it"})
    assert ">5,199</span>" in client.get(at("coverage/")).content.decode()


@pytest.mark.parametrize(
    ("family", "recording", "sentence"),
    [
        ({"low_not_outer": True}, "", "A low sector number is not an outer track in the family Pelorus Gannet"),
        ({"shingled": True}, "", "It is shingled, so a low sector number is no outer track"),
        ({}, "shingled", "It is shingled, so a low sector number is no outer track"),
    ],
)
def test_where_a_low_number_is_no_outer_track_the_import_says_so_and_starts_without_the_tick(
    bench, make, family, recording, sentence
):
    client, item, at = bench
    item.family, item.recording = make.family("Pelorus Gannet", **family), recording
    item.save(update_fields=["family", "recording"])
    assert sentence in client.get(at("tables/heads/")).content.decode()
    first = client.post(at("tables/heads/"), {"file": SimpleUploadedFile("heads.csv", HEADS)})
    page = client.get(first.headers["Location"])
    assert sentence in page.content.decode()
    assert page.context["form"]["low_is_outer"].value() is False
    assert client.post(first.headers["Location"], initial(page)).status_code == 303
    kept = HeadMap.objects.get()
    assert not kept.low_is_outer
    assert sentence in kept.notes[0]
    assert sentence in client.get(at("heads/")).content.decode()


def test_a_plan_is_made_anew_by_itself_as_coverage_comes_in(bench):
    client, _, at = bench
    upload(bench, b"first,sectors\n0,1000\n", everything="read")
    form = client.get(at("plan/")).context["form"]
    said = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    client.post(at("plan/"), {name: value for name, value in said.items() if value} | {"damage_spans": "500000 10"})
    assert replan_waiting() == 0
    upload(bench, b"first,sectors\n1000,1000\n", everything="read")
    assert replan_waiting() == 1
    assert replan_waiting() == 0
    first, second = PlanVersion.objects.order_by("number")
    assert second.asked == first.asked
    assert (first.sectors - second.sectors, second.by) == (1000, None)
    assert queries.lines_of(second)["first"].min() == 2000
    page = client.get(at("plan/1/")).content.decode()
    assert "the same question, asked again of what has come in since" in page
    assert "by itself" in client.get(at("plan/")).content.decode()
    assert Event.objects.filter(kind="reading-planned").count() == 1  # nobody asked for the second


def test_overtaken_plans_of_the_worker_are_cleared_away_and_those_of_people_stay(bench):
    client, _, at = bench
    upload(bench, b"first,sectors\n0,1000\n", everything="read")
    client.post(at("plan/"), initial(client.get(at("plan/"))))
    for begin in (1000, 2000):
        upload(bench, f"first,sectors\n{begin},1000\n".encode(), everything="read")
        assert replan_waiting() == 1
    assert tidy_plans() == 0  # somebody may be reading by it just now
    with time_machine.travel(timezone.now() + timedelta(hours=2)):
        assert tidy_plans() == 1
    assert list(PlanVersion.objects.order_by("number").values_list("number", flat=True)) == [1, 3]
