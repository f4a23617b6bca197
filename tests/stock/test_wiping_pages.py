"""The pages of a wipe: begun, ended, verified, certified by pressing what the pages offer."""

from __future__ import annotations

import html
import subprocess
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labcases.core import vault
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role
from labcases.paper.models import Paper
from labcases.stock import actions
from labcases.stock.models import ConsentPaper, Destination, HealthCheck, Wipe
from labcases.stock.wiping.actions import begin_wipe, end_wipe, verify_wipe
from labcases.stock.wiping.queries import certificate
from tests.photographs import photograph

PDF = b"%PDF-1.7 a page startxref 9 %%EOF"
BEGUN = {"method": "clear", "technique": "overwrite", "tool": "zeros 2.1", "port": "wipe bench, port 3", "hours": "30"}


@pytest.fixture
def client(client_as):
    return client_as(Role.ENGINEER)


@pytest.fixture
def held(make, noon):
    make.profile()
    item, medium, by = make.item(), make.destination(), make.everyone()
    assignment = actions.assign_destination(destination=medium, patient=item, by=by, happened=noon)
    actions.release_destination(assignment=assignment, written=True, by=by, happened=noon)
    return medium, item


def page(client, name, *args):
    answer = client.get(reverse(f"stock:{name}", args=[str(one) for one in args]))
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


def press(client, name, /, *args, **sent):
    answer = client.post(reverse(f"stock:{name}", args=[str(one) for one in args]), sent)
    return answer.status_code, html.unescape(answer.content.decode())


def test_a_wipe_is_begun_ended_verified_and_certified(client, held):
    medium, item = held
    assert press(client, "begin-wipe", medium, **BEGUN)[0] == 303
    made = Wipe.objects.get()
    for shown in (page(client, "destination", medium), page(client, "a-wipe", made.pk), page(client, "wipes")):
        assert str(item.case) in shown
    assert "about" in page(client, "a-wipe", made.pk)
    assert press(client, "end-wipe", made.pk)[0] == 303
    assert press(client, "verify-wipe", made.pk, verified="sampled", share="10", passed="yes")[0] == 303
    assert press(client, "wipe-certificate", made.pk, category_before="internal")[0] == 303
    assert press(client, "wipe-certificate", made.pk, category_before="internal")[0] == 303
    paper = Paper.objects.get(kind="sanitisation-certificate")
    assert (paper.code, paper.case_code) == (str(medium), item.case.code)
    assert paper.title in page(client, "a-wipe", made.pk)


def test_the_stockroom_shows_what_runs_and_what_waits(client, held, make):
    medium, item = held
    front = reverse("docket:stockroom")
    assert "1 waits for a wipe" in client.get(front).content.decode()
    press(client, "begin-wipe", medium, **BEGUN)
    shown = client.get(front).content.decode()
    assert "wipe bench, port 3" in shown
    assert str(item.case) in shown


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"technique": "shred"}, "no way to clear"),
        ({"tool": ""}, "With is needed"),
        ({"hours": "0"}, "greater than or equal to 1"),
        ({"happened": "2099-01-01T12:00"}, "lies in the future"),
    ],
)
def test_a_wipe_that_cannot_be_begun_so_says_why(client, held, wrong, says):
    status, shown = press(client, "begin-wipe", held[0], **BEGUN | wrong)
    assert (status, Wipe.objects.count()) == (422, 0)
    assert says in shown


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"verified": "seen"}, "verified by reading"),
        ({"share": "10"}, "Only samples have a share"),
        ({"passed": "no"}, "Say what was found"),
        ({"passed": ""}, "Say what came out"),
    ],
)
def test_a_verification_that_contradicts_itself_says_why(client, held, noon, make, wrong, says):
    made = begin_wipe(destination=held[0], method="clear", tool="zeros", by=make.everyone(), happened=noon)
    end_wipe(wipe=made, by=make.everyone(), happened=noon)
    status, shown = press(client, "verify-wipe", made.pk, **{"verified": "full", "passed": "yes"} | wrong)
    assert status == 422
    assert says in shown


