"""Every page of a lab full of work, walked from its front door by somebody who may see all of it.

The lab is the invented one of the demo. From each page the walk follows every link, at most a few to each address,
so that a page is seen in several states; what no link leads to is looked for among what the lab holds.
"""

from __future__ import annotations

import io
import itertools
import re
import uuid
from collections import Counter, deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.db.models import Count
from django.test import Client
from django.urls import Resolver404, resolve, reverse
from django.utils import timezone
from PIL import Image

from labcases.cases.models import Item
from labcases.cases.secrecy.actions import put_secret
from labcases.cases.secrets import Plain
from labcases.cases.stages import Stage
from labcases.core import vault
from labcases.custody.models import Event, Head, Thing
from labcases.custody.photos.actions import Kept, keep, photograph
from labcases.custody.photos.pictures import take_in
from labcases.demo import load
from labcases.imports import actions as imports
from labcases.imports.tasks import go_on as work_on_imports
from labcases.lab.models import Actor, Place, Staff
from labcases.lab.roles import PEOPLE, Role
from tests.house.addresses import STAND_INS, Address, Page, addresses

pytestmark = pytest.mark.django_db  # so that there is a database; every test reads the one walk
FEW, MANY = 2, 12
SEEN_OFTEN = {"docket:case": MANY, "bench:order": MANY, "stock:donor": 6, "stock:destination": 8, "custody:thing": 6}
START = ["docket:home", "docket:counter", "docket:bench", "docket:stockroom", "docket:office", "docket:custody"]
ALL = {address.name: address for address in addresses() if not address.open_to_strangers}
WRITES = re.compile(r"\s*(INSERT|UPDATE|DELETE|REPLACE|CREATE|DROP|ALTER)\b", re.IGNORECASE)
NO_STATE = re.compile(r"django_session\b")

# Addresses that answer no plain GET with a page in this lab, and why.
NOT_SEEN = {
    "bench:read-files": "a list is waiting only after somebody sent it in the same session; tests/bench looks at one",
    "bench:read-table": "a table is waiting only after somebody sent it in the same session; tests/bench looks at one",
}


@dataclass
class Seen:
    """One answer: what came, what it wrote, where its links lead."""

    address: str
    name: str
    status: int
    kind: str
    page: Page | None
    writes: list[str] = field(default_factory=list)
    headers: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        return self.address


@dataclass
class Walk:
    seen: list[Seen] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)

    def of(self, name: str) -> list[Seen]:
        return [one for one in self.seen if one.name == name]

    def pages(self, name: str) -> list[Seen]:
        return [one for one in self.of(name) if one.page]


def name_of(path: str) -> str:
    return resolve(path).view_name


def look(client: Client, path: str) -> Seen:
    writes: list[str] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if WRITES.match(sql) and not NO_STATE.search(sql):
            writes.append(sql[:120])
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        answer = client.get(path)
        kind = answer.headers.get("Content-Type", "")
        text = b"".join(answer) if answer.streaming else answer.content
    shown = kind.startswith("text/html") and answer.status_code in (200, 422)
    page = Page(text.decode()) if shown else None
    seen = Seen(path, name_of(urlsplit(path).path), answer.status_code, kind, page, writes, dict(answer.headers))
    if answer.status_code in (301, 302, 303):
        seen.page, seen.kind = None, answer.headers["Location"]
    return seen


def walk(client: Client) -> Walk:
    """Breadth first from the front pages; then what no link led to."""
    done, walked, counts = set[str](), Walk(), Counter[str]()
    rich = [reverse("docket:case", args=[code]) for code in _rich("case_code")[:4]]
    ahead = deque([*rich, *(reverse(name) for name in START)])
    while ahead:
        path = ahead.popleft()
        _step(client, path, ahead, done, walked, counts)
    for name in ALL:
        for path in () if walked.of(name) else _guesses(ALL[name]):
            counts[name] = 0
            _step(client, path, ahead, done, walked, counts)
            if walked.of(name)[-1].status in (200, 302, 303, 405):
                break
        while ahead:
            _step(client, ahead.popleft(), ahead, done, walked, counts)
    return walked


