"""The technical report: everything found and done at the bench, once for each state of the case."""

from __future__ import annotations

import subprocess
from datetime import timedelta

import pytest

from labcases.bench.actions import examine, note_step
from labcases.bench.dumps.actions import keep_dump
from labcases.bench.evidence.actions import show_findings
from labcases.bench.protocols.actions import answer, lift
from labcases.bench.reading.actions import derive, keep_upload, prepare
from labcases.bench.spantable import How, read_table
from labcases.bench.stations.actions import begin, end, keep_equipment
from labcases.bench.stations.models import Port
from labcases.bench.technical.actions import NothingToReport, print_technical_report
from labcases.custody.models import Event
from labcases.custody.photos.actions import keep, photograph
from labcases.custody.photos.pictures import take_in
from labcases.lab.roles import Role
from labcases.paper.actions import reprint
from labcases.paper.models import Paper
from tests import photographs

FOUND = {
    "faults": ["heads"],
    "found": "Head 1 bent.",
    "prospects": "fair",
    "readings": [["5 V to ground", "1.2", "kΩ"]],
}


@pytest.fixture
def words(tmp_path):
    """The words of a paper, in one line, as pdftotext (poppler) reads them."""

    def read(paper):
        (tmp_path / "paper.pdf").write_bytes(reprint(paper))
        told = subprocess.run(
            ["pdftotext", "-raw", "paper.pdf", "-"], cwd=tmp_path, capture_output=True, text=True, check=True
        )
        return " ".join(told.stdout.split())

    return read


@pytest.fixture
def item(make, noon):
    make.profile()
    made = make.item(behaviours=["clicks"])
    examine(item=made, by=make.everyone(), happened=noon, **FOUND)
    return made


def test_it_says_what_was_found_measured_done_changed_lifted_and_passed_by(make, noon, item, words):
    by = make.everyone()
    lift(item=item, key="inside", because="The owner wants it tried.", by=by, happened=noon)
    answer(item=item, answers={"board": ("passed", "checked at the examination")}, by=by, happened=noon)
    keep_dump(kind="rom", outcome="whole", item=item, data=b"rom", again=b"rom", by=by, happened=noon)
    note_step(item=item, what="Cleaned the contacts.", change="Solder added to two pads.", by=by, happened=noon)
    said = words(print_technical_report(case=item.case, by=by, happened=noon))
    for expected in (
        "Head 1 bent.", "5 V to ground: 1.2 kΩ", "Cleaned the contacts.", "Solder added to two pads.",
        "The owner wants it tried.", "Passed by: Look the board over", "Checked at the examination", "alike",
    ):  # fmt: skip
        assert expected in said, expected


def test_hours_of_machines_stand_apart_from_those_of_people(make, noon, item, words):
    by = make.everyone()
    lift(item=item, key="inside", because="x", by=by, happened=noon)
    keep_equipment(name="Bench machine 1", kind="machine", ports=["1"], by=by, happened=noon)
    session = begin(port=Port.objects.get(), item=item, by=by, happened=noon)
    end(session=session, ending="finished", hands_on=35, by=by, happened=noon + timedelta(hours=7))
    said = words(print_technical_report(case=item.case, by=by, happened=noon))
    assert "1 session under power: 7 h 00 min of machines, 35 min of people." in said


def test_the_photos_that_show_the_newest_findings_stand_in_it(make, noon, item, words):
    by, data = make.everyone(), photographs.photograph("bent")
    (photo,) = photograph(thing=item.thing, kept=[keep(take_in(data), data)], by=by, happened=noon, words="bent slider")
    show_findings(examination=item.examinations.get(), photos={photo: "heads"}, by=by, happened=noon)
    assert "heads: bent slider" in words(print_technical_report(case=item.case, by=by, happened=noon))


def test_it_is_the_same_paper_until_something_happens(make, noon, item):
    by = make.everyone()
    first = print_technical_report(case=item.case, by=by, happened=noon)
    assert print_technical_report(case=item.case, by=by, happened=noon) == first
    assert Event.objects.filter(kind="technical-report-printed").count() == 1
    note_step(item=item, what="Looked again.", by=by, happened=noon)
    assert print_technical_report(case=item.case, by=by, happened=noon) != first


def test_the_coverage_stands_in_it_as_a_picture_and_as_its_table(make, noon, item, words):
    by = make.everyone()
    told = read_table({"first": ["0"], "sectors": ["976773167"]}, How(everything="read"), total=item.sectors)
    keep_upload(item=item, ready=prepare(told, data=b"x", name="pass 1", source="hand"), by=by, happened=noon)
    derive(item)
    paper = print_technical_report(case=item.case, by=by, happened=noon)
    said = words(paper)
    assert "whole medium 976,773,168 976,773,167 99.99 %" in said
    assert "all sectors unreached 1 under 0.01 %" in said
    assert "The reading stands at sector 976,773,166" in said


def test_nothing_examined_is_nothing_to_report(make, noon):
    make.profile()
    with pytest.raises(NothingToReport):
        print_technical_report(case=make.case(), by=make.everyone(), happened=noon)


def test_it_is_printed_from_the_docket_by_an_engineer_and_listed_for_everybody(item, client_as):
    address = f"/bench/{item.case}/technical-report/"
    assert address in client_as(Role.AUDITOR).get(item.case.get_absolute_url()).content.decode()
    assert client_as(Role.COUNTER).post(address).status_code == 403
    assert client_as(Role.ENGINEER).post(address).status_code == 303
    paper = Paper.objects.get(kind="technical-report")
    assert paper.get_absolute_url() in client_as(Role.AUDITOR).get(address).content.decode()