def test_a_wipe_that_failed_is_not_verified_and_says_so(client, held, noon, make):
    made = begin_wipe(destination=held[0], method="clear", tool="zeros", by=make.everyone(), happened=noon)
    assert press(client, "break-off-wipe", made.pk, how="failed", because="Port died.")[0] == 303
    status, shown = press(client, "verify-wipe", made.pk, verified="full", passed="yes")
    assert status == 422
    assert "is failed" in shown
    status, shown = press(client, "wipe-certificate", made.pk)
    assert status == 422
    assert "nothing to certify" in shown


def test_health_is_recorded_and_shown(client, held):
    medium, _ = held
    sent = {"passed": "no", "because": "Pending sectors grow.", "pending": "512", "self_test": "failed"}
    assert press(client, "check-health", medium, **sent)[0] == 303
    shown = page(client, "destination", medium)
    assert HealthCheck.objects.get().pending == 512
    for words in ("Pending sectors grow.", "pending 512", "retired"):
        assert words in shown


def test_consent_to_write_on_a_customers_own_is_noted_and_shown_where_it_is_chosen(client, make):
    item = make.item()
    own = make.destination(use="delivery", own_of=item.case)
    assert "begin/" not in page(client, "destination", own)
    sent = {"content": "Photographs.", "consent": "May be overwritten.", "consent_by": "Orrin Vale"}
    assert press(client, "note-consent", own, **sent)[0] == 422
    assert press(client, "note-consent", own, **sent, consent_paper="folder 3, sheet 12")[0] == 303
    shown = page(client, "destination", own)
    for words in ("Photographs.", "May be overwritten.", "folder 3, sheet 12"):
        assert words in shown
    listed = client.get(reverse("stock:assign-destination", args=[str(item)]) + "?use=delivery").content.decode()
    assert "Photographs." in listed


@pytest.mark.parametrize(
    ("data", "kind", "shown_as"),
    [(PDF, "PDF", "application/pdf"), (photograph(), "JPEG", "image/jpeg")],
    ids=["a scan", "a photo of the page"],
)
def test_the_signed_paper_is_sent_with_the_consent_and_can_be_looked_at(client, make, data, kind, shown_as):
    own = make.destination(use="delivery", own_of=make.item().case)
    sent = {"consent": "May be overwritten.", "consent_by": "Orrin Vale", "scan": SimpleUploadedFile("x", data)}
    assert press(client, "note-consent", own, **sent)[0] == 303
    paper = ConsentPaper.objects.get()
    assert (paper.kind, vault.get(paper.original)) == (kind, data)
    noted = Event.objects.get(kind="consent-noted")
    assert paper.original in EventText.objects.get(sequence=noted.sequence, field="because").text
    assert paper.get_absolute_url() in page(client, "destination", own)
    answer = client.get(paper.get_absolute_url())
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, shown_as)
    assert "sandbox" in answer.headers["Content-Security-Policy"]


def test_the_same_paper_sent_again_is_kept_once_and_counts_for_later_words(client, make):
    own = make.destination(use="delivery", own_of=make.item().case)
    sent = {"consent": "May be overwritten.", "consent_by": "Orrin Vale"}
    for _ in range(2):
        assert press(client, "note-consent", own, **sent, scan=SimpleUploadedFile("x", PDF))[0] == 303
    assert press(client, "note-consent", own, **sent | {"content": "Photographs."})[0] == 303
    assert ConsentPaper.objects.count() == 1


def test_what_is_no_scan_leaves_no_consent(client, make):
    own = make.destination(use="delivery", own_of=make.item().case)
    sent = {"consent": "May be overwritten.", "consent_by": "Orrin Vale", "consent_paper": "folder 3"}
    status, shown = press(client, "note-consent", own, **sent, scan=SimpleUploadedFile("x.pdf", b"PK a document"))
    assert (status, "Scans are taken in as PDF" in shown) == (422, True)
    own.refresh_from_db()
    assert (own.consent, ConsentPaper.objects.count()) == ("", 0)


def test_adding_a_customers_own_asks_for_the_consent_next(client, make):
    sent = {"use": "delivery", "kind": "disk25", "sectors": "976773168", "sector_bytes": "512"}
    address = reverse("stock:add-destination")
    answer = client.post(address, {**sent, "state": "new and sealed", "own_of": str(make.item().case)})
    own = Destination.objects.get()
    assert answer.headers["Location"] == reverse("stock:note-consent", args=[str(own)])
    assert not own.room().consent


