"""Migrations: none is missing, they run from nothing and back to nothing, and they carry what is stored along."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connections
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from labcases.custody import triggers
from tests.seed import FITTING, Seed

pytestmark = pytest.mark.postgres
OURS = [config.label for config in apps.get_app_configs() if config.name.startswith("labcases.")]
MIGRATED = [label for label in OURS if list(apps.get_app_config(label).get_models())]
FRESH = "fresh"

# Where the migrations of before the first release were folded to.
FOLDED = ("0001_tables", "0002_joins")


@pytest.fixture
def fresh(tmp_path: Path, django_db_setup: None, django_db_blocker: Any) -> Iterator[Any]:
    """A second, empty database on the same engine, beside the one that the other tests use."""
    with django_db_blocker.unblock():
        yield from _fresh(tmp_path)


def _fresh(tmp_path: Path) -> Iterator[Any]:
    home = connections["default"]
    settings = {**home.settings_dict, "NAME": str(tmp_path / "fresh.sqlite3")}
    if home.vendor == "postgresql":
        settings["NAME"] = f"{home.settings_dict['NAME']}_fresh"
        _run(home, f'CREATE DATABASE "{settings["NAME"]}"')
    connections.settings[FRESH] = settings
    connection = connections[FRESH]
    connection.ensure_connection()
    yield connection
    connection.close()
    del connections[FRESH], connections.settings[FRESH]
    if home.vendor == "postgresql":
        _run(home, f'DROP DATABASE "{settings["NAME"]}"')


def _run(connection: Any, statement: str) -> None:
    with connection._nodb_cursor() as cursor:
        cursor.execute(statement)


def migrate(*target: str) -> None:
    call_command("migrate", *target, database=FRESH, verbosity=0)


def tables(connection: Any) -> set[str]:
    ours = {model._meta.db_table for label in OURS for model in apps.get_app_config(label).get_models()}
    return ours.intersection(connection.introspection.table_names())


def test_no_migration_is_missing(db: None) -> None:
    assert len(OURS) > 10
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def shape(connection: Any) -> dict[str, Any]:
    """Columns, keys, constraints and indexes of each of our tables, as the database tells them."""
    look = connection.introspection
    shapes = {}
    with connection.cursor() as cursor:
        for table in sorted(tables(connection)):
            columns = {
                field.name: (field.type_code, field.null_ok, field.default)
                for field in look.get_table_description(cursor, table)
            }
            held = look.get_constraints(cursor, table).values()
            shapes[table] = columns, sorted(json.dumps(one, sort_keys=True, default=str) for one in held)
    return shapes


def test_they_run_from_nothing_back_to_nothing_and_again_to_the_tables_of_the_models(fresh: Any) -> None:
    migrate()
    assert len(tables(fresh)) > 35
    assert triggers.missing(fresh) == []
    for label in reversed(MIGRATED):
        migrate(label, "zero")
    assert tables(fresh) == set()
    migrate()
    assert len(tables(fresh)) > 35
    assert triggers.missing(fresh) == []
    models = shape(connections["default"])  # the other tests' tables, which were made from the models
    assert shape(fresh) == models


# --- with something in it


def _first_and_last(executor: MigrationExecutor) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """The state that the first release of each room made, and today's."""
    graph = executor.loader.graph
    firsts = {app: name for app, name in sorted(graph.nodes) if app in OURS and name in FOLDED}
    return list(firsts.items()), graph.leaf_nodes()


def test_they_carry_along_what_the_first_state_held(fresh: Any) -> None:
    executor = MigrationExecutor(fresh)
    first, last = _first_and_last(executor)
    old = executor.migrate(first).apps
    held = [model for model in old.get_models() if model._meta.app_label in OURS and not model._meta.auto_created]
    seed = Seed(old, using=FRESH, fitting=FITTING)
    for model in held:
        seed.of(model)
    triggers.install(fresh)
    assert len(held) > 90
    assert set(last) - set(first)
    new = MigrationExecutor(fresh).migrate(last).apps
    now = {model._meta.label_lower: model._base_manager.using(FRESH).count() for model in new.get_models()}
    assert {label: now.get(label) for label in seed.made} == dict.fromkeys(seed.made, 1)


def test_a_database_of_the_migrations_before_they_were_folded_is_taken_over(fresh: Any) -> None:
    executor = MigrationExecutor(fresh)
    folded = [key for key in executor.loader.disk_migrations if key[0] in OURS and key[1] in FOLDED]
    executor.migrate(_first_and_last(executor)[0])
    recorder = MigrationRecorder(fresh)
    for key in folded:
        recorder.record_unapplied(*key)
        for replaced in executor.loader.disk_migrations[key].replaces:
            recorder.record_applied(*replaced)
    migrate()
    assert set(folded) <= set(MigrationRecorder(fresh).applied_migrations())
    assert shape(fresh) == shape(connections["default"])
