"""The ground of every test: which database engine, which tests run where, the browser, two-at-once."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.test import TransactionTestCase

from labcases.custody import triggers

pytest_plugins = ["tests.tally", "tests.builders"]

HERE = Path(__file__).parent
ON_BOTH_ENGINES = {"custody", "races", "migrations"}
ONE_BY_ONE = {"races", "load"}
# What takes longest, and so begins first where files run side by side.
LONGEST = (
    "walks/test_every_page_is_accessible.py",
    "house/test_pages.py",
    "migrations/test_migrations.py",
    "walks/test_four_jobs.py",
    "handover/test_pages.py",
    "outside/test_report_content.py",
)
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")

# Playwright keeps an event loop running in the test's thread; Django would refuse every query beside it.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


def pytest_report_header() -> str:
    engine = settings.DATABASES["default"]["ENGINE"].rpartition(".")[2]
    return f"database engine: {engine}; browser: {CHROMIUM or 'none'}"


def pytest_configure() -> None:
    settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # collected files are expected there, and missed loudly


def pytest_unconfigure() -> None:
    """The data folder of this run was made by the settings for it alone."""
    if settings.DATA_DIR.name.startswith("labcases-tests-"):
        shutil.rmtree(settings.DATA_DIR, ignore_errors=True)


# --- which test runs where -----------------------------------------------------------------------------------------


def _place(item: pytest.Item) -> str:
    return str(item.path.relative_to(HERE)) if item.path.is_relative_to(HERE) else ""


def _asks_the_database(item: pytest.Item) -> bool:
    """A test of pure computation is not worth a second run on the second engine."""
    fixtures = set(getattr(item, "fixturenames", ()))
    return (
        bool(fixtures & {"db", "transactional_db", "live_server"}) or item.get_closest_marker("django_db") is not None
    )


def _belongs(item: pytest.Item, part: str) -> bool:
    """Whether a test is of a part of the suite, named by ``postgres``, ``parallel``, ``serial``; '' is all."""
    if "postgres" in part and item.get_closest_marker("postgres") is None:
        return False
    serial = item.get_closest_marker("serial") is not None
    return not ("parallel" in part and serial) and not ("serial" in part and not serial)


@pytest.hookimpl(wrapper=True, tryfirst=True)  # before -m looks at the marks, and after all others have put in order
def pytest_collection_modifyitems(items: list[pytest.Item]) -> Iterator[None]:
    """Mark by place, skip walks where there is no browser, keep only the part that was asked for."""
    part = os.environ.get("TEST_PART", "")
    for item in items:
        _mark(item)
    items[:] = [item for item in items if _belongs(item, part)]
    yield
    if "parallel" in part:
        items.sort(key=lambda item: _place(item) not in LONGEST)


def _mark(item: pytest.Item) -> None:
    place = _place(item)
    room = place.partition("/")[0]
    if room in ON_BOTH_ENGINES and _asks_the_database(item):
        item.add_marker("postgres")
    if room in ONE_BY_ONE:
        item.add_marker("serial")
    if room == "walks" and CHROMIUM is None:
        item.add_marker(pytest.mark.skip(reason="no Chromium on this machine"))


# --- the database --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A database of this process's own: SQLite in a file, since threads and live servers cannot share a memory one."""
    entry: dict[str, Any] = settings.DATABASES["default"]
    if entry["ENGINE"].endswith("sqlite3"):
        name = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
    else:
        name = f"test_{os.getpid()}"
    entry.setdefault("TEST", {})["NAME"] = name
    # Its tables are made from the models, in a second instead of twenty; tests/migrations holds that they are the same.
    settings.MIGRATION_MODULES = {config.label: None for config in apps.get_app_configs()}


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """PostgreSQL drops no database that a live server's thread still holds a session of: such sessions end first."""
    settings.MIGRATION_MODULES = {}
    with django_db_blocker.unblock():
        recorder = MigrationRecorder(connections["default"])
        for name, migration in MigrationLoader(None).disk_migrations.items():
            for one in (name, *migration.replaces):
                recorder.record_applied(*one)
    yield
    with django_db_blocker.unblock():
        if connections["default"].vendor == "postgresql":
            others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database()"
            with connections["default"].cursor() as cursor:
                cursor.execute(f"{others} AND pid <> pg_backend_pid()")


@pytest.fixture(scope="session", autouse=True)
def _ledger_may_be_emptied_between_tests() -> Iterator[None]:
    """Django empties every table after a test with real transactions; the ledger's triggers would refuse that."""
    original = TransactionTestCase._fixture_teardown

    def teardown(self: TransactionTestCase) -> None:
        for connection in connections.all():
            triggers.drop(connection)
        original(self)
        for connection in connections.all():
            triggers.install(connection)

    TransactionTestCase._fixture_teardown = teardown
    yield
    TransactionTestCase._fixture_teardown = original


# --- two at once ---------------------------------------------------------------------------------------------------


@pytest.fixture
def at_once(transactional_db: None) -> Callable[..., list[Any]]:
    """Run functions at the same moment, each in a thread with a database connection of its own.

    ``at_once(first, second)`` gives what each returned, or the exception it raised, in their order.
    """

    def run(*functions: Callable[[], Any]) -> list[Any]:
        start = threading.Barrier(len(functions), timeout=20)

        def one(function: Callable[[], Any]) -> Any:
            try:
                start.wait()
                return function()
            except Exception as problem:  # noqa: BLE001 the test judges it
                return problem
            finally:
                connections.close_all()

        with ThreadPoolExecutor(len(functions)) as pool:
            return list(pool.map(one, functions))

    return run


# --- the browser ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's Chromium, without a sandbox (tests may run as root) and without asking any outside host."""
    quiet = ["--disable-background-networking", "--disable-component-update", "--no-first-run", "--disable-sync"]
    return {
        **browser_type_launch_args,
        "executable_path": CHROMIUM,
        "args": ["--no-sandbox", "--disable-gpu", *quiet],
    }


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A common screen, British English, Greenwich; no motion, so that no contrast is judged in mid-fade."""
    return {
        **browser_context_args,
        "viewport": {"width": 1280, "height": 900},
        "locale": "en-GB",
        "timezone_id": "Europe/London",
        "reduced_motion": "reduce",
    }
