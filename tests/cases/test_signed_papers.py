"""A scan of the signed paper is kept as it came, with what was signed, and shown to those who may see it."""

from __future__ import annotations

import hashlib
import io

import pikepdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from labcases.cases.intake import Signed
from labcases.cases.scans.actions import KeptBefore, NothingSigned, keep_signed_paper, withdraw_signed_paper
from labcases.cases.scans.judging import MOST_BYTES, NotAScan, judge
from labcases.cases.scans.models import SignedPaper
from labcases.core import vault
from labcases.custody.models import Event
from labcases.lab.roles import Role
from tests.builders import NOON
from tests.cases.filled import filled
from tests.photographs import photograph

ON_PAPER = Signed(signed_by="Orrin Vale", how="paper")


def pdf(**how) -> bytes:
    """A page of nothing, written by a general PDF library."""
    out, made = io.BytesIO(), pikepdf.new()
    made.add_blank_page()
    made.save(out, **how)
    return out.getvalue()


@pytest.fixture
def case(make):
    return make.case(signed=ON_PAPER)


@pytest.fixture
def counter(client_as, make):
    make.profile(country="GB")
    return client_as(Role.COUNTER)


def sent(data, name="scan.pdf"):
    return SimpleUploadedFile(name, data)


@pytest.mark.parametrize("how", [{}, {"linearize": True}, {"object_stream_mode": pikepdf.ObjectStreamMode.generate}])
def test_what_a_general_library_writes_is_a_pdf(how):
    assert judge(pdf(**how)).kind == "PDF"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"MZ\x90\x00 a program %PDF-1.7 startxref 9 %%EOF", "only looks like a PDF"),
        (pdf()[:-20], "cut off"),
        (pdf(encryption=pikepdf.Encryption(owner="x", user="y")), "locked with a password"),
        (pdf().ljust(100) + b" " * MOST_BYTES, "MB"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "Scans are taken in as PDF"),
        (b"PK\x03\x04 a document", "Scans are taken in as PDF"),
        (photograph()[:200], "again"),
    ],
    ids=["empty", "program", "cut", "locked", "large", "svg", "document", "broken picture"],
)
def test_what_is_no_scan_is_refused_with_a_sentence(data, said):
    with pytest.raises(NotAScan, match=said):
        judge(data)


@pytest.mark.parametrize("data", [pdf(), photograph()], ids=["pdf", "picture"])
def test_the_bytes_are_kept_as_they_came_with_what_was_signed(make, case, data):
    kept = keep_signed_paper(case=case, scan=judge(data), by=make.everyone(), happened=NOON)
    assert vault.get(kept.original) == data
    assert kept.original == hashlib.sha256(data).hexdigest()
    assert (kept.terms, kept.terms_digest) == (case.terms, case.terms.digest)
    assert kept.items == [[str(item), item.medium_words] for item in case.items.all()]
    assert Event.objects.filter(kind="signed-paper-kept", thing_code=case.code).count() == 1


def test_new_terms_and_items_do_not_change_what_was_signed(make, case):
    kept = keep_signed_paper(case=case, scan=judge(pdf()), by=make.everyone(), happened=NOON)
    before = (kept.terms_digest, kept.items)
    case.items.update(model="another")
    kept.refresh_from_db()
    assert (kept.terms_digest, kept.items) == before


def test_before_the_terms_are_signed_there_is_no_signed_paper(make):
    case = make.case(signed=None)
    with pytest.raises(NothingSigned):
        keep_signed_paper(case=case, scan=judge(pdf()), by=make.everyone(), happened=NOON)


def test_the_same_file_is_kept_once_and_again_after_it_was_withdrawn(make, case):
    by, scan = make.everyone(), judge(pdf())
    kept = keep_signed_paper(case=case, scan=scan, by=by, happened=NOON)
    with pytest.raises(KeptBefore):
        keep_signed_paper(case=case, scan=scan, by=by, happened=NOON)
    withdraw_signed_paper(paper=kept, by=by, happened=NOON, because="another customer's")
    with pytest.raises(KeptBefore):
        withdraw_signed_paper(paper=kept, by=by, happened=NOON, because="twice")
    assert keep_signed_paper(case=case, scan=scan, by=by, happened=NOON) != kept


def test_a_scan_is_added_later_on_its_page(counter, case):
    address = f"/cases/{case}/signed/"
    assert counter.post(address, {"scan": sent(pdf())}).status_code == 303
    page = counter.get(address).content.decode()
    assert SignedPaper.objects.get().original in page
    assert "1 scan" in counter.get(f"/cases/{case}/").content.decode()


