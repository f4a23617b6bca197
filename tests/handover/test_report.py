"""The printed report: frozen, honest about what was not done, and under the right head."""

from __future__ import annotations

import csv
import io
import itertools
import subprocess
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from labcases.bench.reading.actions import derive, keep_upload, prepare
from labcases.bench.spantable import How, read_table
from labcases.cases.actions import end_item
from labcases.cases.stages import Stage
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.handover import report
from labcases.handover.actions import (
    NothingHandedOver,
    due_back,
    hand_over,
    print_handover_receipt,
    print_handover_report,
)
from labcases.lab.roles import Role
from labcases.paper.actions import reprint
from labcases.paper.models import Paper


@pytest.fixture
def gone(make, noon):
    """A case that was handed over whole."""

    def run(**about: Any):
        case = make.paid(make.worked(make.case(**about)))
        return leave(make, noon, case)

    return run


def leave(make, noon, case, **about):
    fates = {thing.code: "out" for thing in due_back(case)}
    plain = {"collector_name": "Orrin Vale", "proof": "known", "signed_how": "paper", "fates": fates}
    hand_over(case=case, by=make.everyone(), happened=noon, **{**plain, **about})
    return case


def text_of(paper: Paper, folder: Path) -> str:
    path = folder / "paper.pdf"
    path.write_bytes(reprint(paper))
    run = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return run.stdout.decode()


def printed(make, noon, case) -> Paper:
    return print_handover_report(case=case, by=make.everyone(), happened=noon)


def test_printing_twice_gives_the_same_paper_and_one_event(make, noon, gone):
    case = gone()
    first, second = printed(make, noon, case), printed(make, noon, case)
    assert first == second
    assert Paper.objects.filter(kind="handover-report").count() == 1
    event = Event.objects.get(kind="report-printed")
    assert first.sha256 in EventText.objects.get(sequence=event.sequence, field="because").text


def test_a_report_whose_event_was_lost_to_a_power_cut_gets_it_at_the_next_press(make, noon, gone):
    from labcases.handover import papers

    case = gone()
    papers.report(case.handovers.get(), by=make.everyone(), issued=noon)
    assert not Event.objects.filter(kind="report-printed").exists()
    printed(make, noon, case)
    assert Event.objects.filter(kind="report-printed").count() == 1


def test_there_is_no_report_before_a_handover(make, noon):
    with pytest.raises(NothingHandedOver, match="has been handed over yet"):
        printed(make, noon, make.case())


def test_an_engineer_prints_no_report(make, noon, gone):
    case = gone()
    with pytest.raises(NotAllowed):
        print_handover_report(case=case, by=make.actor(Role.ENGINEER), happened=noon)


def test_a_report_without_letterhead_names_the_lab_nowhere(make, noon, gone, tmp_path):
    make.profile(name="Quayside Media Lab", address="4 Chandlers Row", tax_number="XX 000 0000 00")
    paper = printed(make, noon, gone(letterhead=False, bearer=make.party(name="Garrow Computers")))
    text = " ".join(text_of(paper, tmp_path).split())
    assert "working for Garrow Computers" in text
    assert "Quayside" not in text
    assert "Chandlers" not in text
    with pikepdf.open(io.BytesIO(reprint(paper))) as pdf, pdf.open_metadata() as about:
        assert "Quayside" not in str(pdf.docinfo) + str(about)


def test_an_exit_says_that_nothing_was_recovered_and_why(make, noon, tmp_path):
    case = make.case()
    because = "The platters are bare metal on one side."
    end_item(item=case.items.get(), to=Stage.UNRECOVERABLE, by=make.everyone(), happened=noon, because=because)
    text = text_of(printed(make, noon, leave(make, noon, case)), tmp_path)
    assert "No files were recovered." in text
    assert "The work ended as unrecoverable." in text
    assert because in " ".join(text.split())
    assert "The lab keeps no copy of your data." in text


def test_a_disk_that_lacks_one_sector_is_not_read_to_a_hundred_percent(make, noon, gone, tmp_path):
    text = text_of(printed(make, noon, gone()), tmp_path)
    assert "976,773,167 of 976,773,168 sectors read, 99.99 % (rounded down)" in " ".join(text.split())


def test_what_stays_and_what_goes_later_is_said(make, noon, tmp_path):
    case = make.case(items=2, accessories=[("caddy", 1)])
    first, second = case.items.all()
    make.paid(make.worked(case, first))
    fates = {thing.code: "later" for thing in due_back(case)} | {first.thing.code: "stays"}
    text = " ".join(text_of(printed(make, noon, leave(make, noon, case, fates=fates)), tmp_path).split())
    assert "left with the lab by signature" in text
    assert text.count("still in the lab, goes out later") == 2
    assert str(second) in text  # counted, though it is none of the items reported on


