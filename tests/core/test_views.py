"""What every view is made of: page or part, a form that survives a lost log-in, one answer after a press."""

from __future__ import annotations

import pytest
from django.contrib.messages import get_messages
from django.contrib.sessions.models import Session
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse
from django_htmx.middleware import HtmxDetails

from labcases.core.forms import LabForm
from labcases.core.middleware import LONGEST_HELD
from labcases.core.views import HELD, page_or_fragment, press, see_other
from labcases.lab.models import Place
from labcases.lab.roles import Role
from tests.builders import PASSWORD

PAGE, PART = "docket/place.html", "ui/_notices.html"
VARY = {"HX-Request", "HX-Boosted", "HX-History-Restore-Request"}


# --- page or part


def _asked(rf, **headers: str):
    request = rf.get("/", headers={name.replace("_", "-"): value for name, value in headers.items()})
    request.htmx = HtmxDetails(request)
    return request


@pytest.mark.parametrize(
    ("headers", "template"),
    [
        ({}, PAGE),
        ({"HX_Request": "true"}, PART),
        ({"HX_Request": "true", "HX_Boosted": "true"}, PAGE),
        ({"HX_Request": "true", "HX_History_Restore_Request": "true"}, PAGE),
    ],
)
def test_htmx_gets_the_part_and_everybody_else_the_page(headers: dict[str, str], template: str, rf) -> None:
    response = page_or_fragment(_asked(rf, **headers), PAGE, PART, {})
    assert response.template_name == template  # type: ignore[attr-defined]


def test_a_cache_is_told_what_the_answer_depends_on(rf) -> None:
    assert {*page_or_fragment(_asked(rf), PAGE, PART, {})["Vary"].split(", ")} == VARY


def test_after_a_press_the_browser_goes_and_looks(rf) -> None:
    plain = see_other(_asked(rf), "/there/")
    assert (plain.status_code, plain["Location"]) == (303, "/there/")
    assert see_other(_asked(rf, HX_Request="true"), "/there/")["HX-Redirect"] == "/there/"


# --- a rule of the database that speaks only when the row is written


@pytest.mark.parametrize(
    ("spoken", "sentence"),
    [
        ('new row … violates check constraint "quote_adds_up"', "Net and tax add up to the total."),
        ("CHECK constraint failed: quote_adds_up", "Net and tax add up to the total."),
        ("UNIQUE constraint failed: lab_staffrole.staff_id, lab_staffrole.role", "This person holds the role already."),
        ("FOREIGN KEY constraint failed", "Something it names was changed by someone else in the meantime."),
    ],
)
def test_the_sentence_of_the_rule_stands_on_the_form(spoken: str, sentence: str, rf, make) -> None:
    def act(said: object) -> str:
        raise IntegrityError(spoken)

    request = rf.post("/")
    request.user = make.staff()
    form = LabForm(request.POST)
    assert press(request, form, "verb", act) is None
    assert sentence in " ".join(form.non_field_errors())


# --- a log-in lost in the middle of a form


def _typed_without_log_in(address: str, sent: dict[str, object]) -> Client:
    client = Client()
    answer = client.post(address, sent)
    assert answer.status_code == 302
    assert answer.url == f"{reverse('lab:log-in')}?next={address}"
    return client


def _log_in(client: Client, person, onward: str) -> None:
    answer = client.post(reverse("lab:log-in"), {"login": person.login, "password": PASSWORD, "next": onward})
    assert (answer.status_code, answer.url) == (303, onward)


def test_what_was_typed_comes_back_after_log_in_and_nothing_is_done_yet(make) -> None:
    address = reverse("custody:add-place")
    client = _typed_without_log_in(address, {"name": "Shelf Ω", "kind": "safe"})
    assert "What you had typed is kept" in client.get(reverse("lab:log-in")).content.decode()
    _log_in(client, make.staff(), address)
    page = client.get(address)
    assert page.context["form"]["name"].value() == "Shelf Ω"
    assert page.context["form"]["kind"].value() == "safe"
    assert ["Nothing is recorded yet" in str(m) for m in get_messages(page.wsgi_request)] == [True]
    assert not Place.objects.exists()


def test_it_comes_back_once_only_and_on_its_own_page_only(make) -> None:
    address = reverse("custody:add-place")
    client = _typed_without_log_in(address, {"name": "Shelf Ω"})
    _log_in(client, make.staff(), address)
    assert not client.get(reverse("lab:terms")).context["form"].is_bound
    assert client.get(address).context["form"].is_bound
    assert not client.get(address).context["form"].is_bound


