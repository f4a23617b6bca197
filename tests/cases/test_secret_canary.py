"""A canary is kept as a secret; afterwards everything that is stored, shown, logged or sent is searched for it."""

from __future__ import annotations

import logging
import uuid
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.conf import LazySettings
from django.core import mail
from django.test import Client

from labcases.cases.models import CaseSecret
from labcases.lab.roles import Role

CANARY = "Kittiwake-4711-Guillemot"


@pytest.fixture(autouse=True)
def _keys_of_this_test(settings: LazySettings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An embedded lab with a key folder of its own, whichever engine the test runs on."""
    monkeypatch.setattr("labcases.cases.secrecy.actions.connection", SimpleNamespace(vendor="sqlite"))
    settings.KEY_DIR, settings.SECRETS_KEY, settings.SECRETS_KEY_BEFORE = tmp_path / "keys", "", ""


def every_stored_value() -> Iterator[tuple[str, str]]:
    """Each value of each row of each table, as text; bytes as they are read."""
    for model in apps.get_models(include_auto_created=True):
        for row in model._default_manager.values():
            for name, value in row.items():
                if isinstance(value, bytes | memoryview):
                    value = bytes(value).decode("latin-1")
                yield f"{model._meta.label}.{name}", str(value)


def put(client: Client, case: object, **more: str) -> object:
    about = {"kind": "password", "password": CANARY, "opens": "the disk", "once": str(uuid.uuid4()), **more}
    return client.post(f"/cases/{case}/secrets/new/", about)


def test_the_canary_is_nowhere_but_on_the_one_page(make, client_as, caplog, settings) -> None:
    caplog.set_level(logging.DEBUG)
    make.profile()
    case, engineer = make.case(), client_as(Role.ENGINEER)
    assert put(engineer, case).status_code == 303
    engineer.post(f"/cases/{case}/take-on/")
    pk = CaseSecret.objects.get().pk
    shown = engineer.post(f"/cases/{case}/secrets/{pk}/")
    assert CANARY in shown.content.decode()
    assert "no-store" in shown.headers["Cache-Control"]
    assert [where for where, value in every_stored_value() if CANARY in value] == []
    assert CANARY not in caplog.text
    assert not any(CANARY in str(message.message()) for message in mail.outbox)
    pages = ("", "secrets/new/", f"secrets/{pk}/", f"secrets/{pk}/erase/")
    for page in pages:
        assert CANARY not in engineer.get(f"/cases/{case}/{page}").content.decode()
    files = [path for path in Path(settings.DATA_DIR).rglob("*") if path.is_file()]
    assert [path for path in files if CANARY.encode() in path.read_bytes()] == []


def test_the_search_would_find_it(make) -> None:
    make.case(reference=CANARY)
    assert [where for where, value in every_stored_value() if CANARY in value] == ["cases.Case.reference"]


def test_a_short_code_cannot_be_guessed_from_the_hash_of_the_form(make, client_as) -> None:
    from django.http import QueryDict

    from labcases.core.actions import fingerprint
    from labcases.core.models import OneTimeKey

    case = make.case()
    put(client_as(Role.ENGINEER), case, password="1234", opens="")
    sent = QueryDict("kind=password&password=1234&opens=")
    assert OneTimeKey.objects.get().content != fingerprint(sent)
    assert OneTimeKey.objects.get().content == fingerprint(sent, leave_out=["password"])


def test_a_form_with_a_mistake_does_not_say_it_again(make, client_as) -> None:
    answer = put(client_as(Role.ENGINEER), make.case(), kind="")
    assert answer.status_code == 422
    assert CANARY not in answer.content.decode()


def test_what_is_sent_without_a_log_in_is_not_held(make, client) -> None:
    make.profile()
    put(client, make.case())
    assert CANARY not in str(dict(client.session))
    assert [where for where, value in every_stored_value() if CANARY in value] == []


@pytest.mark.parametrize("debug", [True, False])
def test_an_error_page_and_its_log_keep_it(make, client_as, settings, monkeypatch, caplog, debug: bool) -> None:
    settings.DEBUG = debug
    case, engineer = make.case(), client_as(Role.ENGINEER)
    engineer.raise_request_exception = False

    def fails(*args: object, **kwargs: object) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("labcases.cases.secrecy.actions.record", fails)
    answer = put(engineer, case)
    assert answer.status_code == 500
    assert ("the disk is full" in answer.content.decode()) == debug
    assert CANARY not in answer.content.decode()
    assert CANARY not in caplog.text


def test_an_error_while_it_is_shown_keeps_it(make, client_as, settings, monkeypatch) -> None:
    settings.DEBUG = True
    case, engineer = make.case(), client_as(Role.ENGINEER)
    put(engineer, case)
    engineer.post(f"/cases/{case}/take-on/")
    engineer.raise_request_exception = False

    def fails(request: object, page: str, context: object) -> None:
        raise RuntimeError("no template")

    monkeypatch.setattr("labcases.cases.secrecy.views.show", fails)
    answer = engineer.post(f"/cases/{case}/secrets/{CaseSecret.objects.get().pk}/")
    assert answer.status_code == 500
    assert "no template" in answer.content.decode()
    assert CANARY not in answer.content.decode()
