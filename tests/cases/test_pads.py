"""Paper pads: a code is reserved, printed, typed in once under the true time, or void with a reason."""

from __future__ import annotations

import re
import subprocess
from datetime import datetime, timedelta

import pikepdf
import pytest
import zxingcpp
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from labcases.cases import actions
from labcases.cases.models import Case, Draft
from labcases.cases.pads import actions as pads
from labcases.cases.pads.models import ReservedCode
from labcases.core import codes
from labcases.core.refused import Refused
from labcases.custody.models import Event
from labcases.lab.models import Profile
from labcases.lab.roles import Role
from labcases.paper.actions import reprint
from labcases.paper.models import Paper
from tests.cases.filled import TAKE_IN, filled


@pytest.fixture
def pad(make, noon):
    make.profile(country="GB")
    return pads.reserve_pad(count=3, by=make.everyone(), happened=noon)


@pytest.fixture
def counter(client_as):
    return client_as(Role.COUNTER)


def log(make, sheet: ReservedCode, happened: datetime) -> Case:
    about = {"items": [make.new_item()], "reserved": sheet, "by": make.everyone(), "happened": happened}
    return actions.log_drive(owner=make.party(), **about)


def typed_from(sheet: ReservedCode, **differs: str) -> dict[str, str]:
    when = timezone.localtime(sheet.happened + timedelta(hours=3)).strftime("%Y-%m-%dT%H:%M")
    about = {"once": str(sheet.draft_key), "reserved": sheet.code, "happened": when}
    return filled(**about | differs)


# --- the codes --------------------------------------------------------------------------------------------------------


def test_no_case_gets_a_code_that_is_reserved(pad, make):
    taken = {make.case().code, *(sheet.code for sheet in pad)}
    assert len(taken) == 4
    assert all(codes.is_valid(code) for code in taken)


def test_a_case_from_a_sheet_has_its_code_and_the_time_it_really_happened(pad, make, noon):
    later = noon + timedelta(hours=5)
    case = log(make, pad[1], later)
    assert (case.code, case.happened) == (pad[1].code, later)
    assert case.items.get().thing.code.startswith(case.code[:-1])
    assert Event.objects.get(kind="received").happened == later
    assert ReservedCode.objects.get(code=case.code).case == case


def test_a_sheet_becomes_one_case_only(pad, make, noon):
    first = log(make, pad[0], noon)
    with pytest.raises(pads.SheetIsSpent, match="is a case already"):
        log(make, pad[0], noon)
    assert list(Case.objects.all()) == [first]


def test_the_claim_itself_lets_only_the_first_through(pad, make):
    pads.claim(pad[0], make.case())
    with pytest.raises(pads.SheetIsSpent):
        pads.claim(ReservedCode.objects.get(pk=pad[0].pk), make.case())


def test_nothing_was_written_on_a_sheet_before_it_was_reserved(pad, make, noon):
    with pytest.raises(pads.BeforeThePad, match="reserved on"):
        log(make, pad[0], noon - timedelta(minutes=1))
    assert not Case.objects.exists()


def test_a_void_sheet_is_no_case_and_a_case_is_not_voided(pad, make, noon):
    by = make.everyone()
    pads.void_sheet(reserved=pad[0], by=by, happened=noon, because="coffee on it")
    log(make, pad[1], noon)
    with pytest.raises(pads.SheetIsSpent, match="coffee on it"):
        log(make, pad[0], noon)
    with pytest.raises(pads.SheetIsSpent, match="is a case already"):
        pads.void_sheet(reserved=pad[1], by=by, happened=noon, because="lost")


def test_the_database_refuses_a_sheet_that_is_both(pad, make, noon):
    log(make, pad[0], noon)
    with pytest.raises(IntegrityError), transaction.atomic():
        ReservedCode.objects.filter(pk=pad[0].pk).update(void_because="lost")


@pytest.mark.parametrize("count", [0, -1, 51])
def test_a_pad_is_neither_empty_nor_endless(make, noon, count):
    with pytest.raises(Refused, match="1 to 50"):
        pads.reserve_pad(count=count, by=make.everyone(), happened=noon)


# --- the pages --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", ["", "0", "51", "many", "2.5", "-3", "9" * 30])
def test_a_pad_of_no_sensible_size_is_not_reserved(counter, make, count):
    make.profile()
    assert counter.post(reverse("cases:pads"), {"count": count}).status_code == 422
    assert not ReservedCode.objects.exists()


def test_scanning_a_sheet_opens_its_intake_and_typing_it_in_makes_the_case(counter, pad):
    found = counter.get(reverse("docket:find"), {"q": codes.symbol(pad[0].code)}, follow=True)
    page = found.content.decode()
    assert f'value="{pad[0].code}"' in page
    assert f'value="{pad[0].draft_key}"' in page
    assert counter.post(TAKE_IN, typed_from(pad[0])).status_code == 303
    case = Case.objects.get()
    assert (str(case), case.happened) == (str(pad[0]), pad[0].happened + timedelta(hours=3))
    scanned = counter.get(reverse("docket:find"), {"q": str(pad[0])})
    assert scanned.url == case.get_absolute_url()


