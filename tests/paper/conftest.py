from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def _sample_template(settings: Any) -> None:
    """The sample paper stands in the tests only."""
    engine = settings.TEMPLATES[0]
    settings.TEMPLATES = [{**engine, "DIRS": [*engine["DIRS"], HERE / "templates"]}]
