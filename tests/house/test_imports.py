"""The order of the rooms holds: imports point down, and computation knows no Django."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings

from tests.house.source import HOUSE, ROLES, ROOMS, ROOT, imports, is_pure, python_files, said

FILES = python_files()
RANK = {room: rank for rank, room in enumerate(ROOMS)}
GROUND = {"env"}  # below every room, and known to all
PURE = [path for path in FILES if is_pure(path)]
# Files that are no computation although their names are not a role's, and why each may pull Django in.
EXCUSED = {
    "labcases/custody/__init__.py": "the door custody.record, looked up only when somebody uses it",
    "labcases/demo/bench_days.py": "plays the bench's machines, dumps and chips through the bench's verbs",
    "labcases/demo/bench_hand.py": "plays the engineer's part of a story through the verbs of bench and stockroom",
    "labcases/demo/days.py": "knows the invented lab's cases, and sets the clock for a verb",
    "labcases/demo/desk_days.py": "plays counter and office through their verbs",
    "labcases/demo/files_days.py": "plays a list of recovered files through the bench's verbs",
    "labcases/demo/load.py": "plays the invented lab through the verbs of every room",
    "labcases/demo/player.py": "plays one story through the verbs of every room",
    "labcases/demo/proof_days.py": "plays custody through its verbs",
    "labcases/demo/reader.py": "plays what was read of a patient through the bench's verbs",
    "labcases/demo/shelves_days.py": "plays the stockroom through its verbs",
    "labcases/ops/bootstrap.py": "its last line hands over to Django's commands",
}


def room_of(path: Path) -> str:
    """The room of a file; '' for the few above all rooms (settings, urls, wsgi …)."""
    inside = path.relative_to(HOUSE).parts
    return inside[0] if len(inside) > 1 else ""


def looks_up(path: Path) -> list[str]:
    """Imports of a room that was written after the file's own."""
    wrong = []
    for name, line, _ in imports(path):
        top, _, rest = name.partition(".")
        other = rest.split(".")[0]
        if top != "labcases" or not room_of(path) or other in GROUND:
            continue
        if RANK.get(other, len(RANK)) > RANK[room_of(path)]:
            wrong.append(f"{said(path)}:{line} imports {name}")
    return wrong


def knows_django(path: Path) -> list[str]:
    """Imports that pull Django in at run time: its own modules, and files of ours that are a Django role."""
    wrong = []
    for name, line, typing_only in imports(path):
        top, *rest = name.split(".")
        through_us = top == "labcases" and ROLES.intersection(rest) - GROUND
        if not typing_only and (top.startswith("django") or through_us):
            wrong.append(f"{said(path)}:{line} imports {name}")
    return wrong


def test_the_guard_sees_the_house() -> None:
    assert len(FILES) > 120
    assert len(PURE) > 50
    assert sum(len(imports(path)) for path in FILES) > 800


def test_every_room_has_its_rank() -> None:
    rooms = {path.name for path in HOUSE.iterdir() if (path / "__init__.py").exists()}
    assert rooms <= set(ROOMS)


def test_django_starts_the_rooms_in_their_order() -> None:
    installed = [app.removeprefix("labcases.") for app in settings.INSTALLED_APPS if app.startswith("labcases.")]
    assert len(installed) > 10
    assert installed == sorted(installed, key=RANK.__getitem__)


@pytest.mark.parametrize("path", FILES, ids=said)
def test_imports_point_down(path: Path) -> None:
    assert looks_up(path) == []


@pytest.mark.parametrize("path", [path for path in PURE if said(path) not in EXCUSED], ids=said)
def test_computation_imports_no_django(path: Path) -> None:
    assert knows_django(path) == []


@pytest.mark.parametrize("name", EXCUSED)
def test_an_excuse_is_still_needed(name: str) -> None:
    assert knows_django(ROOT / name)


def test_a_file_that_looks_up_or_pulls_django_in_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.house.source.HOUSE", tmp_path)
    monkeypatch.setattr("tests.house.source.ROOT", tmp_path)
    monkeypatch.setattr("tests.house.test_imports.HOUSE", tmp_path)
    (tmp_path / "core").mkdir()
    bad = tmp_path / "core" / "sums.py"
    late = "def f():\n    from labcases.cases import words\n    from labcases.core.models import Line\n"
    bad.write_text(f"import django.db\n{late}")
    assert [line.rpartition(" ")[2] for line in looks_up(bad)] == ["labcases.cases.words"]
    assert [line.rpartition(" ")[2] for line in knows_django(bad)] == ["django.db", "labcases.core.models.Line"]