def test_the_list_of_wipes_narrows_sorts_and_comes_as_csv(client, held):
    press(client, "begin-wipe", held[0], **BEGUN)
    for query in ("?state=going", "?state=running", f"?q={held[0]}", f"?q={held[1].case}", "?sort=-port"):
        assert str(held[0]) in client.get(reverse("stock:wipes") + query).content.decode()
    assert str(held[0]) not in client.get(reverse("stock:wipes") + "?state=verified").content.decode()
    lines = b"".join(client.get(reverse("stock:wipes") + "?format=csv").streaming_content).decode().splitlines()
    assert lines[1].startswith(f"{held[0]},{held[0].serial},{held[1].case},running,clear,overwrite,zeros 2.1")


def test_the_list_asks_as_often_for_many_wipes_as_for_few(client, make, noon, django_assert_max_num_queries):
    by = make.everyone()
    for _ in range(12):
        begin_wipe(destination=make.destination(), method="clear", tool="zeros", by=by, happened=noon)
    with django_assert_max_num_queries(8):
        client.get(reverse("stock:wipes"))


# --- the certificate ---

# Fields of a certificate of sanitisation: NIST SP 800-88 Rev. 1, s.4.8, as a public copy of it lists them.
ASKED = {
    "Manufacturer", "Model", "Serial", "Property number", "Media type", "Media source", "Confidentiality before",
    "Clear, purge or destroy", "Method", "Tool and version", "Verification", "Confidentiality after", "Destination",
    "Data backed up",
}  # fmt: skip
OF_BOTH = {"Name", "Title", "Date", "Location", "Contact"}  # and a signature, which is drawn on the paper


@pytest.fixture
def done(held, make, noon):
    by = make.everyone()
    made = begin_wipe(
        destination=held[0], method="purge", technique="block erase", tool="eraser 1.4", by=by, happened=noon
    )
    end_wipe(wipe=made, by=by, happened=noon + timedelta(hours=7))
    return verify_wipe(wipe=made, verified="sampled", share=10, passed=True, by=by, happened=noon + timedelta(hours=9))


def test_the_certificate_has_every_field_of_the_standard(done):
    found = certificate(Wipe.objects.with_context().get(pk=done.pk), {})
    assert {name for name, _ in (*found.medium, *found.sanitisation)} == ASKED
    for said in (found.done, found.verified):
        assert {name for name, _ in said} == OF_BOTH
        assert all(value for _, value in said)
    assert found.standard == "NIST SP 800-88 Rev. 1"


def test_the_certificate_prints_what_was_done_and_verified(client, done, tmp_path):
    press(client, "wipe-certificate", done.pk, backed_up="nowhere", destination="sold")
    paper = Paper.objects.get()
    pdf = tmp_path / "certificate.pdf"
    pdf.write_bytes(b"".join(client.get(paper.get_absolute_url())))
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    for words in ("Certificate of sanitisation", "block erase", "eraser 1.4", "samples read back, 10 %", "sold"):
        assert words in " ".join(text.split())


def test_a_revision_that_is_followed_later_does_not_change_an_old_certificate(done):
    Wipe.objects.filter(pk=done.pk).update(standard="NIST SP 800-88 Rev. 0")
    assert certificate(Wipe.objects.with_context().get(pk=done.pk), {}).standard == "NIST SP 800-88 Rev. 0"


def test_no_wipe_has_a_number_that_is_not_there(client):
    assert client.get(reverse("stock:a-wipe", args=[99])).status_code == 404


def test_whose_data_a_medium_holds_stands_on_its_label_its_thing_and_beside_other_patients(client, held, make, noon):
    from labcases.stock.views.labels import _labels

    medium, item = held
    assert _labels([medium.thing], noon)[0].second_line.endswith(f", data of {item.case}, 2 Mar 2026")
    begin_wipe(destination=medium, method="clear", tool="zeros", by=make.everyone(), happened=noon)
    other = make.item()
    shown = client.get(reverse("stock:assign-destination", args=[str(other)])).content.decode()
    assert f"It held data of case {item.case}." in shown
    assert (
        f"holding data of case {item.case}" in client.get(reverse("custody:thing", args=[str(medium)])).content.decode()
    )