def test_a_bad_file_is_refused_beside_its_field(counter, case):
    answer = counter.post(f"/cases/{case}/signed/", {"scan": sent(b"MZ program", "scan.pdf")})
    assert answer.status_code == 422
    assert "It is a program." in answer.content.decode()
    assert not SignedPaper.objects.exists()


def test_a_pdf_is_saved_as_it_came_and_never_shown_in_the_page(counter, make, case):
    data = pdf()
    kept = keep_signed_paper(case=case, scan=judge(data), by=make.everyone(), happened=NOON)
    answer = counter.get(f"/cases/{case}/signed/{kept.pk}/")
    assert answer.content == data
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith("attachment;")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]


def test_of_a_picture_only_the_copy_made_here_is_shown(counter, make, case):
    kept = keep_signed_paper(case=case, scan=judge(photograph()), by=make.everyone(), happened=NOON)
    answer = counter.get(f"/cases/{case}/signed/{kept.pk}/")
    assert answer.content == vault.get(kept.shown) != vault.get(kept.original)
    assert answer["Content-Type"] == "image/jpeg"


@pytest.mark.parametrize("what", ["another case", "withdrawn"])
def test_a_scan_is_found_under_its_own_case_only_while_it_stands(counter, make, case, what):
    kept = keep_signed_paper(case=case, scan=judge(pdf()), by=make.everyone(), happened=NOON)
    if what == "withdrawn":
        withdraw_signed_paper(paper=kept, by=make.everyone(), happened=NOON, because="blurred")
    other = make.case() if what == "another case" else case
    assert counter.get(f"/cases/{other}/signed/{kept.pk}/").status_code == 404


def test_a_file_that_was_changed_on_the_disk_is_not_shown(counter, make, case):
    kept = keep_signed_paper(case=case, scan=judge(pdf()), by=make.everyone(), happened=NOON)
    stored = vault.path(kept.original)
    stored.chmod(0o600)
    stored.write_bytes(b"%PDF-1.7 other")
    assert counter.get(f"/cases/{case}/signed/{kept.pk}/").status_code == 404
    stored.unlink()  # other tests keep the same bytes


def test_the_terms_step_takes_the_scan_with_the_intake(counter, make):
    make.terms()
    typed = filled(**{"terms-how": "paper"}) | {"terms-scan": sent(pdf())}
    assert counter.post("/counter/take-in/", typed).status_code == 303
    kept = SignedPaper.objects.get()
    assert kept.case.signed_how == "paper"
    assert len(kept.items) == 1


def test_a_scan_says_that_it_was_signed_on_paper(counter, make):
    make.terms()
    counter.post("/counter/take-in/", filled(**{"terms-how": ""}) | {"terms-scan": sent(pdf())})
    assert SignedPaper.objects.get().case.signed_how == "paper"


def test_a_bad_scan_stops_the_intake_with_a_sentence_and_keeps_what_is_typed(counter, make):
    make.terms()
    answer = counter.post("/counter/take-in/", filled(**{"terms-how": "paper"}) | {"terms-scan": sent(b"MZ")})
    assert answer.status_code == 422
    assert "It is a program." in answer.content.decode()


def test_the_rest_of_an_intake_takes_the_scan_too(counter, make):
    case = make.case(signed=None)
    typed = {"terms-how": "paper", "terms-allows": ["examine"], "terms-scan": sent(photograph(), "page.jpg")}
    assert counter.post(f"/cases/{case}/intake/", typed).status_code == 303
    assert SignedPaper.objects.get().kind == "JPEG"


def test_an_engineer_looks_and_adds_nothing(client_as, case):
    engineer = client_as(Role.ENGINEER)
    assert engineer.get(f"/cases/{case}/signed/").status_code == 200
    assert engineer.post(f"/cases/{case}/signed/", {"scan": sent(pdf())}).status_code == 403


def test_a_scan_is_withdrawn_on_its_page_with_a_reason(counter, make, case):
    kept = keep_signed_paper(case=case, scan=judge(pdf()), by=make.everyone(), happened=NOON)
    address = f"/cases/{case}/signed/{kept.pk}/withdraw/"
    assert "Withdraw this scan" in counter.get(address).content.decode()
    assert counter.post(address, {"because": ""}).status_code == 422
    assert counter.post(address, {"because": "another paper"}).status_code == 303
    assert "another paper" in counter.get(f"/cases/{case}/signed/").content.decode()
