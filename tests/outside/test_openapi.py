"""The OpenAPI document of the interface for bench computers, exercised by schemathesis (a general tester of them).

It makes up requests from the document, right and wrong ones, and holds each answer against what the document promises.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core import signals
from django.core.handlers.wsgi import WSGIHandler
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from labcases.api.actions import admit
from labcases.api.scopes import SCOPES
from labcases.api.views.door import document

CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
EXAMPLES = 15
NAMES = [f"{method.upper()} {path}" for path, methods in document()["paths"].items() for method in methods]


@pytest.fixture(autouse=True)
def _one_connection() -> Iterator[None]:
    """The calls share the test's own connection, as those of Django's test client do."""
    ends = (signals.request_started, signals.request_finished)
    for end in ends:
        end.disconnect(close_old_connections)
    yield
    for end in ends:
        end.connect(close_old_connections)


@pytest.fixture
def code(make: Any) -> str:
    make.profile()
    return str(make.item())


@pytest.fixture
def token(make: Any, noon: Any) -> str:
    return admit(name="Bench 2", scopes=list(SCOPES), by=make.everyone(), happened=noon)[1]


@pytest.mark.parametrize("name", NAMES)
def test_every_answer_is_one_that_the_document_promises(name: str, code: str, token: str) -> None:
    schema = schemathesis.openapi.from_dict(document())
    schema.app = WSGIHandler()
    method, path = name.split()
    operation = schema[path][method]
    seen: list[int] = []

    @given(case=operation.as_strategy())
    @settings(
        max_examples=EXAMPLES, deadline=None, database=None, derandomize=True, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    def ask(case: Any) -> None:
        if len(seen) % 2 and "code" in (case.path_parameters or {}):
            case.path_parameters["code"] = code  # half of them about something that is there
        answer = case.call(base_url="http://127.0.0.1", headers={"Authorization": f"Bearer {token}"})
        seen.append(answer.status_code)
        case.validate_response(answer, checks=CHECKS)

    ask()
    assert len(seen) >= 1
