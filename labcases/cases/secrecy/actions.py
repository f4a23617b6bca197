"""The verbs of secrets: put one in, show it to an engineer of the case, erase, and replace the lab's key."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import connection
from django.views.decorators.debug import sensitive_variables

from labcases.cases import secrets
from labcases.cases.models import Case, Item
from labcases.cases.secrecy.models import CaseKey, CaseSecret, SecretsKey
from labcases.cases.secrets import KeyTrouble, Plain
from labcases.core.refused import NotAllowed, Refused
from labcases.custody.actions import record, recorded
from labcases.custody.models import Thing
from labcases.lab.models import Actor, Entry
from labcases.lab.roles import Right


class NotYourCase(NotAllowed):
    """A secret is shown to the engineers of its case only."""


class Erased(Refused):
    """The secret is gone."""


class HeldByLaw(Refused):
    """Nothing of this case is erased while the law holds it."""


@sensitive_variables()
@recorded
def put_secret(
    *, case: Case, kind: str, secret: Plain, by: Actor, happened: datetime, item: Item | None = None, opens: str = ""
) -> CaseSecret:
    """Seal a secret with the key of its case. Raises KeyTrouble when the lab's key is not at hand."""
    if not by.may(Right.EXAMINE):
        by.must(Right.TAKE_IN)
    made = CaseSecret(case=case, item=item, kind=kind, opens=opens, **Entry.stamp(by, happened))
    key = _case_key(case, _lab_key(make=True))
    made.sealed = secrets.seal(secret, key, case_code=case.code, ref=str(made.ref))
    made.save()
    record("secret-kept", thing=_thing(made), by=by, happened=happened, because=str(made), case=case.code)
    return made


@sensitive_variables()
@recorded
def view_secret(*, secret: CaseSecret, by: Actor, happened: datetime) -> Plain:
    """The secret in clear, for an engineer of its case; that it was shown stands in the ledger first.

    Raises NotYourCase for everybody else, Erased when it is gone, KeyTrouble or DoesNotOpen when it cannot be read.
    """
    by.must(Right.EXAMINE)
    case = secret.case
    if by.staff is None or not case.engineers.filter(pk=by.staff.pk).exists():
        raise NotYourCase(
            "A secret is shown only to an engineer who works on its case.",
            mend="Take the case on first: that you did stands in the day-book.",
        )
    if secret.sealed is None:
        raise Erased(f"This secret was erased {secret.erased:%d %b %Y}.", mend="Ask the customer again.")
    row = CaseKey.objects.get(case=case)
    key = secrets.unwrap(bytes(row.wrapped or b""), _lab_key(), case_code=case.code)
    record("secret-viewed", thing=_thing(secret), by=by, happened=happened, because=str(secret), case=case.code)
    return secrets.open_box(bytes(secret.sealed), key, case_code=case.code, ref=str(secret.ref))


@recorded
def take_on(*, case: Case, by: Actor, happened: datetime) -> Case:
    """An engineer works on this case from now on."""
    by.must(Right.EXAMINE)
    if by.staff and not case.engineers.filter(pk=by.staff.pk).exists():
        case.engineers.add(by.staff)
        record("taken-on", thing=case.thing, by=by, happened=happened, because=by.name, case=case.code)
    return case


@recorded
def erase_secret(*, secret: CaseSecret, by: Actor, happened: datetime, because: str) -> CaseSecret:
    """One secret that was wrong or is not needed any more."""
    if not by.may(Right.EXAMINE):
        by.must(Right.TAKE_IN)
    _must_not_be_held(secret.case)
    if not CaseSecret.objects.standing().filter(pk=secret.pk).update(sealed=None, erased=happened):
        raise Erased("This secret is erased already.", mend="Reload the page.")
    said = f"{secret}: {because}"
    record("secret-erased", thing=_thing(secret), by=by, happened=happened, because=said, case=secret.case.code)
    return secret


@recorded
def erase_case_secrets(*, case: Case, by: Actor, happened: datetime, because: str = "end of keeping") -> int:
    """Delete the key of a case, and what it closed; gives how many secrets that were. Raises HeldByLaw."""
    by.must(Right.LIFT_STOP)
    _must_not_be_held(case)
    CaseKey.objects.filter(case=case, erased=None).update(wrapped=None, erased=happened)
    gone: int = CaseSecret.objects.standing().filter(case=case).update(sealed=None, erased=happened)
    if gone:
        said = f"{gone} {'secret' if gone == 1 else 'secrets'}, {because}"
        record("secret-erased", thing=case.thing, by=by, happened=happened, because=said, case=case.code)
    return gone


