"""Secrets: closed with a key of their case, shown to its engineers only, gone when the key is gone."""

from __future__ import annotations

import stat
from pathlib import Path
from types import SimpleNamespace

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import LazySettings
from django.core.management import call_command
from django.core.management.base import CommandError

from labcases.cases import secrets
from labcases.cases.models import Case, CaseKey, CaseSecret, SecretsKey
from labcases.cases.secrecy.actions import (
    Erased,
    HeldByLaw,
    NotYourCase,
    erase_case_secrets,
    erase_secret,
    put_secret,
    take_on,
    view_secret,
)
from labcases.cases.secrets import DoesNotOpen, KeyTrouble, Plain
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.models import Actor
from labcases.lab.roles import Role

CODE = "2600417D"
WORD = Plain("tide-pool-7")


@pytest.fixture(autouse=True)
def _keys_of_this_test(settings: LazySettings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An embedded lab with a key folder of its own, whichever engine the test runs on."""
    monkeypatch.setattr("labcases.cases.secrecy.actions.connection", SimpleNamespace(vendor="sqlite"))
    settings.KEY_DIR, settings.SECRETS_KEY, settings.SECRETS_KEY_BEFORE = tmp_path / "keys", "", ""


def kept(make, case: Case | None = None, secret: Plain = WORD) -> CaseSecret:
    case = case or make.case()
    about = {"kind": "password", "by": make.actor(Role.COUNTER), "happened": case.happened}
    return put_secret(case=case, secret=secret, **about)


def engineer_of(make, case: Case) -> Actor:
    by = make.actor(Role.ENGINEER)
    take_on(case=case, by=by, happened=case.happened)
    return by


# --- boxes and keys ---


def test_a_box_is_what_the_standard_says() -> None:
    """NIST SP 800-38D as the library ``cryptography`` does it: nonce, then ciphertext and tag."""
    key = secrets.new_key()
    box = secrets.seal(WORD, key, case_code=CODE, ref="r")
    assert AESGCM(key).decrypt(box[:12], box[12:], b"secret v1|2600417D|r") == b"tide-pool-7"


@pytest.mark.parametrize(("case", "ref"), [("2600418B", "r"), (CODE, "s")])
def test_a_box_opens_in_its_own_place_only(case: str, ref: str) -> None:
    key = secrets.new_key()
    box = secrets.seal(WORD, key, case_code=CODE, ref="r")
    with pytest.raises(DoesNotOpen):
        secrets.open_box(box, key, case_code=case, ref=ref)


@pytest.mark.parametrize("at", [0, 13, -1])
def test_a_changed_byte_is_noticed(at: int) -> None:
    key = secrets.new_key()
    box = bytearray(secrets.seal(WORD, key, case_code=CODE, ref="r"))
    box[at] ^= 1
    with pytest.raises(DoesNotOpen):
        secrets.open_box(bytes(box), key, case_code=CODE, ref="r")


@pytest.mark.parametrize("box", [b"", b"short", b"\0" * 28])
def test_what_is_no_box_is_refused(box: bytes) -> None:
    with pytest.raises(DoesNotOpen):
        secrets.open_box(box, secrets.new_key(), case_code=CODE, ref="r")


def test_the_same_secret_twice_looks_different() -> None:
    key = secrets.new_key()
    assert secrets.seal(WORD, key, case_code=CODE, ref="r") != secrets.seal(WORD, key, case_code=CODE, ref="r")


def test_a_secret_says_nothing_of_itself() -> None:
    assert "tide" not in f"{WORD} {WORD!r} {[WORD]}"


@pytest.mark.parametrize("text", ["", "00", "x" * 64])
def test_a_malformed_key_is_refused_and_not_said(tmp_path: Path, text: str) -> None:
    (tmp_path / secrets.KEY_FILE).write_text(text)
    with pytest.raises(KeyTrouble) as refused:
        secrets.ring(tmp_path)
    assert "x" * 64 not in " ".join(refused.value.sentences())


# --- at the counter and the bench ---


def test_an_engineer_of_the_case_sees_it_and_that_is_on_record(make, noon) -> None:
    secret = kept(make)
    by = engineer_of(make, secret.case)
    assert view_secret(secret=secret, by=by, happened=noon).reveal() == "tide-pool-7"
    viewed = Event.objects.get(kind="secret-viewed")
    assert (viewed.actor_ref, viewed.case_code) == (by.ref, secret.case.code)


def test_each_look_is_an_event_of_its_own(make, noon) -> None:
    secret = kept(make)
    by = engineer_of(make, secret.case)
    for _ in range(3):
        view_secret(secret=secret, by=by, happened=noon)
    assert Event.objects.filter(kind="secret-viewed").count() == 3


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
def test_nobody_but_an_engineer_sees_it(make, noon, role: Role) -> None:
    with pytest.raises(NotAllowed):
        view_secret(secret=kept(make), by=make.actor(role), happened=noon)
    assert not Event.objects.filter(kind="secret-viewed").exists()


def test_an_engineer_of_another_case_does_not_see_it(make, noon) -> None:
    by = engineer_of(make, make.case())
    with pytest.raises(NotYourCase):
        view_secret(secret=kept(make), by=by, happened=noon)
    assert not Event.objects.filter(kind="secret-viewed").exists()


def test_a_secret_moved_to_another_case_does_not_open_there(make, noon) -> None:
    secret, other = kept(make), make.case()
    kept(make, other)
    CaseSecret.objects.filter(pk=secret.pk).update(case=other)
    with pytest.raises(DoesNotOpen):
        view_secret(secret=CaseSecret.objects.get(pk=secret.pk), by=engineer_of(make, other), happened=noon)
    assert not Event.objects.filter(kind="secret-viewed").exists()


def test_an_auditor_keeps_no_secret(make, noon) -> None:
    with pytest.raises(NotAllowed):
        put_secret(case=make.case(), kind="code", secret=WORD, by=make.actor(Role.AUDITOR), happened=noon)
    assert not CaseSecret.objects.exists()


# --- erasing ---


def test_erasing_a_cases_key_erases_all_its_secrets_and_no_others(make, noon) -> None:
    mine, other = kept(make), kept(make)
    by = engineer_of(make, mine.case)
    assert erase_case_secrets(case=mine.case, by=make.actor(Role.MANAGER), happened=noon) == 1
    assert CaseKey.objects.get(case=mine.case).wrapped is None
    with pytest.raises(Erased):
        view_secret(secret=CaseSecret.objects.get(pk=mine.pk), by=by, happened=noon)
    assert view_secret(secret=other, by=engineer_of(make, other.case), happened=noon)


def test_the_law_stops_erasing(make, noon) -> None:
    secret = kept(make)
    Case.objects.filter(pk=secret.case_id).update(legal_hold=True)
    with pytest.raises(HeldByLaw):
        erase_case_secrets(case=secret.case, by=make.actor(Role.MANAGER), happened=noon)
    with pytest.raises(HeldByLaw):
        erase_secret(secret=secret, by=make.actor(Role.ENGINEER), happened=noon, because="mistyped")
    assert CaseSecret.objects.standing().count() == 1


def test_a_case_that_comes_back_gets_a_new_key(make, noon) -> None:
    secret = kept(make)
    erase_case_secrets(case=secret.case, by=make.actor(Role.MANAGER), happened=noon)
    again = kept(make, secret.case, Plain("reed-9"))
    assert view_secret(secret=again, by=engineer_of(make, secret.case), happened=noon).reveal() == "reed-9"


def test_one_secret_is_erased_once(make, noon) -> None:
    secret, by = kept(make), make.actor(Role.COUNTER)
    erase_secret(secret=secret, by=by, happened=noon, because="mistyped")
    with pytest.raises(Erased):
        erase_secret(secret=secret, by=by, happened=noon, because="mistyped")


# --- the lab's key ---


def test_the_key_is_made_once_for_its_owner_only(make, settings) -> None:
    kept(make)
    path = settings.KEY_DIR / secrets.KEY_FILE
    made = path.read_text()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    kept(make)
    assert path.read_text() == made


def test_another_key_is_refused(make, noon, settings) -> None:
    secret = kept(make)
    secrets.make_key_file(settings.KEY_DIR)
    with pytest.raises(KeyTrouble, match="not the one this database was sealed with"):
        view_secret(secret=secret, by=engineer_of(make, secret.case), happened=noon)
    with pytest.raises(KeyTrouble):
        kept(make)


def test_a_lost_key_is_not_made_anew(make, settings) -> None:
    kept(make)
    (settings.KEY_DIR / secrets.KEY_FILE).unlink()
    with pytest.raises(KeyTrouble, match="is missing"):
        kept(make)
    assert not (settings.KEY_DIR / secrets.KEY_FILE).exists()


def test_a_replaced_key_opens_what_was_kept_before(make, noon, settings) -> None:
    secret, was = kept(make), (settings.KEY_DIR / "never").with_name(secrets.KEY_FILE).read_text()
    before = bytes(CaseKey.objects.get(case=secret.case).wrapped)
    call_command("rotate_key")
    assert (settings.KEY_DIR / secrets.KEY_FILE).read_text() != was
    assert bytes(CaseKey.objects.get(case=secret.case).wrapped) != before
    assert bytes(CaseSecret.objects.get(pk=secret.pk).sealed) == bytes(secret.sealed)
    assert view_secret(secret=secret, by=engineer_of(make, secret.case), happened=noon).reveal() == "tide-pool-7"


def test_a_power_cut_while_the_key_is_replaced_loses_nothing(make, noon, settings, monkeypatch) -> None:
    """Wrapped anew and committed, but the key's file was not moved into place."""
    secret = kept(make)
    monkeypatch.setattr(secrets, "tidy_key_files", lambda *_: None)
    call_command("rotate_key")
    monkeypatch.undo()
    by = engineer_of(make, secret.case)
    assert view_secret(secret=secret, by=by, happened=noon).reveal() == "tide-pool-7"
    call_command("rotate_key")
    assert not (settings.KEY_DIR / secrets.NEXT_KEY_FILE).exists()
    assert view_secret(secret=secret, by=by, happened=noon).reveal() == "tide-pool-7"


def test_a_supplied_key_is_replaced_by_another_supplied_one(make, noon, settings) -> None:
    settings.SECRETS_KEY = "11" * 32
    secret = kept(make)
    with pytest.raises(CommandError, match="still the key that is in use"):
        call_command("rotate_key")
    settings.SECRETS_KEY, settings.SECRETS_KEY_BEFORE = "22" * 32, "11" * 32
    call_command("rotate_key")
    settings.SECRETS_KEY_BEFORE = ""
    assert SecretsKey.objects.get().fingerprint == secrets.fingerprint(b"\x22" * 32)
    assert view_secret(secret=secret, by=engineer_of(make, secret.case), happened=noon).reveal() == "tide-pool-7"
    assert not (settings.KEY_DIR / secrets.KEY_FILE).exists()


def test_a_lab_on_a_server_must_be_given_its_key(make, monkeypatch) -> None:
    monkeypatch.setattr("labcases.cases.secrecy.actions.connection", SimpleNamespace(vendor="postgresql"))
    with pytest.raises(KeyTrouble, match="no key for secrets yet"):
        kept(make)
