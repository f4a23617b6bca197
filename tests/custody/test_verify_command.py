"""``manage.py verify-custody``: exit code, words, JSON and progress; and a walk while others record."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.models import QuerySet

from labcases.custody import queries, triggers
from labcases.custody.actions import keep_head
from labcases.custody.models import Event, Head, KeptHead
from labcases.custody.proofs import queries as proofs
from labcases.custody.signing import keep_beside_key


@pytest.fixture
def ledger(make, settings, tmp_path) -> int:
    settings.KEY_DIR = tmp_path / "keys"
    make.case(items=2)
    beside_the_key(settings)
    return Event.objects.count()


def beside_the_key(settings) -> None:
    """What happens on commit; a test's transaction never commits."""
    keep_beside_key(settings.KEY_DIR, Head.objects.get().as_signed())


def tamper(sequence: int, **changes: Any) -> None:
    triggers.drop(connection)
    QuerySet(Event).filter(sequence=sequence).update(**changes)


def ran(*arguments: str) -> tuple[int, str, str]:
    """Exit code, output, error output."""
    out, err = io.StringIO(), io.StringIO()
    try:
        call_command("verify_custody", *arguments, stdout=out, stderr=err)
    except SystemExit as end:
        return int(str(end.code)), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def test_a_ledger_that_holds_ends_with_0_and_says_its_root(ledger):
    code, out, err = ran()
    assert code == 0
    assert out == f"The ledger holds: {ledger} events, root {Head.objects.get().root}.\n"
    assert f"{ledger} of {ledger} events" in err


def test_a_ledger_that_does_not_ends_with_1_and_names_the_first_bad_event_and_what_is_wrong(ledger):
    tamper(3, kind="wiped")
    tamper(2, role="auditor")
    code, out, _ = ran()
    assert code == 1
    assert out.startswith("The ledger does NOT hold. First at event 2: The column role says 'auditor', the body '")
    assert "event 3: The column kind says 'wiped'" in out
    assert "(found by: columns)" in out


def test_json_names_the_first_bad_event_beside_all_others(ledger):
    code, out, err = ran("--json")
    said = json.loads(out)
    assert (code, said["holds"], said["first"], said["size"], said["findings"]) == (0, True, None, ledger, [])
    assert "events" in err
    tamper(2, kind="wiped")
    code, out, _ = ran("--json")
    said = json.loads(out)
    assert (code, said["holds"]) == (1, False)
    assert (said["first"]["sequence"], said["first"]["detector"]) == (2, "columns")
    assert "The column kind says 'wiped'" in said["first"]["sentence"]
    assert said["first"] == said["findings"][0]


def test_where_every_event_is_as_recorded_the_head_is_named(ledger):
    keep_head(because="daily")
    triggers.drop(connection)
    KeptHead.objects.update(root="00" * 32)
    code, out, _ = ran()
    assert code == 1
    assert f"First at the head kept at event {ledger}: The kept head of {ledger} events is not signed." in out


def test_an_empty_ledger_holds(db, settings, tmp_path):
    settings.KEY_DIR = tmp_path
    assert ran()[0] == 0


def test_events_that_are_recorded_while_it_walks_are_no_tampering(ledger, make, settings, monkeypatch):
    """Others record between the last row that was read and the head: it walks on until it stands at that head."""
    walk, writers = proofs.batches, iter([make.case, make.case])

    def busy(*after: Any) -> Iterator[Any]:
        yield from walk(*after)
        for write in writers:
            write()
            return

    monkeypatch.setattr(proofs, "batches", busy)
    found = queries.verify_ledger()
    assert found.findings == []
    assert found.size == Event.objects.count() > ledger


def test_a_head_that_is_ahead_of_all_events_is_waited_for_once_and_then_told(ledger):
    """The control: the walk does not go on for ever, and says that the tail is gone."""
    triggers.drop(connection)
    QuerySet(Event).filter(sequence=ledger).delete()
    found = queries.verify_ledger()
    assert f"The head was signed over {ledger} events, and there are {ledger - 1}." in [
        f.sentence for f in found.findings
    ]