def _must_not_be_held(case: Case) -> None:
    if Case.objects.filter(pk=case.pk, legal_hold=True).exists():
        raise HeldByLaw(f"The law holds case {case}: nothing of it is erased.", mend="End the hold first, on record.")


def _thing(secret: CaseSecret) -> Thing:
    return secret.item.thing if secret.item else secret.case.thing


# --- keys -------------------------------------------------------------------------------------------------------------


@sensitive_variables()
def _lab_key(*, make: bool = False) -> bytes:
    """The key this database was sealed with. ``make``: the first secret of all may settle which one that is."""
    row = SecretsKey.objects.filter(pk=1).first()
    keys = secrets.ring(settings.KEY_DIR, supplied=(settings.SECRETS_KEY, settings.SECRETS_KEY_BEFORE))
    if row is not None:
        return secrets.chosen(keys, row.fingerprint)
    if not keys and make and connection.vendor == "sqlite":
        keys = [secrets.make_key_file(settings.KEY_DIR)]
    if not keys:
        raise KeyTrouble(
            "This lab has no key for secrets yet.",
            why="A lab on a database server is given its key by the setting SECRETS_KEY, so that every machine has it.",
            mend="Set SECRETS_KEY to 64 random hexadecimal digits, keep a copy elsewhere, and start again.",
        )
    SecretsKey.objects.create(pk=1, fingerprint=secrets.fingerprint(keys[0]))
    return keys[0]


@sensitive_variables()
def _case_key(case: Case, lab_key: bytes) -> bytes:
    row = CaseKey.objects.filter(case=case).first()
    if row and row.wrapped is not None:
        return secrets.unwrap(bytes(row.wrapped), lab_key, case_code=case.code)
    key = secrets.new_key()
    wrapped = secrets.wrap(key, lab_key, case_code=case.code)
    CaseKey.objects.update_or_create(case=case, defaults={"wrapped": wrapped, "erased": None})
    return key


@sensitive_variables()
def replace_lab_key(*, by: Actor, happened: datetime) -> int:
    """Wrap every case's key anew with a new key of the lab; no secret is opened. Gives how many were wrapped.

    The new key is supplied by the settings (the former one as SECRETS_KEY_BEFORE), or made in the key folder. A power
    cut at any moment leaves both keys there, and the database says which one it was closed with.
    """
    by.must(Right.KEEP_LAB)
    row = SecretsKey.objects.filter(pk=1).first()
    if row is None:
        raise KeyTrouble("No secret was ever kept here: there is no key to replace.")
    supplied = settings.SECRETS_KEY
    if not supplied:
        secrets.tidy_key_files(settings.KEY_DIR, row.fingerprint)
    old = _lab_key()
    new = secrets.ring(settings.KEY_DIR, supplied=(supplied,))[0] if supplied else None
    if new == old:
        raise KeyTrouble(
            "SECRETS_KEY is still the key that is in use.",
            mend="Set SECRETS_KEY to the new key and SECRETS_KEY_BEFORE to the present one, and run it again.",
        )
    count = _wrap_anew(old, new or secrets.make_next_key_file(settings.KEY_DIR), by=by, happened=happened)
    if not supplied:
        secrets.tidy_key_files(settings.KEY_DIR, SecretsKey.objects.get(pk=1).fingerprint)
    return count


@sensitive_variables()
@recorded
def _wrap_anew(old: bytes, new: bytes, *, by: Actor, happened: datetime) -> int:
    rows = list(CaseKey.objects.filter(erased=None).select_related("case__thing"))
    for row in rows:
        key = secrets.unwrap(bytes(row.wrapped or b""), old, case_code=row.case.code)
        row.wrapped = secrets.wrap(key, new, case_code=row.case.code)
    CaseKey.objects.bulk_update(rows, ["wrapped"], batch_size=500)
    SecretsKey.objects.filter(pk=1).update(fingerprint=secrets.fingerprint(new), since=happened)
    said = f"the key for secrets was replaced; {len(rows)} wrapped anew"
    record("lab-changed", thing=None, by=by, happened=happened, because=said)
    return len(rows)
