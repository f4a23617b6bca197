"""The vocabularies agree with what uses them: kinds of events, verbs of the next step, requirements, settings."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest
from django.urls import reverse

from labcases.bench.protocol_defaults import DEFAULTS
from labcases.custody.kinds import KINDS
from labcases.docket.next_step import _STEPS
from labcases.docket.queries import VERBS
from tests.house.source import HOUSE, ROOT, calls, python_files, said, strings, tree

README = ROOT / "README.md"
DOORS = ("record", "record_many", "said_of")
ROW = re.compile(r"^\|\s*`([A-Z][A-Z_]+)`", re.MULTILINE)


# --- events


def recorded() -> dict[str, str]:
    """The kinds that some call that records names in its first argument, and where."""
    found = {}
    for path in python_files():
        for call in calls(path, *DOORS):
            if call.args:
                found |= {kind: f"{said(path)}:{call.lineno}" for kind in strings(call.args[0])}
    return found


@cache
def texts_beside_records() -> set[str]:
    """Every text of the files that record: a kind may be chosen a line before it is recorded."""
    files = [path for path in python_files() if calls(path, *DOORS) and path.stem != "kinds"]
    return {text for path in files for text in strings(tree(path))}


def test_the_guard_sees_the_records() -> None:
    assert len(recorded()) > 25
    assert len(KINDS) > 40


def test_what_is_recorded_is_in_the_vocabulary() -> None:
    assert {kind: where for kind, where in recorded().items() if kind not in KINDS} == {}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_event_is_recorded_somewhere(kind: str) -> None:
    assert kind in texts_beside_records()


@pytest.mark.parametrize("kind", KINDS)
def test_the_day_book_can_say_every_kind(kind: str) -> None:
    said = KINDS[kind].say(what="disk", to="Shelf A1", because="a reason")
    assert said[:1].isupper()
    assert "{" not in said


# --- the next safe step


def test_every_verb_of_a_step_has_its_page_and_every_page_its_step() -> None:
    named = {call.args[2].value for call in calls(HOUSE / "docket" / "next_step.py", "Step") if _is_text(call, 2)}
    assert len(_STEPS) > 8
    ordered = {step.verb for protocol in DEFAULTS.values() for step in protocol.steps}
    assert (named | ordered | {"answer-order"}) - {""} == set(VERBS)


def _is_text(call: ast.Call, place: int) -> bool:
    return len(call.args) > place and isinstance(call.args[place], ast.Constant)


@pytest.mark.parametrize("verb", VERBS)
def test_the_page_of_a_verb_exists(verb: str) -> None:
    name, takes, button = VERBS[verb]
    assert takes in ("item", "case")
    assert button
    assert reverse(name, args=["26-00417-D"])


# --- what is needed


@pytest.mark.parametrize("name", ["requirements.txt", "tests/requirements.txt"])
def test_requirements_are_pinned_each_with_a_word(name: str) -> None:
    lines = [line for line in (ROOT / name).read_text().splitlines() if line.strip() and not line.startswith("#")]
    assert len(lines) > 9
    wrong = [line for line in lines if not re.fullmatch(r"[A-Za-z0-9._-]+(\[[a-z-]+\])?==[0-9][0-9.]*\s+# \w.+", line)]
    assert wrong == []


# --- settings

BEFORE_SETTINGS = {"BOOTSTRAP"}  # read by the set-up, before there is a Django to read settings


def read_from_the_environment() -> set[str]:
    """The names that settings.py asks the environment for."""
    asked = calls(HOUSE / "settings.py", "text", "yes", "number", "one_of")
    return {name for call in asked for name in strings(call.args[0])}


def test_the_readme_tells_every_setting_and_no_other() -> None:
    asked = read_from_the_environment() - {"TEST_DATABASE_URL"}  # given by the test command itself
    assert len(asked) > 10
    if README.exists():
        assert set(ROW.findall(README.read_text(encoding="utf-8"))) == asked | BEFORE_SETTINGS
    assert set(strings(tree(HOUSE / "ops" / "bootstrap.py"))) >= BEFORE_SETTINGS


def test_a_row_of_the_settings_table_is_read() -> None:
    assert ROW.findall("| Name | … |\n|---|---|\n| `SITE_URL` | the address |\n| `EMAIL_HOST` (`_FILE`) |") == [
        "SITE_URL",
        "EMAIL_HOST",
    ]


# --- nothing of the outside

TEXT = {".py", ".html", ".css", ".js", ".json", ".svg", ".txt", ".md", ".toml", ".ini", ".sh", ""}
BROUGHT_ALONG = {"vendor", "__pycache__"}
REGISTRIES = ["pypi.org", "pythonhosted.org", "npmjs.org", "npmjs.com", "unpkg", "jsdelivr"]
MACHINE = re.compile(r"(?<![\w.])/(?:work|root)/|/tmp/lab\b")
HOST = re.compile(r"(?:https?:)?//([a-z0-9-]+(?:\.[a-z0-9-]+)+)", re.IGNORECASE)
INVENTED = re.compile(r"(^|\.)(example|test|invalid|localhost|example\.(com|net|org))$")
NAMESPACES = {"www.w3.org", "127.0.0.1"}


def texts(*folders: Path) -> list[Path]:
    """Text files of ours below these folders: not what was brought along with its licence, nor what tools leave."""
    found = [path for folder in folders for path in folder.rglob("*") if path.is_file() and path.suffix in TEXT]
    return [path for path in found if _is_ours(path.relative_to(ROOT).parts)]


def _is_ours(parts: tuple[str, ...]) -> bool:
    hidden = any(part.startswith(".") and part != ".ci" for part in parts[:-1])
    return not hidden and not BROUGHT_ALONG.intersection(parts) and "LICENSE" not in parts[-1]


def test_no_file_names_a_registry_or_a_place_on_this_machine() -> None:
    files = [path for path in texts(ROOT) if path != Path(__file__)]
    assert len(files) > 300
    wrong = []
    for path in files:
        text = path.read_text(encoding="utf-8", errors="replace")
        wrong += [f"{said(path)} names {host}" for host in REGISTRIES if host in text]
        wrong += [f"{said(path)} names {found}" for found in MACHINE.findall(text)]
    assert wrong == []


def test_the_product_names_no_outside_host() -> None:
    files = texts(HOUSE, ROOT / "templates", ROOT / "static")
    assert len(files) > 200
    hosts = {
        (said(path), host)
        for path in files
        for host in HOST.findall(path.read_text(encoding="utf-8"))
        if not INVENTED.search(host) and host not in NAMESPACES
    }
    assert hosts == set()


# --- one act, one word


def pages_of_verbs(word: str) -> dict[str, str]:
    """The titles of pages that begin with a word, and the words of their buttons."""
    found = {}
    for path in python_files():
        for call in calls(path, "page_of"):
            title = call.args[0] if call.args else None
            if isinstance(title, ast.Constant) and str(title.value).startswith(f"{word} "):
                button = next((one.value for one in call.keywords if one.arg == "button"), None)
                found[str(title.value)] = str(getattr(button, "value", title.value))
    return found


def test_what_was_recorded_is_corrected_and_what_the_lab_settles_is_changed() -> None:
    corrected, changed = pages_of_verbs("Correct"), pages_of_verbs("Change")
    assert set(corrected) == {"Correct the donor", "Correct the medium", "Correct the part"}
    assert set(corrected.values()) == {"Keep this correction"}
    assert changed == {"Change the pool": "Keep the changes", "Change the room": "Reserve as much"}
