"""The application's user in PostgreSQL has no right to change the ledger: it works without, and is refused the rest."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from django.core.management import CommandError, call_command
from django.db import ProgrammingError, connection, transaction

from labcases.custody import grants, queries, triggers
from labcases.custody.actions import keep_head, move
from labcases.custody.models import Event, Head
from labcases.custody.verify import BESIDE_KEY
from labcases.lab.roles import Role
from labcases.ops.management.commands import prepare

ON_POSTGRES = connection.vendor == "postgresql"
USER = "lab's app"  # a name that must be quoted
LEDGER = ["custody_event", "custody_treenode", "custody_kepthead"]
FORBIDDEN = [
    *(f"{words} {table}" for table in LEDGER for words in ("DELETE FROM", "TRUNCATE", "DROP TABLE")),
    "UPDATE custody_event SET kind = 'wiped'",
    "UPDATE custody_treenode SET digest = ''",
    "UPDATE custody_kepthead SET root = ''",
    "DELETE FROM custody_head",
    "TRUNCATE custody_head",
    "TRUNCATE custody_eventtext",
    "ALTER TABLE custody_event DISABLE TRIGGER ALL",
    "ALTER TABLE custody_event DISABLE TRIGGER custody_event_no_update",
    "ALTER TABLE custody_event ADD COLUMN more text",
    "ALTER TABLE custody_event OWNER TO CURRENT_USER",
    "DROP TRIGGER custody_event_no_update ON custody_event",
    "CREATE TRIGGER mine BEFORE INSERT ON custody_event FOR EACH ROW EXECUTE FUNCTION custody_event_refuse()",
    "DROP FUNCTION custody_event_refuse() CASCADE",
    "CREATE OR REPLACE FUNCTION custody_event_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
    "CREATE RULE mine AS ON INSERT TO custody_event DO INSTEAD NOTHING",
    "SET session_replication_role = replica",
    "DELETE FROM django_migrations",
]


def printed(role: str = USER) -> str:
    out = io.StringIO()
    call_command("ledger_grants", role, stdout=out)
    return out.getvalue()


def run(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


def test_only_the_ledgers_own_tables_have_fewer_rights() -> None:
    said = grants.statements("app", ["custody_event", "custody_head", "custody_eventtext", "django_migrations"])
    assert 'GRANT SELECT, INSERT ON "custody_event" TO "app";' in said
    assert 'GRANT SELECT, INSERT, UPDATE ON "custody_head" TO "app";' in said
    assert 'GRANT SELECT, INSERT, UPDATE, DELETE ON "custody_eventtext" TO "app";' in said
    assert 'GRANT SELECT ON "django_migrations" TO "app";' in said


def test_a_name_cannot_end_the_statement_it_stands_in() -> None:
    assert grants.quoted('app" ; DROP TABLE x') == '"app"" ; DROP TABLE x"'
    with pytest.raises(ValueError, match="no name"):
        grants.quoted("")


if ON_POSTGRES:

    @pytest.fixture
    def as_user(make, noon) -> Iterator[None]:
        """Acting as a role that has what the command prints, and nothing else. The role goes with the transaction."""
        make.case()
        keep_head(because="daily")
        run(f"CREATE ROLE {grants.quoted(USER)} LOGIN")
        run(printed())
        run(f"SET SESSION AUTHORIZATION {grants.quoted(USER)}")
        yield
        run("RESET SESSION AUTHORIZATION")

    def test_the_whole_way_of_a_case_works_with_these_rights(as_user, make, noon):
        before = Event.objects.count()
        case = make.paid(make.worked(make.case(items=2)))
        move(thing=case.items.first().thing, to=make.place(), by=make.everyone(), happened=noon)
        assert keep_head(because="handover").size == Event.objects.count() > before
        assert {finding.detector for finding in queries.verify_ledger().findings} <= {BESIDE_KEY}  # on commit only

    def test_the_pages_work_with_these_rights(as_user, make, client_as):
        client = client_as(Role.MANAGER)
        for address in ("/counter/", "/bench/", "/stockroom/", "/office/", "/custody/", "/custody/public-key/"):
            assert client.get(address).status_code == 200

    @pytest.mark.parametrize("sql", FORBIDDEN)
    def test_what_would_change_the_ledger_is_refused_by_the_server(as_user, sql):
        before = list(Event.objects.values_list("sequence", "digest"))
        with pytest.raises(ProgrammingError, match=r"permission denied|must be owner"), transaction.atomic():
            run(sql)
        assert list(Event.objects.values_list("sequence", "digest")) == before
        assert Head.objects.exists()

    def test_rights_given_by_mistake_are_taken_back(as_user):
        run("RESET SESSION AUTHORIZATION")
        run(f"GRANT ALL ON custody_event TO {grants.quoted(USER)}")
        run(printed())
        run(f"SET SESSION AUTHORIZATION {grants.quoted(USER)}")
        with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
            run("TRUNCATE custody_event")

    def test_the_start_asks_for_no_more_than_these_rights(as_user):
        prepare.Command()._migrate()

    def test_a_start_that_has_to_mend_the_database_says_who_can(as_user):
        run("RESET SESSION AUTHORIZATION")
        triggers.drop(connection)
        run(f"SET SESSION AUTHORIZATION {grants.quoted(USER)}")
        with pytest.raises(CommandError, match="owner of the tables"), transaction.atomic():
            prepare.Command()._migrate()

    def test_every_table_has_its_rights(as_user):
        said = printed()
        tables = connection.introspection.table_names()
        assert len(tables) > 40
        assert [table for table in tables if f'ON "{table}" TO' not in said] == []

else:

    def test_sqlite_has_no_rights_to_grant(db):
        with pytest.raises(CommandError, match="Only PostgreSQL"):
            printed()
