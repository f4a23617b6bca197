"""A bench computer with a token, and an item that is in work."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

import pytest
from django.test import Client

from labcases.api.actions import admit
from labcases.api.scopes import SCOPES

KEY = UUID(int=5)


class Caller:
    """Calls the interface as a program does: no cookie, a token, JSON or bytes."""

    def __init__(self, token: str) -> None:
        self.client = Client(enforce_csrf_checks=True)
        self.headers = {"Authorization": f"Bearer {token}"} if token else {}

    def get(self, path: str) -> Any:
        return self.client.get(f"/api/v1/{path}", headers=self.headers)

    def post(self, path: str, sent: Any, **headers: str) -> Any:
        data = sent if isinstance(sent, bytes | str) else json.dumps(sent)
        about = {"content_type": "application/json", "headers": {**self.headers, **headers}}
        return self.client.post(f"/api/v1/{path}", data, **about)

    def put(self, path: str, data: bytes, kind: str = "text/csv", **headers: str) -> Any:
        return self.client.put(f"/api/v1/{path}", data, content_type=kind, headers={**self.headers, **headers})


def token_for(make: Any, noon: Any, *scopes: str, name: str = "Bench 2") -> str:
    return admit(name=name, scopes=scopes or list(SCOPES), by=make.everyone(), happened=noon)[1]


@pytest.fixture
def call(make, noon) -> Caller:
    return Caller(token_for(make, noon))


@pytest.fixture
def item(make):
    make.profile()
    return make.item()
