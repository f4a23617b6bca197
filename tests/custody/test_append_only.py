"""The ledger is append-only in the database itself, whatever program writes to it, on both engines."""

from __future__ import annotations

import pytest
from django.core.management.sql import emit_post_migrate_signal
from django.db import IntegrityError, connection, models, transaction
from django.db.models import QuerySet

from labcases.custody import checks, triggers
from labcases.custody.actions import keep_head
from labcases.custody.models import Event, KeptHead

ON_SQLITE = connection.vendor == "sqlite"
# Columns of a further event that is a copy of the first one but for the number and the hash.
COPY = (
    "body, kind, thing_code, case_code, actor_ref, role, happened, entered, corrects FROM custody_event "
    "WHERE sequence = 1"
)
COLUMNS = "(sequence, digest, body, kind, thing_code, case_code, actor_ref, role, happened, entered, corrects)"


def run(sql: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


def standing() -> list[tuple]:
    return list(Event.objects.order_by("sequence").values_list("sequence", "digest", "kind"))


@pytest.fixture
def ledger(make) -> list[tuple]:
    """A ledger with events in it, as it must still stand afterwards."""
    make.case(items=2)
    before = standing()
    assert len(before) >= 3
    return before


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE custody_event SET kind = 'refused' WHERE sequence = 1",
        "UPDATE custody_event SET sequence = sequence + 100",
        "DELETE FROM custody_event WHERE sequence = 1",
        "DELETE FROM custody_event",
    ],
)
def test_raw_sql_neither_changes_nor_removes_an_event(ledger, sql):
    with pytest.raises(IntegrityError, match="append-only"):
        run(sql)
    assert standing() == ledger


# Each engine has its own ways to write over what is there.
REPLACES = [
    f"{word} INTO custody_event {COLUMNS} SELECT {same}, {COPY}"
    for word in ("INSERT OR REPLACE", "REPLACE", "INSERT OR IGNORE")
    for same in ("1, 'another'", "999, digest")
]
EMPTIES = [
    "TRUNCATE custody_event",
    "TRUNCATE custody_event CASCADE",
    f"INSERT INTO custody_event {COLUMNS} SELECT 1, 'another', {COPY} ON CONFLICT (sequence) DO UPDATE SET kind = ''",
]


@pytest.mark.parametrize("sql", REPLACES if ON_SQLITE else EMPTIES)
def test_no_event_is_written_over_and_the_ledger_is_not_emptied_at_a_stroke(ledger, sql):
    with pytest.raises(IntegrityError, match="append-only"):
        run(sql)
    assert standing() == ledger


def test_an_event_with_a_number_and_a_hash_of_its_own_may_follow(ledger):
    run(f"INSERT INTO custody_event {COLUMNS} SELECT 999, 'another', {COPY}")
    assert len(standing()) == len(ledger) + 1


def test_an_event_that_was_read_is_neither_saved_nor_deleted(ledger):
    event = Event.objects.get(sequence=1)
    with pytest.raises(TypeError, match="record a correction instead"):
        event.save()
    with pytest.raises(TypeError, match="record a correction instead"):
        event.delete()
    assert standing() == ledger


def test_the_manager_neither_updates_nor_deletes(ledger):
    with pytest.raises(TypeError):
        Event.objects.filter(sequence=1).update(kind="refused")
    with pytest.raises(TypeError):
        Event.objects.all().delete()
    with pytest.raises(TypeError), transaction.atomic():
        Event.objects.bulk_update([Event.objects.get(sequence=1)], ["kind"])
    assert standing() == ledger


@pytest.mark.parametrize(
    "write",
    [
        lambda: QuerySet(Event).update(kind="refused"),
        lambda: QuerySet(Event).filter(sequence=1).delete(),
        lambda: models.Model.save(Event.objects.get(sequence=1), force_update=True),
        lambda: models.Model.delete(Event.objects.get(sequence=1)),
    ],
    ids=["update", "delete", "save", "delete one"],
)
def test_going_round_the_model_ends_at_the_database(ledger, write):
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        write()
    assert standing() == ledger


# --- the heads that are kept for ever ---------------------------------------------------------------------------------


@pytest.fixture
def kept(ledger) -> KeptHead:
    found = keep_head(because="daily")
    assert found
    return found


HEAD = "root, signed, signature, key, because FROM custody_kepthead"
OVER = [
    f"{word} INTO custody_kepthead (id, size, root, signed, signature, key, because) SELECT {same}, {HEAD}"
    for word in ("INSERT OR REPLACE", "REPLACE")
    for same in ("id, 7777", "7777, size")
]
STROKES = ["TRUNCATE custody_kepthead CASCADE", "TRUNCATE custody_event, custody_kepthead CASCADE"]


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE custody_kepthead SET root = ''",
        "UPDATE custody_kepthead SET because = 'another'",
        "DELETE FROM custody_kepthead",
        *(OVER if ON_SQLITE else STROKES),
    ],
)
def test_a_kept_head_is_neither_changed_nor_removed_nor_written_over(kept, sql):
    with pytest.raises(IntegrityError, match="append-only"):
        run(sql)
    assert KeptHead.objects.get().as_signed() == kept.as_signed()


def test_a_head_is_kept_once_though_it_is_asked_for_again(kept):
    assert keep_head(because="handover") == kept


# --- the triggers themselves -----------------------------------------------------------------------------------------


def said() -> list[str]:
    return [message.msg for message in checks.ledger_is_append_only(databases=["default"])]


def test_the_check_is_quiet_while_every_trigger_is_in_place(db):
    assert said() == []
    assert checks.ledger_is_append_only(databases=[]) == []


def test_the_check_names_each_trigger_that_is_missing(db):
    names = triggers.missing(connection)
    assert names == []
    triggers.drop(connection)
    try:
        gone = triggers.missing(connection)
        assert len(gone) == (6 if ON_SQLITE else 4)
        assert len(said()) == 1
        assert all(name in said()[0] for name in gone)
    finally:
        triggers.install(connection)
    assert said() == []


def test_without_its_triggers_the_ledger_could_be_changed(ledger):
    """The control: it is the triggers that hold, and nothing else."""
    triggers.drop(connection)
    run("UPDATE custody_event SET kind = 'refused' WHERE sequence = 1")
    assert standing() != ledger
    triggers.install(connection)
    with pytest.raises(IntegrityError):
        run("UPDATE custody_event SET kind = 'received' WHERE sequence = 1")


def test_putting_the_triggers_in_place_twice_changes_nothing(db):
    triggers.install(connection)
    triggers.install(connection)
    assert triggers.missing(connection) == []


@pytest.mark.django_db(transaction=True)
def test_the_triggers_come_back_after_a_migration_that_remakes_the_table(make):
    """SQLite makes the table anew to add a column with a default, and its triggers are gone with the old one."""
    make.case()
    extra = models.CharField(max_length=5, default="")
    extra.set_attributes_from_name("extra")
    extra.model = Event
    try:
        with connection.schema_editor() as editor:
            editor.add_field(Event, extra)
        assert (triggers.missing(connection) != []) == ON_SQLITE
        emit_post_migrate_signal(verbosity=0, interactive=False, db="default")
        assert triggers.missing(connection) == []
        with pytest.raises(IntegrityError, match="append-only"):
            run("UPDATE custody_event SET extra = 'x'")
    finally:
        with connection.schema_editor() as editor:
            editor.remove_field(Event, extra)
        triggers.install(connection)
    assert "extra" not in [column.name for column in _columns()]


def _columns() -> list:
    with connection.cursor() as cursor:
        return connection.introspection.get_table_description(cursor, "custody_event")
