"""The tree of hashes against RFC 9162 and published vectors.

Sources: RFC 9162 s.2.1.1 (the recursive definition, written out below) and s.2.1.5 (its example of seven leaves);
roots and proofs of the public repository transparency-dev/merkle, commit 417fb0c3, in vectors/merkle_rfc6962.json;
SHA-256 as printed in RFC 6234 s.8.5, in vectors/sha256.json.
"""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.custody import chain

VECTORS = Path(__file__).parent / "vectors"
MERKLE = json.loads((VECTORS / "merkle_rfc6962.json").read_text(encoding="utf-8"))["cases"]
SHA256 = json.loads((VECTORS / "sha256.json").read_text(encoding="utf-8"))["cases"]


def of_kind(kind: str) -> list[Any]:
    return [pytest.param(case, id=case.get("file", kind)) for case in MERKLE if case["kind"] == kind]


def unhex(values: list[str]) -> list[bytes]:
    return [bytes.fromhex(value) for value in values]


@pytest.mark.parametrize("case", SHA256, ids=lambda case: case["name"])
def test_the_hash_is_sha_256(case: dict[str, Any]) -> None:
    message = bytes.fromhex(case["message_hex"]) * case["repeat"]
    assert sha256(message).hexdigest() == case["sha256"]


@pytest.mark.parametrize("case", of_kind("root"))
def test_the_published_roots(case: dict[str, Any]) -> None:
    ruled = [f"event-{i:05d}".encode() for i in range(case.get("n", 0))]
    leaves = unhex(case["leaves_hex"]) if "leaves_hex" in case else ruled
    assert chain.root(leaves).hex() == case["root"]


@pytest.mark.parametrize("case", of_kind("inclusion"))
def test_the_published_inclusion_proofs_are_judged_as_published(case: dict[str, Any]) -> None:
    verdict = chain.verify_inclusion(
        bytes.fromhex(case["leaf_hash"]),
        case["leaf_index"],
        case["tree_size"],
        unhex(case["proof"]),
        bytes.fromhex(case["root"]),
    )
    assert verdict is case["valid"]


@pytest.mark.parametrize("case", of_kind("consistency"))
def test_the_published_consistency_proofs_are_judged_as_published(case: dict[str, Any]) -> None:
    verdict = chain.verify_consistency(
        case["size1"],
        case["size2"],
        bytes.fromhex(case["root1"]),
        bytes.fromhex(case["root2"]),
        unhex(case["proof"]),
    )
    assert verdict is case["valid"]


def mth(leaves: list[bytes]) -> bytes:
    """MTH as RFC 9162 s.2.1.1 defines it, word for word."""
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return sha256(b"\x01" + mth(leaves[:k]) + mth(leaves[k:])).digest()


@given(st.lists(st.binary(max_size=4), max_size=70))
def test_any_root_is_the_one_of_the_recursive_definition(leaves: list[bytes]) -> None:
    assert chain.root(leaves) == mth(leaves)


def test_the_proofs_of_the_example_of_seven_leaves() -> None:
    """RFC 9162 s.2.1.5, with its names: a b c d e f j are leaves' hashes, g..l the nodes over them."""
    leaves = [b"d%d" % i for i in range(7)]
    a, b, c, d, e, f, j = (chain.leaf_hash(leaf) for leaf in leaves)
    g, h, i = chain.node_hash(a, b), chain.node_hash(c, d), chain.node_hash(e, f)
    k, l_ = chain.node_hash(g, h), chain.node_hash(i, j)
    assert chain.inclusion_proof(leaves, 0) == [b, h, l_]
    assert chain.inclusion_proof(leaves, 3) == [c, g, l_]
    assert chain.inclusion_proof(leaves, 4) == [f, j, k]
    assert chain.inclusion_proof(leaves, 6) == [i, k]
    assert chain.consistency_proof(leaves, 3) == [c, d, g, l_]
    assert chain.consistency_proof(leaves, 4) == [l_]
    assert chain.consistency_proof(leaves, 6) == [i, j, k]
