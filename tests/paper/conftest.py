from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from labcases.paper import footer

HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def _sample_template(settings: Any) -> None:
    """The sample paper stands in the tests only."""
    engine = settings.TEMPLATES[0]
    settings.TEMPLATES = [{**engine, "DIRS": [*engine["DIRS"], HERE / "templates"]}]


@pytest.fixture(autouse=True)
def _no_ledger_without_a_database(request, monkeypatch):
    """Most papers here are set without a database: then there is no ledger whose key they could carry."""
    if not {"db", "transactional_db"} & set(request.fixturenames):
        monkeypatch.setattr(footer, "_key", lambda: "")
