"""Every address of the project, read from its URL patterns, and what a page says in its HTML."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

STAND_INS = {"StringConverter": "x", "SlugConverter": "x", "IntConverter": 1, "UUIDConverter": uuid.UUID(int=7)}


@dataclass(frozen=True)
class Address:
    """One named address: its view with the marks of ``needs``, and the kind of each gap in it."""

    name: str
    view: Callable[..., Any]
    gaps: dict[str, str]

    @property
    def open_to_strangers(self) -> bool:
        return not getattr(self.view, "login_required", True)

    @property
    def right(self) -> Any:
        return getattr(self.view, "right", None)

    @property
    def to_press(self) -> Any:
        return getattr(self.view, "to_press", None)

    def somewhere(self) -> str:
        """The address with something in each gap, though nothing need be there."""
        return reverse(self.name, kwargs={gap: STAND_INS.get(kind, kind) for gap, kind in self.gaps.items()})

    def __str__(self) -> str:
        return self.name


def addresses() -> list[Address]:
    return list(_below(get_resolver(), ()))


def _below(resolver: URLResolver, spaces: tuple[str, ...]) -> Iterator[Address]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from _below(pattern, (*spaces, *filter(None, [pattern.namespace])))
        else:
            yield address_of(pattern, spaces)


def address_of(pattern: URLPattern, spaces: tuple[str, ...]) -> Address:
    gaps = {gap: type(kind).__name__ for gap, kind in pattern.pattern.converters.items()} or _of_regex(pattern)
    defaults = pattern.default_args
    assert pattern.name, f"{pattern} has no name"
    return Address(
        ":".join((*spaces, pattern.name)), pattern.callback, {g: k for g, k in gaps.items() if g not in defaults}
    )


def _of_regex(pattern: URLPattern) -> dict[str, str]:
    """The gaps of an address that is written as a regular expression; of alternatives the first stands in."""
    found = re.findall(r"\(\?P<(\w+)>([^)]*)\)", str(pattern.pattern))
    return {gap: "IntConverter" if r"\d" in inside else inside.partition("|")[0] for gap, inside in found}


CONTROLS = {"input", "select", "textarea"}
UNSEEN = {"hidden", "submit", "button", "reset", "image"}
LINKED = {"a": "href", "link": "href", "script": "src", "img": "src", "form": "action", "iframe": "src", "use": "href"}
VOID = {"input", "img", "link", "meta", "br", "hr", "source", "wbr", "col"}


@dataclass
class Page(HTMLParser):
    """What the guards ask of a page, collected in one pass over its HTML."""

    html: str
    h1: int = 0
    title: str = ""
    lang: str = ""
    controls: list[dict[str, str]] = field(default_factory=list)
    labelled: set[str] = field(default_factory=set)
    ids: list[str] = field(default_factory=list)
    links: list[tuple[str, str]] = field(default_factory=list)
    inline: list[str] = field(default_factory=list)
    without_alt: int = 0
    nameless: list[str] = field(default_factory=list)
    unclosed: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()
        self.open: list[tuple[str, dict[str, str], list[str]]] = []
        self.feed(self.html)
        self.close()
        self.unclosed += [tag for tag, _, _ in self.open]

    @property
    def is_whole(self) -> bool:
        return "<html" in self.html

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        self.inline += [f"<{tag} {name}>" for name in said if name == "style" or name.startswith(("on", "hx-on"))]
        self.ids += [said["id"]] if "id" in said else []
        if tag == "h1":
            self.h1 += 1
        elif tag == "html":
            self.lang = said.get("lang", "")
        elif tag == "label":
            self.labelled.add(said.get("for", ""))
        elif tag in CONTROLS and said.get("type") not in UNSEEN:
            self.controls.append(said | {"wrapped": "yes" if any(t == "label" for t, _, _ in self.open) else ""})
        elif tag == "style" or (tag == "script" and "src" not in said):
            self.inline.append(f"<{tag}>")
        if tag == "img":
            self.without_alt += "alt" not in said
            self.handle_data(said.get("alt", ""))
        if LINKED.get(tag) in said:
            self.links.append((tag, said[LINKED[tag]]))
        if tag not in VOID:
            self.open.append((tag, said, []))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.open:
            opened, said, words = self.open.pop()
            if opened != tag:
                self.unclosed += [] if opened in ("p", "li", "option", "dt", "dd", "tr", "td", "th") else [opened]
                continue
            named = "".join(words).strip() or said.get("aria-label") or said.get("title")
            if tag in ("a", "button") and not named:
                self.nameless.append(self.get_starttag_text() or tag)
            if tag == "title" and self.open and self.open[-1][0] == "head":
                self.title = "".join(words).strip()
            return

    def handle_data(self, data: str) -> None:
        for _, _, words in self.open:
            words.append(data)

    def unlabelled(self) -> list[dict[str, str]]:
        """Controls that no label, wrapping label or aria attribute names."""
        aria = ("aria-label", "aria-labelledby")
        return [
            control
            for control in self.controls
            if not (control["wrapped"] or control.get("id") in self.labelled or any(control.get(name) for name in aria))
        ]