def _step(client: Client, path: str, ahead: deque[str], done: set[str], walked: Walk, counts: Counter[str]) -> None:
    try:
        name = name_of(urlsplit(path).path)
    except Resolver404:
        walked.broken.append(path)
        return
    if path in done or name not in ALL or counts[name] >= SEEN_OFTEN.get(name, FEW):
        return
    done.add(path)
    counts[name] += 1
    seen = look(client, path)
    walked.seen.append(seen)
    links = seen.page.links if seen.page else []
    onward = [link for tag, link in links if tag == "a"] + ([seen.kind] if seen.status in (302, 303) else [])
    ahead.extend(urljoin(path, link).partition("#")[0] for link in onward if not urlsplit(link).scheme)


def _guesses(address: Address) -> Iterator[str]:
    """Addresses that may lead somewhere: every gap filled with what the lab holds of that kind."""
    for filled in _fillings(address):
        yield reverse(address.name, kwargs=filled)


def _fillings(address: Address) -> Iterator[dict[str, Any]]:
    """Every gap from a short list of its own, all combinations; slugs and keys are those of a wording."""
    models = list(apps.get_app_config(address.name.partition(":")[0]).get_models())
    keys = {pk for model in models for pk in model._default_manager.values_list("pk", flat=True)[:3]}
    known = {"code": _codes(), "number": [1], "language": ["en"], "key": ["ready"]}
    known |= {"purpose": ["spans"], "digest": ["0" * 64], "part": ["motor"]}
    kinds = {
        "IntConverter": sorted({1} | {key for key in keys if isinstance(key, int)}),
        "UUIDConverter": [uuid.UUID(int=9)],
    }
    lists = [kinds.get(kind) or known.get(gap, [STAND_INS.get(kind, kind)]) for gap, kind in address.gaps.items()]
    for values in itertools.islice(itertools.product(*lists), 80):
        yield dict(zip(address.gaps, values, strict=True))


def _codes() -> list[str]:
    """A few codes of every kind of thing, those first of which most is known, and of places."""
    things = {thing.code: thing for thing in Thing.objects.all()}
    by_kind: dict[str, list[str]] = {}
    for code in [*_rich("thing_code"), *things]:
        if code in things:
            by_kind.setdefault(things[code].kind, []).append(str(things[code]))
    found = [code for codes in by_kind.values() for code in list(dict.fromkeys(codes))[:12]]
    return [*found, *Place.objects.values_list("code", flat=True)[:2]]


def _rich(field: str) -> list[str]:
    """Cases or things by how much is on record of them, the most first."""
    many = Event.objects.exclude(**{field: ""}).values(field).annotate(many=Count("pk")).order_by("-many", field)
    return [row[field] for row in many]


def furnish(client: Client, by: Actor) -> None:
    """What the invented lab has none of: a paper, two photos, a secret."""
    open_now = Item.objects.exclude(stage=Stage.EXPECTED).filter(case__closed=None)
    item = next(item for code in _rich("thing_code") for item in open_now.filter(thing__code=code))
    assert client.post(reverse("cases:receipt", args=[str(item.case)]), {"size": "A4"}).status_code == 303
    kept = [photographed(colour) for colour in ("teal", "tan")]
    photograph(thing=item.thing, kept=kept, by=by, happened=timezone.now(), words="label")
    put_secret(case=item.case, item=item, kind="code", secret=Plain("2468"), by=by, happened=timezone.now())
    bring_tables(by)


def bring_tables(by: Actor) -> None:
    """Three tables of donors: one with its columns to choose, one checked, one taken in."""
    for serial, steps in (("QX10001", 0), ("QX10002", 1), ("QX10003", 2)):
        with vault.incoming() as file:
            file.write_text(f"Kind,Model,Serial,Parts\nstick,QX4,{serial},chip\ndrum,QX4,{serial}9,chip\n")
            table = imports.start(kind="donors", file=file, name="shelf.csv", by=by, happened=timezone.now())
        if steps > 0:
            imports.check(table=table, mapping=table.mapping, by=by)
            work_on_imports(seconds=60)
        if steps > 1:
            imports.take_in(table=table, skip_refused=True, by=by, happened=timezone.now())
            work_on_imports(seconds=60)


def photographed(colour: str) -> Kept:
    picture = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(picture, "JPEG")
    return keep(take_in(picture.getvalue()), picture.getvalue())