def test_the_draft_of_a_sheet_keeps_which_sheet_it_is(counter, pad):
    counter.post(reverse("cases:draft", args=[pad[0].draft_key]), typed_from(pad[0], owner__name="Bartola Kwe"))
    page = counter.get(f"{TAKE_IN}?pad={pad[0]}", follow=True).content.decode()
    assert Draft.objects.get().key == pad[0].draft_key
    assert "Bartola Kwe" in page
    assert f'name="reserved" value="{pad[0].code}"' in page


def test_a_sheet_without_its_time_is_not_taken_in_as_of_now(counter, pad):
    answer = counter.post(TAKE_IN, typed_from(pad[0], happened=""))
    assert answer.status_code == 422
    assert "the time that stand on the sheet" in answer.content.decode()


def test_a_sheet_that_was_typed_in_leads_to_its_case(counter, pad, make, noon):
    case = log(make, pad[0], noon)
    assert counter.get(f"{TAKE_IN}?pad={pad[0]}").url == case.get_absolute_url()


@pytest.mark.parametrize("ended", ["case", "void"])
def test_a_sheet_that_is_spent_is_said_to_be_so_whoever_presses(counter, pad, make, noon, ended):
    if ended == "case":
        log(make, pad[0], noon)
    else:
        pads.void_sheet(reserved=pad[0], by=make.everyone(), happened=noon, because="lost")
    before = Case.objects.count()
    answer = counter.post(TAKE_IN, typed_from(pad[0]))
    assert answer.status_code == 422
    assert "is a case already, or void" in answer.content.decode()
    assert Case.objects.count() == before


@pytest.mark.parametrize("code", ["26-99999-X", "nothing", "\x00", "é" * 300, "%"])
def test_what_is_no_sheet_is_not_found(counter, pad, code):
    assert counter.get(TAKE_IN, {"pad": code}).status_code == 404


def test_a_case_of_its_own_is_no_sheet(counter, make):
    case = make.case()
    assert counter.get(TAKE_IN, {"pad": str(case)}).status_code == 404


def test_voiding_asks_why_and_then_scanning_the_sheet_says_it(counter, pad):
    address = reverse("cases:void-sheet", args=[str(pad[0])])
    assert counter.post(address, {"because": ""}).status_code == 422
    assert counter.post(address, {"because": "coffee on it"}).status_code == 303
    said = counter.get(f"{TAKE_IN}?pad={pad[0]}", follow=True).content.decode()
    assert "coffee on it" in said


def test_somebody_who_may_not_take_in_is_told_what_the_code_is(client_as, pad):
    page = client_as(Role.ENGINEER).get(reverse("docket:find"), {"q": str(pad[0])}).content.decode()
    assert f"paper pad {pad[0].pad}" in page


def test_the_pages_list_what_is_not_typed_in(counter, pad, make, noon):
    log(make, pad[0], noon)
    listed = re.sub(r"<[^>]+>", " ", counter.get(reverse("cases:pads")).content.decode())
    assert re.search(r"Pad 1\s+3\s+2\s", listed)
    sheets = counter.get(reverse("cases:pad", args=[1])).content.decode()
    assert sheets.count("Type it in") == 2
    assert counter.get(reverse("cases:pad", args=[7])).status_code == 404


# --- the paper --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_each_sheet_is_one_page_whose_symbols_read_as_its_code(counter, pad, make, size, tmp_path):
    """Also where the lab has much to say of itself in the head."""
    make.terms()
    address = "Second Floor, Old Rope Works\nRopewalk Yard 4\nHarrow Quay HQ4 2ZZ"
    Profile.objects.filter(pk=Profile.current().pk).update(name="Harrow Quay Media Laboratory " * 2, address=address)
    answer = counter.post(reverse("cases:pad", args=[1]), {"size": size})
    again = counter.post(reverse("cases:pad", args=[1]), {"size": size})
    assert answer.url == again.url
    (tmp_path / "pad.pdf").write_bytes(reprint(Paper.objects.get()))
    with pikepdf.open(tmp_path / "pad.pdf") as pdf:
        assert len(pdf.pages) == 3
    subprocess.run(["pdftoppm", "-r", "200", "-gray", tmp_path / "pad.pdf", tmp_path / "page"], check=True)
    for sheet, page in zip(pad, sorted(tmp_path.glob("page*.pgm")), strict=True):
        with Image.open(page) as picture:
            read = zxingcpp.read_barcodes(picture)
        assert [one.text for one in read] == [codes.symbol(sheet.code)] * 2
    assert ReservedCode.objects.filter(printed=None).count() == 0
