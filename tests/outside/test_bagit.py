"""Bags against RFC 8493.

Sources: RFC 8493 s.2 and 3, clause by clause as each case says; bags of the public-domain suite
bagit-conformance-suite, commit 9ab48705. Both in vectors/bagit.json. PyPI bagit 1.9.0 judges some of them otherwise
(it never decodes %25, takes a manifest that lists only some files); where they part, the RFC is followed.
"""

from __future__ import annotations

import base64
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from labcases.handover import bag, manifest

CASES = json.loads((Path(__file__).parent / "vectors" / "bagit.json").read_text(encoding="utf-8"))["cases"]


def files_of(case: dict[str, Any]) -> dict[str, bytes]:
    return {
        path: base64.b64decode(held["base64"]) if "base64" in held else held["text"].encode()
        for path, held in case["files"].items()
    }


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_a_bag_has_a_fault_exactly_when_the_standard_finds_one(case: dict[str, Any]) -> None:
    files = files_of(case)
    found = bag.faults(
        {path: content for path, content in files.items() if not path.startswith("data/")},
        {path: len(content) for path, content in files.items() if path.startswith("data/")},
        lambda path, algorithm: hashlib.new(algorithm, files[path]).hexdigest(),
    )
    assert (found == []) is case.get("rfc8493_valid", case.get("suite_valid"))


@pytest.mark.parametrize("case", [case for case in CASES if case.get("rfc8493_valid")], ids=lambda case: case["name"])
def test_the_manifests_of_the_bags_are_written_as_they_stand(case: dict[str, Any]) -> None:
    text = case["files"]["manifest-sha256.txt"]["text"]
    written = manifest.write(manifest.parse(text))
    assert sorted(written.lower().splitlines()) == sorted(text.lower().splitlines())