@pytest.fixture(scope="module")
def walked(django_db_setup: None, django_db_blocker: Any) -> Iterator[Walk]:
    """The walk itself, made once, in a transaction that is taken back."""
    whole = transaction.atomic()
    whole._from_testcase = True  # type: ignore[attr-defined] # as Django's own tests do: durable blocks may stand inside
    with django_db_blocker.unblock(), whole:
        load.load(io.StringIO())
        person = Staff.objects.create_user(login="all", name="Everyone", password="-" * 20, roles=PEOPLE)
        client = Client()
        client.force_login(person)
        furnish(client, Actor(person, Role.MANAGER))
        before = Head.objects.values().get()
        result = walk(client)
        assert Head.objects.values().get() == before
        yield result
        transaction.set_rollback(True)


def test_the_walk_saw_the_lab(walked: Walk) -> None:
    assert len(walked.seen) > 180
    assert len([one for one in walked.seen if one.page and one.page.is_whole]) > 120
    assert sum(len(one.page.links) for one in walked.seen if one.page) > 2_000
    assert sum(len(one.page.controls) for one in walked.seen if one.page) > 200


def test_no_link_leads_nowhere(walked: Walk) -> None:
    assert walked.broken == []
    linked = {urljoin(one.address, link) for one in walked.seen if one.page for _, link in one.page.links}
    assert [one.address for one in walked.seen if one.status == 404 and one.address in linked] == []


def test_no_page_breaks(walked: Walk) -> None:
    assert [(one.address, one.status) for one in walked.seen if one.status >= 500] == []


@pytest.mark.parametrize("name", ALL)
def test_an_address_shows_itself_to_somebody_who_may(name: str, walked: Walk) -> None:
    seen = walked.of(name)
    found = {one.status for one in seen}
    assert found & {200, 302, 303} or found == {405} or name in NOT_SEEN, [(str(one), one.status) for one in seen[:5]]


@pytest.mark.parametrize("name", ALL)
def test_looking_changes_nothing(name: str, walked: Walk) -> None:
    assert [(str(one), one.writes) for one in walked.of(name) if one.writes] == []


@pytest.mark.parametrize("name", ALL)
def test_a_page_is_whole_titled_and_has_one_first_heading(name: str, walked: Walk) -> None:
    for seen in walked.pages(name):
        page = seen.page
        assert page
        if page.is_whole:
            assert (page.h1, page.lang) == (1, "en-GB"), str(seen)
            assert len(page.title.partition("·")[0].strip()) > 2, str(seen)
        assert page.unclosed == [], str(seen)
        assert [i for i, n in Counter(page.ids).items() if n > 1] == [], str(seen)


@pytest.mark.parametrize("name", ALL)
def test_every_control_picture_and_button_has_a_name(name: str, walked: Walk) -> None:
    for seen in walked.pages(name):
        assert seen.page
        assert seen.page.unlabelled() == [], str(seen)
        assert seen.page.nameless == [], str(seen)
        assert seen.page.without_alt == 0, str(seen)


@pytest.mark.parametrize("name", ALL)
def test_nothing_stands_inline_and_nothing_comes_from_elsewhere(name: str, walked: Walk) -> None:
    for seen in walked.pages(name):
        assert seen.page
        assert seen.page.inline == [], str(seen)
        outside = [link for _, link in seen.page.links if urlsplit(link).scheme not in ("", "mailto", "tel")]
        assert outside == [], str(seen)
        assert [link for _, link in seen.page.links if link.startswith("//")] == [], str(seen)


@pytest.mark.parametrize("name", NOT_SEEN)
def test_what_was_excused_is_still_there(name: str) -> None:
    assert name in ALL


# --- the guard itself


def test_the_reader_of_pages_sees_what_is_wrong() -> None:
    page = Page(
        '<html lang="en"><head><title>A page</title></head><h1>a</h1><h1>b</h1>'
        '<p id="x" style="y"><p id="x" onclick="z">'
        '<input name="bare"><label>in <input name="wrapped"></label><label for="i">i</label><input id="i">'
        '<input aria-label="said"><input type="hidden"><script>x()</script><img src="a"><a href="/b"></a><div></html>'
    )
    assert (page.h1, page.title, page.lang, page.ids) == (2, "A page", "en", ["x", "x", "i"])
    assert [control.get("name") for control in page.unlabelled()] == ["bare"]
    assert page.inline == ["<p style>", "<p onclick>", "<script>"]
    assert (page.without_alt, page.nameless, page.unclosed) == (1, ['<a href="/b">'], ["div"])
    assert page.links == [("img", "a"), ("a", "/b")]
