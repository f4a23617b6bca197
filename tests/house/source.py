"""What the guards read: the project's own files, and what each Python file imports."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
HOUSE = ROOT / "labcases"
TEMPLATES, STATIC = ROOT / "templates", ROOT / "static"

# From the ground up: each room imports only rooms written before it.
ROOMS = [
    "core",
    "media",
    "lab",
    "paper",
    "custody",
    "people",
    "imports",
    "cases",
    "updates",
    "stock",
    "bench",
    "office",
]
ROOMS += ["handover", "docket", "figures", "portal", "api", "ops", "demo"]

# Names of files and folders that Django knows or that stand between Django and us. Every other file is computation.
ROLES = {"models", "actions", "queries", "forms", "views", "urls", "apps", "checks", "admin", "middleware", "papers"}
ROLES |= {"migrations", "management", "templatetags", "context_processors", "tasks", "mail_backends"}
ROLES |= {"settings", "env", "wsgi", "asgi"}


def python_files() -> list[Path]:
    return sorted(path for path in HOUSE.rglob("*.py") if "migrations" not in path.parts)


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


class Import(NamedTuple):
    """One imported module by its full name; ``typing_only`` when it is never imported at run time."""

    name: str
    line: int
    typing_only: bool


def imports(path: Path) -> list[Import]:
    """Everything a file imports: at its top, late inside functions, by ``import_module("…")``."""
    return list(_imports(tree(path), path, typing_only=False))


def _imports(node: ast.AST, path: Path, *, typing_only: bool) -> Iterator[Import]:
    if isinstance(node, ast.Import):
        yield from (Import(alias.name, node.lineno, typing_only) for alias in node.names)
    elif isinstance(node, ast.ImportFrom):
        yield from (Import(f"{_from(node, path)}.{alias.name}", node.lineno, typing_only) for alias in node.names)
    elif isinstance(node, ast.Call) and _called(node) == "import_module" and isinstance(node.args[0], ast.Constant):
        yield Import(str(node.args[0].value), node.lineno, typing_only)
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        for child in node.body:
            yield from _imports(child, path, typing_only=True)
        for child in node.orelse:
            yield from _imports(child, path, typing_only=typing_only)
        return
    for child in ast.iter_child_nodes(node):
        yield from _imports(child, path, typing_only=typing_only)


def _from(node: ast.ImportFrom, path: Path) -> str:
    """The module that is imported from, written out in full where it was named relative to the file."""
    package = ("labcases", *path.relative_to(HOUSE).parent.parts)
    base = package[: len(package) - node.level + 1] if node.level else ()
    return ".".join((*base, *filter(None, [node.module])))


def _called(call: ast.Call) -> str:
    """The bare name of what is called: ``record`` for ``record(…)`` and for ``custody.record(…)``."""
    function = call.func
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def calls(path: Path, *names: str) -> list[ast.Call]:
    """Every call of a function of one of these names."""
    return [node for node in ast.walk(tree(path)) if isinstance(node, ast.Call) and _called(node) in names]


def strings(node: ast.AST) -> list[str]:
    """Every text constant inside a node."""
    return [n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)]


def is_pure(path: Path) -> bool:
    """Whether a file must be computation: neither its name nor a folder it lies in is one of the roles."""
    inside = path.relative_to(HOUSE).with_suffix("").parts
    return not ROLES.intersection(inside)


def said(path: Path) -> str:
    """A path as a failure names it."""
    return str(path.relative_to(ROOT))
