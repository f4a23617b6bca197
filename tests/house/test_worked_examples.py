"""Every worked example in a docstring runs and gives what it says."""

from __future__ import annotations

import doctest
import importlib
import re
from pathlib import Path

import pytest

import labcases

HOUSE = Path(labcases.__file__).parent
WITH_EXAMPLES = sorted(
    ".".join(("labcases", *path.relative_to(HOUSE).with_suffix("").parts))
    for path in HOUSE.rglob("*.py")
    if re.search(r"^\s*>>> ", path.read_text(encoding="utf-8"), re.MULTILINE)
)


@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_the_examples_of_a_module_give_what_they_say(module: str) -> None:
    result = doctest.testmod(importlib.import_module(module))
    assert result.attempted > 0
    assert result.failed == 0


def test_there_are_modules_with_examples() -> None:
    assert "labcases.core.codes" in WITH_EXAMPLES
