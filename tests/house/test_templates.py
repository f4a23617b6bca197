"""Templates and what they name: each compiles and is used, each file it asks for is there, nothing stands inline."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.template import engines

from tests.house.source import HOUSE, ROOT, STATIC, TEMPLATES, python_files, said, tree

ALL = sorted(path for path in TEMPLATES.rglob("*") if path.suffix in (".html", ".txt"))
NAMES = {str(path.relative_to(TEMPLATES)): path for path in ALL}
SHOWN = [path for path in ALL if path.parent.name != "paper"]  # papers carry their own print styles, on no page

# Looked up by Django itself under these names.
KNOWN_TO_DJANGO = re.compile(r"(400|403|404|500)\.html|django/forms/.+")
NAMED = re.compile(r"{%-?\s*(?:include|extends)\s+['\"]([^'\"]+)['\"]")
CHOSEN = re.compile(r"{%-?\s*(?:include|extends)\s+([^'\"\s]\S*)")
STATIC_TAG = re.compile(r"{%-?\s*static\s+['\"]([^'\"]+)['\"]")
INLINE = [
    re.compile(r"\sstyle\s*=", re.IGNORECASE),
    re.compile(r"\son[a-z]+\s*=", re.IGNORECASE),
    re.compile(r"\shx-on", re.IGNORECASE),
    re.compile(r"<style", re.IGNORECASE),
    re.compile(r"<script(?![^>]*\ssrc=)", re.IGNORECASE),
    re.compile(r"javascript:", re.IGNORECASE),
    re.compile(r"\|\s*safe\b|autoescape off"),
]


def without_comments(path: Path) -> str:
    text = path.read_text(encoding="utf-8")
    return re.sub(r"{#.*?#}|{%\s*comment.*?endcomment\s*%}", "", text, flags=re.DOTALL)


def named_in_python() -> list[re.Pattern[str]]:
    """Template names in the code, as patterns: the open parts of an f-string stand for anything."""
    patterns = []
    for path in python_files():
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Constant) and re.fullmatch(r"[\w/-]+\.html", str(node.value)):
                patterns.append(re.compile(re.escape(node.value)))
            if isinstance(node, ast.JoinedStr):
                patterns.append(re.compile("".join(_part(part) for part in node.values)))
    return [pattern for pattern in patterns if pattern.pattern.endswith(r"\.html")]


def _part(part: ast.expr) -> str:
    return re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".+"


PATTERNS = named_in_python()
SAMPLES = sorted((ROOT / "tests" / "paper" / "templates").glob("*.html"))  # show every piece a paper can be made of
INCLUDED = {name for path in [*ALL, *SAMPLES] for name in NAMED.findall(without_comments(path))}
NO_PAGE_YET: set[str] = set()  # pieces that stand ready


def test_the_guard_sees_the_templates() -> None:
    assert len(ALL) > 80
    assert len(PATTERNS) > 40
    assert len(INCLUDED) > 20


@pytest.mark.parametrize("name", NAMES)
def test_a_template_compiles(name: str) -> None:
    engines["django"].get_template(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_template_is_used(name: str) -> None:
    in_python = any(pattern.fullmatch(name) for pattern in PATTERNS)
    used = in_python or name in INCLUDED or bool(KNOWN_TO_DJANGO.fullmatch(name))
    assert used == (name not in NO_PAGE_YET)


@pytest.mark.parametrize("name", sorted(INCLUDED))
def test_what_a_template_names_is_there(name: str) -> None:
    assert name in NAMES


def test_what_the_code_names_is_there() -> None:
    plain = {pattern.pattern.replace("\\", "") for pattern in PATTERNS if ".+" not in pattern.pattern}
    ours = {name for name in plain if not KNOWN_TO_DJANGO.fullmatch(name)}
    assert len(ours) > 40
    assert {name for name in ours if name not in NAMES} == set()
    assert [p.pattern for p in PATTERNS if ".+" in p.pattern and not any(p.fullmatch(name) for name in NAMES)] == []


def test_a_template_that_is_chosen_at_run_time_comes_from_a_section() -> None:
    chosen = {name.rstrip("%}") for path in ALL for name in CHOSEN.findall(without_comments(path))}
    assert chosen <= {"section.template", "part.template", "template", "option.template_name"}


# --- static files


def test_every_static_file_that_a_template_names_exists() -> None:
    named = {(said(path), name) for path in ALL for name in STATIC_TAG.findall(without_comments(path))}
    assert len(named) > 15
    assert {(path, name) for path, name in named if not finders.find(name)} == set()


OURS = [path for path in STATIC.rglob("*") if path.suffix in (".css", ".js") and "vendor" not in path.parts]
FROM_CSS = re.compile(r"url\(\s*['\"]?(?!data:|#)([^'\")]+)|@import\s+['\"]([^'\"]+)")
FROM_JS = re.compile(r"(?:from|import)\s+['\"](\.[^'\"]+)['\"]|import\(\s*['\"](\.[^'\"]+)['\"]")


def test_every_file_that_a_style_or_script_names_exists() -> None:
    named = []
    for path in OURS:
        found = (FROM_CSS if path.suffix == ".css" else FROM_JS).findall(path.read_text(encoding="utf-8"))
        named += [(path, "".join(parts).partition("#")[0]) for parts in found]
    assert len(OURS) > 12
    assert len(named) > 8
    assert [f"{said(path)}: {name}" for path, name in named if not (path.parent / name).exists()] == []


# --- where a form ends

LEAVES = re.compile(r">Leave it</a>")
ENDS = re.compile(r'<p class="acts last">[^\n]*?>Leave it</a>|<p class="acts last">\s*<a[^>]*>Leave it</a>')


def test_the_form_of_a_page_ends_in_one_place_with_the_way_out_before_the_button() -> None:
    """Whoever knows one page knows where to press on all."""
    texts = {said(path): without_comments(path) for path in SHOWN}
    leaving = {name: len(LEAVES.findall(text)) for name, text in texts.items() if LEAVES.search(text)}
    assert len(leaving) > 35
    assert {name: n for name, n in leaving.items() if n != len(ENDS.findall(texts[name]))} == {}


# --- nothing inline


@pytest.mark.parametrize("path", SHOWN, ids=said)
def test_nothing_stands_inline(path: Path) -> None:
    text = without_comments(path)
    assert [pattern.pattern for pattern in INLINE if pattern.search(text)] == []


@pytest.mark.parametrize(
    "text",
    [
        '<p style="x">',
        '<a onclick="x">',
        '<a hx-on:click="x">',
        "<style>",
        "<script>x</script>",
        '<script type="module">x',
        '<a href="javascript:x">',
        "{{ x|safe }}",
    ],
)
def test_what_stands_inline_is_seen(text: str) -> None:
    assert any(pattern.search(text) for pattern in INLINE)


def test_no_code_writes_markup_of_its_own() -> None:
    """Escaping stays with the templates and ``format_html``."""
    wrong = [
        said(path) for path in HOUSE.rglob("*.py") if re.search(r"mark_safe|SafeString\((?!\"\")", path.read_text())
    ]
    assert wrong == []