def test_a_posted_report_names_the_carrier_beside_the_number_of_the_parcel(make, noon, tmp_path):
    case = make.paid(make.worked(make.case()))
    parcel = {"manner": "posted", "carrier": "Grey Goose Post", "tracking": "TR-0001", "proof": "tracked"}
    text = " ".join(text_of(printed(make, noon, leave(make, noon, case, **parcel)), tmp_path).split())
    assert "By post or courier, Grey Goose Post, tracking number TR-0001: Orrin Vale" in text


def test_the_whole_custody_record_travels_inside(make, noon, gone):
    case = gone()
    with pikepdf.open(io.BytesIO(reprint(printed(make, noon, case)))) as pdf:
        rows = list(csv.DictReader(io.StringIO(pdf.attachments["custody.csv"].get_file().read_bytes().decode())))
    assert [row["what"].rpartition(" ")[2] for row in (rows[0], rows[-1])] == ["received", "over"]
    assert all(was["to"] == now["from"] for was, now in itertools.pairwise(rows))


def test_the_price_is_between_the_lab_and_who_pays(make, noon, gone, tmp_path):
    text = text_of(printed(make, noon, gone(payer=make.party(name="An insurer"))), tmp_path)
    assert "300" not in text
    assert "EUR" not in text


def test_the_drawn_signature_stands_on_the_report(make, noon, gone):
    from tests.paper.sample import photograph

    case = make.paid(make.worked(make.case()))
    leave(make, noon, case, signature=photograph(1, (300, 90)), signed_how="screen")
    with pikepdf.open(io.BytesIO(reprint(printed(make, noon, case)))) as pdf:
        alts = {str(thing.Alt) for thing in pdf.objects if isinstance(thing, pikepdf.Dictionary) and "/Alt" in thing}
    assert "Signature of Orrin Vale" in alts


def test_the_report_follows_the_labs_paper(make, noon, gone):
    make.profile(paper_size="Letter")
    with pikepdf.open(io.BytesIO(reprint(printed(make, noon, gone())))) as pdf:
        assert [round(float(edge)) for edge in pdf.pages[0].MediaBox][2:] == [612, 792]


# --- the receipt to sign --------------------------------------------------------------------------------------------


def test_the_receipt_to_sign_lists_what_is_due_and_stays_the_same_while_nothing_changes(make, noon, tmp_path):
    case = make.case(accessories=[("screws", 4)])
    first, again = (print_handover_receipt(case=case, by=make.everyone(), happened=noon) for _ in range(2))
    assert first == again
    text = text_of(first, tmp_path)
    assert all(str(thing) in text for thing in due_back(case))
    assert Event.objects.filter(kind="paper-printed").count() == 1


def test_there_is_nothing_to_sign_for_when_nothing_is_here(make, noon, gone):
    with pytest.raises(NothingHandedOver):
        print_handover_receipt(case=gone(), by=make.everyone(), happened=noon)


# --- pure -----------------------------------------------------------------------------------------------------------


def test_the_wanted_list_counts_each_line_by_its_best_answer():
    whole, lost = report.Answer("P1", "whole", ""), report.Answer("P2", "not", "")
    lines = [report.Wanted("a", (lost, whole)), report.Wanted("b", (lost,)), report.Wanted("c")]
    assert report.tally(lines) == "1 of 3 wanted things whole, 1 not recovered, 1 no result"


def test_a_list_that_nobody_answered_is_not_summed_up():
    assert report.tally([report.Wanted("a")]) == ""


def test_files_in_a_list_are_counted_by_kind(make, noon):
    from labcases.bench.files import actions
    from labcases.core import vault
    from labcases.handover.queries import report_of
    from tests.bench.files_given import COLUMNS, CSV

    case, by = make.paid(make.worked(make.case())), make.everyone()
    how = {"columns": COLUMNS}
    about = {"item": case.items.get(), "file": vault.put(CSV), "size": len(CSV), "name": "l.csv", "how": how}
    actions.read_list(actions.receive(by=by, happened=noon, **about).pk)
    (result,) = report_of(leave(make, noon, case).handovers.get(), by=by).results
    assert [(one.kind, one.partial, one.unknown) for one in result.kinds] == [("documents", 1, 2), ("pictures", 0, 2)]


def test_what_was_read_stands_in_it_as_a_picture_and_its_table(make, noon, tmp_path):
    case = make.paid(make.worked(make.case()))
    item = case.items.get()
    told = read_table({"first": ["0"], "sectors": ["976773167"]}, How(), total=item.sectors)
    keep_upload(
        item=item, ready=prepare(told, data=b"x", name="pass 1", source="hand"), by=make.everyone(), happened=noon
    )
    derive(item)
    said = " ".join(text_of(printed(make, noon, leave(make, noon, case)), tmp_path).split())
    assert "whole medium 976,773,168 976,773,167 99.99 %" in said
    assert "whole medium 0 0 0 0 1" in said  # not read: one sector that was not reached
    assert "The reading stands" not in said  # the work is over
