"""Pages of the invented lab of the demo, where lists have rows and things have a past."""

from __future__ import annotations

import io
from collections import Counter, deque
from collections.abc import Collection
from urllib.parse import urljoin, urlsplit

from django.test import Client
from django.urls import Resolver404, reverse

from labcases.demo import load
from labcases.lab.models import Actor
from labcases.lab.roles import Role
from tests.builders import Make
from tests.house import test_pages as house
from tests.house.addresses import Address, addresses

TRIED = 3  # addresses of one name
ANSWERED = (200, 302, 303, 405)
THROUGH = "docket:case"
MORE = {THROUGH: 6, "bench:order": 8}  # what most begins at, and where only some things lead on
FOUND = "docket:find"


def pages_of_full_lab(names: Collection[str], *, cases: int = 4) -> list[house.Seen]:
    """The fullest of a few pages of each of these names, as somebody who may see all; some may have none."""
    load.load(io.StringIO())
    person, client = Make().staff(login="all", name="Everyone"), Client()
    client.force_login(person)
    house.furnish(client, Actor(person, Role.MANAGER))
    rich = [reverse(THROUGH, args=[code]) for code in house._rich("case_code")[:cases]]
    starts = [*map(reverse, house.START), *rich, f"{reverse(FOUND)}?q=Pelorus", reverse("lab:lab")]
    return _Tour(client, names).go(starts)


class _Tour:
    """Breadth first along the links, and what no link leads to by guesses."""

    def __init__(self, client: Client, names: Collection[str]) -> None:
        self.client, self.names, self.last = client, set(names), 0
        self.done, self.tried, self.shown = set[str](), Counter[str](), dict[str, house.Seen]()

    def go(self, starts: list[str]) -> list[house.Seen]:
        ahead = deque(starts)
        while ahead:
            ahead.extend(self._links_of(ahead.popleft()))
        for address in addresses():
            if address.name in self.names - self.shown.keys():
                self._guess(address)
        return list(self.shown.values())

    def _guess(self, address: Address) -> None:
        for path in house._guesses(address):
            self.tried[address.name] = self.last = 0
            self._links_of(path)
            if self.last in ANSWERED:
                return

    def _links_of(self, path: str) -> list[str]:
        try:
            name = house.name_of(urlsplit(path).path)
        except Resolver404:
            return []
        most = MORE.get(name, TRIED if name in self.names else 0)
        if path in self.done or self.tried[name] >= most:
            return []
        self.done.add(path)
        self.tried[name] += 1
        seen = house.look(self.client, path)
        self.last = seen.status
        if seen.page is None:
            return [seen.kind] if seen.status in (302, 303) else []
        if seen.page.is_whole and name in self.names and len(seen.page.html) > self._shown_so_far(name):
            self.shown[name] = seen
        links = [urljoin(path, link).partition("#")[0] for tag, link in seen.page.links if tag == "a"]
        return [link for link in links if not urlsplit(link).scheme]

    def _shown_so_far(self, name: str) -> int:
        """How long the longest page of this name is: the longest shows most."""
        page = self.shown[name].page if name in self.shown else None
        return len(page.html) if page else 0