def test_the_form_that_came_back_can_be_sent(make) -> None:
    address = reverse("custody:add-place")
    key = "8a8a8a8a-0000-4000-8000-000000000001"
    client = _typed_without_log_in(address, {"name": "Shelf Ω", "kind": "safe", "once": key})
    _log_in(client, make.staff(), address)
    form = client.get(address).context["form"]
    assert client.post(address, {name: form[name].value() for name in ("name", "kind", "once")}).status_code == 303
    assert Place.objects.get().name == "Shelf Ω"


def test_no_password_is_held(db) -> None:
    client = _typed_without_log_in(reverse("lab:hire"), {"name": "Ada", "password": "tops3cret words", "login": "ada"})
    held = client.session[HELD]["body"]
    assert "tops3cret" not in held
    assert "Ada" in held
    assert Session.objects.count() == 1


def test_no_file_is_held(db) -> None:
    logo = SimpleUploadedFile("logo.png", b"PICTURE-BYTES", content_type="image/png")
    client = _typed_without_log_in(reverse("lab:profile"), {"name": "Quayside", "logo": logo})
    assert client.session[HELD]["body"] == "name=Quayside"


def test_more_than_anybody_types_is_not_held(db) -> None:
    client = _typed_without_log_in(reverse("lab:terms"), {"text": "x" * LONGEST_HELD})
    assert HELD not in client.session


def test_a_wrong_log_in_is_not_held(db) -> None:
    client = Client()
    assert client.post(reverse("lab:log-in"), {"login": "ada", "password": "wrong"}).status_code == 422
    assert HELD not in client.session


# --- an expired page


def test_a_page_whose_key_expired_says_so_and_how_to_go_on(make) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(make.staff())
    page = client.post(reverse("custody:add-place"), {"name": "Shelf Ω"})
    assert page.status_code == 403
    for words in ("nothing was done", "Go back, reload the page"):
        assert words in page.content.decode()
    assert not Place.objects.exists()


def test_a_stranger_is_told_nothing_about_the_server(db) -> None:
    page = Client(enforce_csrf_checks=True).post(reverse("lab:log-in"), {"login": "ada"})
    assert page.status_code == 403
    assert "SITE_URL" not in page.content.decode()


def test_an_address_that_takes_forms_only_says_so_and_gives_back_what_was_typed(make) -> None:
    """The log-in leads to where it was asked for: here nobody may look, but nothing typed is lost."""
    person = make.staff()
    address = reverse("custody:withdraw-photo", args=[1])
    client = _typed_without_log_in(address, {"because": "a face <in> it", "tick": ["a", "b"]})
    _log_in(client, person, address)
    answer = client.get(address)
    page = answer.content.decode()
    assert answer.status_code == 405
    assert 'name="because" value="a face &lt;in&gt; it"' in page
    assert page.count('name="tick"') == 2
    assert "Send it again" in page


def test_what_was_sent_again_is_no_longer_held(make) -> None:
    person = make.staff()
    address = reverse("custody:withdraw-photo", args=[1])
    client = _typed_without_log_in(address, {"because": "blurred"})
    _log_in(client, person, address)
    assert client.post(address, {"because": "blurred"}).status_code == 404
    assert HELD not in client.session


def test_an_address_that_takes_forms_only_leads_back_when_nothing_was_typed(client_as) -> None:
    answer = client_as(Role.COUNTER).get(reverse("custody:withdraw-photo", args=[1]))
    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert "start from the front page" in answer.content.decode()


@pytest.mark.parametrize(("around", "header"), [("/cases/x/", "HX-Location"), ("/other/", "HX-Redirect")])
def test_a_form_in_place_has_the_page_around_it_come_back_fresh(rf, around: str, header: str) -> None:
    request = rf.post("/verb/", headers={"HX-Request": "true", "X-In-Place": around})
    request.htmx = HtmxDetails(request)
    answer = see_other(request, "/cases/x/#item-1")
    assert header in answer.headers
    assert "/cases/x/" in answer.headers[header]


def test_without_scripts_a_form_in_place_is_a_page_like_any(rf) -> None:
    request = rf.post("/verb/", headers={"X-In-Place": "/cases/x/"})
    request.htmx = HtmxDetails(request)
    assert see_other(request, "/cases/x/#item-1").status_code == 303
