"""One case from the counter to the handover, in a browser, as one person in a small lab does it."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core import mail
from django.utils import timezone
from playwright.sync_api import Page, expect

from labcases.cases.models import Case
from labcases.custody.queries import verify_ledger
from labcases.paper.actions import reprint
from labcases.paper.models import Paper
from labcases.updates.tasks import send_waiting
from tests.builders import PASSWORD

PICTURES = Path(__file__).parent / "pictures"
Look = Callable[..., None]


def log_in(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_label("Log-in").fill("sal")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Counter")


def take_in(page: Page, look: Look) -> Case:
    """Job one: log a drive."""
    page.get_by_role("link", name="Take something in").click()
    owner, item = (lambda name: page.locator(f"#id_owner-{name}")), (lambda name: page.locator(f"#id_item-0-{name}"))
    owner("phone").fill("0118 496 0743")
    owner("name").fill("Orrin Vale")
    owner("email").fill("vale@example.com")
    page.get_by_label("2.5″ disk", exact=True).check()
    for name, typed in (("maker", "Pelorus"), ("model", "PL500-2M"), ("serial", "PW2M00817")):
        item(name).fill(typed)
    page.get_by_text("More from the label").click()
    item("sectors").fill("976773168")
    for word in ("nothing seen", "slow", "wear", "on the printed form"):
        page.get_by_label(word, exact=True).check()
    page.get_by_label("In this order").fill("Photographs\nAccounts")
    page.get_by_label("Counted").fill("USB cable")
    look("take-in")
    page.get_by_role("button", name="Take in & print receipt").click()
    page.wait_for_url(lambda url: "take-in" not in url)
    return Case.objects.get()


def picture_of(paper: Paper, name: str) -> None:
    """The first sheet as README shows it, when pictures are asked for."""
    if os.environ.get("PICTURES") == "yes":
        words = ["pdftoppm", "-png", "-singlefile", "-r", "80", "-", str(PICTURES / name)]
        subprocess.run(words, input=reprint(paper), check=True)


def docket(page: Page, address: str, case: Case) -> None:
    page.goto(f"{address}/cases/{case}/")


def examine_and_agree(page: Page, address: str, case: Case, look: Look) -> None:
    docket(page, address, case)
    page.get_by_role("link", name="Record findings").first.click()
    page.get_by_label("heads", exact=True).check()
    page.get_by_label("Found").fill("Head 1 weak over the outer quarter.")
    page.get_by_label("fair").check()
    page.get_by_label("Part needed").fill("head stack")
    look()
    page.get_by_role("button", name="Record findings").click()
    page.get_by_role("link", name="Quote the work").click()
    page.get_by_label("Line 1").fill("Labour")
    page.get_by_label("Amount 1").fill("540.00")
    look()
    page.get_by_role("button", name="Quote the work").click()
    page.get_by_role("link", name="Note the answer").first.click()
    page.get_by_label("yes, go on").check()
    page.get_by_label("How", exact=False).last.fill("by mail today")
    page.get_by_role("button", name="Note the answer").click()


def answer_the_order(page: Page, look: Look, *taps: str) -> None:
    """What the bench order asks, several steps on one page, one tap each."""
    page.get_by_role("link", name="Answer what is asked").click()
    for words in taps:
        page.get_by_label(words, exact=True).check()
    look()
    page.get_by_role("button", name="Note what was done").click()


def assign(page: Page, address: str, case: Case, look: Look) -> None:
    """Job two: a donor part and a destination from stock, once board and identity are looked at."""
    answer_the_order(page, look, "clean, no short", "as on the label", "once the donor part is in")
    page.get_by_role("link", name="Find a donor part").click()
    look("assign-donor")
    page.get_by_role("button", name="Assign D-").first.click()
    page.get_by_role("link", name="Find a destination").click()
    look()
    page.get_by_role("button", name="Assign").first.click()
    expect(page.locator("#parts")).to_contain_text("W-")


def work(page: Page, look: Look) -> None:
    page.get_by_role("link", name="Start the work").click()
    page.get_by_role("button", name="Start the work").click()
    page.get_by_role("link", name="Note a step").first.click()
    page.get_by_label("What was done").fill("First pass, skipping what resists.")
    page.get_by_label("this made the clone", exact=False).check()
    look()
    page.get_by_role("button", name="Note a step").click()
    look("docket")
    answer_the_order(page, look, "frozen, with its digest", "samples of each kind opened")
    page.get_by_role("link", name="Record the result").click()
    page.get_by_label("Files recovered").fill("1206")
    page.get_by_label("whole").first.check()
    look()
    page.get_by_role("button", name="Record the result").click()
    page.get_by_role("link", name="Make it ready").click()
    page.get_by_role("button", name="Make it ready").click()


def tell(page: Page, look: Look) -> None:
    """Job three: a status update."""
    page.get_by_role("link", name="Write to the customer").first.click()
    page.get_by_label("Subject").fill("Your files are ready")
    page.locator("#id_body").fill("You can collect them any day until six.")
    look()
    page.get_by_role("button", name="Read it before it goes").click()
    look()
    page.get_by_role("button", name="Send it").click()
    page.wait_for_url(lambda url: "/cases/" in url)
    send_waiting(timezone.now())


def hand_over(page: Page, address: str, case: Case, look: Look) -> None:
    """Job four: the handover and its report."""
    page.goto(f"{address}/office/{case}/payment/")
    page.get_by_label("card").check()
    page.get_by_role("button", name="Take a payment").click()
    page.goto(f"{address}/handover/{case}/")
    for fate in page.get_by_label("goes out").all():
        fate.check()
    page.get_by_label("known in person").check()
    page.get_by_label("signed on the printed receipt").check()
    look("hand-over")
    page.get_by_role("button", name="Hand over").click()
    page.wait_for_url("**/report/")
    look()
    with page.expect_response(lambda answer: "/papers/" in answer.url) as paper:
        page.get_by_role("button", name="Print handover report").click()
    assert paper.value.headers["content-type"] == "application/pdf"
    docket(page, address, case)
    expect(page.get_by_label("Stages")).to_contain_text("handed over")


def test_a_drive_goes_from_the_counter_to_the_handover(page: Page, lab: Any, make: Any, look: Look) -> None:
    family = make.family(name="Pelorus Minnow", aliases=[("Pelorus", "PL500")], heads=2)
    for _ in range(3):
        make.donor(maker="Pelorus", model="PL500-1M", family=family, parts=["head stack"])
    make.destination(sectors=976_773_168)
    log_in(page, lab.url)
    look()
    case = take_in(page, look)
    examine_and_agree(page, lab.url, case, look)
    assign(page, lab.url, case, look)
    work(page, look)
    tell(page, look)
    hand_over(page, lab.url, case, look)
    case.refresh_from_db()
    assert case.closed
    assert [sent.subject for sent in mail.outbox] == ["Your files are ready"]
    assert verify_ledger().holds
    picture_of(Paper.objects.get(kind="handover-report"), "report")
