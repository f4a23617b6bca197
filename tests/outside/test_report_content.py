"""What a handover report says, against the list of ISO/IEC 17025:2017, 7.8.2.1.

Source: ISO/IEC 17025:2017, *General requirements for the competence of testing and calibration laboratories*,
7.8.2.1 "Common requirements for reports", items a) to p). The list is known from memory, in our own words; the
standard's text is not at hand. A statement must stand in the printed file itself, read back with poppler's pdftotext.
"""

from __future__ import annotations

import re
import subprocess
from datetime import timedelta
from pathlib import Path

import pytest

from labcases.bench.actions import note_step
from labcases.cases.models import Item
from labcases.handover.actions import due_back, hand_over, print_handover_report
from labcases.paper.actions import reprint


@pytest.fixture
def pages(make, noon, tmp_path: Path) -> list[str]:
    """The pages of the report of a whole case, blanks and line ends taken together."""
    make.profile(name="Quayside Media Lab", address="4 Chandlers Row\nPort Ellery QX1 2ZZ", time_zone="UTC")
    owner = make.party(name="Ada Marsh", address="12 Marsh Lane\nPort Ellery QX3 1AA")
    case = make.case(items=[make.new_item(serial="PW2M000777", marks=["dents"])], owner=owner)
    item, by = case.items.get(), make.everyone()
    change = "The cover seal was broken, since the heads cannot be reached otherwise."
    make.worked(case, not_recovered="Nineteen photographs lie on unreadable sectors.")
    note_step(
        item=Item.objects.get(pk=item.pk), what="Read twice.", method="three passes, read-only bridge", change=change,
        by=by, happened=noon + timedelta(days=2),
    )  # fmt: skip
    make.paid(case)
    gone = noon + timedelta(days=3)
    fates = {thing.code: "out" for thing in due_back(case)}
    hand_over(
        case=case, fates=fates, collector_name="Ada Marsh", proof="known", signed_how="paper", by=by, happened=gone
    )
    path = tmp_path / "report.pdf"
    paper = print_handover_report(case=case, by=by, happened=gone + timedelta(minutes=3))
    path.write_bytes(reprint(paper))
    run = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return [" ".join(page.split()) for page in run.stdout.decode().split("\f")[:-1]]


REQUIRED = {
    "a) a title": r"Handover report 1",
    "b) name and address of the laboratory": r"Laboratory Quayside Media Lab 4 Chandlers Row Port Ellery QX1 2ZZ",
    "c) where the activities were performed": r"Work done at the laboratory’s address above",
    "d) a clear identification of the end": r"— End of report 26-00001-O, handover 1 —",
    "e) name and contact of the customer": r"Owner Ada Marsh Address 12 Marsh Lane Port Ellery QX3 1AA",
    "f) the method used": r"Method: three passes, read-only bridge\.",
    "g) the item: description": r"26-00001-P1-\w 2\.5″ disk, Pelorus PL500-2M",
    "g) the item: unambiguous identification": r"PW2M000777",
    "g) the item: condition": r"Condition on receipt Received .* dents",
    "h) the date of receipt": r"Condition on receipt Received .* Mon 2 Mar 2026",
    "i) the dates of the activity": r"Work Mon 2 Mar 2026 to Wed 4 Mar 2026",
    "j) the date of issue": r"Issued Thu 5 Mar 2026, 12:03 UTC",
    "l) the results apply to the items as received": r"The results relate only to the items listed above",
    "m) results, with units": r"1,204 files, 5,368,709,120 bytes: 5\.4 GB \(5 GiB\)\. 976,773,167 of 976,773,168",
    "n) additions, deviations, exclusions": r"Unavoidable change: The cover seal was broken",
    "o) who authorises the report": r"This report is authorised by Person \d+, manager",
    "p) results from external providers": r"Results from others: none\.",
}  # k), the plan of sampling, does not apply: nothing is sampled from a larger lot


@pytest.mark.parametrize("requirement", REQUIRED)
def test_the_report_answers_the_list_of_the_standard(pages, requirement):
    assert re.search(REQUIRED[requirement], " ".join(pages)), requirement


def test_each_page_is_recognised_as_a_part_of_one_report(pages):
    """7.8.2.1 d): unique identification that all its components are portions of a complete report."""
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert "Handover report 1" in page
        assert f"26-00001-O · Page {number} of {len(pages)}" in page
    assert [("End of report" in page) for page in pages] == [False] * (len(pages) - 1) + [True]


def test_the_one_who_opened_the_file_reads_what_the_trade_adds(pages):
    """Common practice of the trade, no source: loss with its cause, cautions, keeping, custody."""
    text = " ".join(pages)
    assert "Nineteen photographs lie on unreadable sectors." in text
    assert "Copy the recovered files twice now" in text
    assert "Do not use the returned medium again" in text
    assert "The lab keeps its copy for 14 days, until Thu 19 Mar 2026" in text
    assert re.search(r"Custody record .* received .* handed over", text)
