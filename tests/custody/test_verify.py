"""Verifying a ledger of plain rows: every check says what it found, where, and under which name."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from labcases.custody import chain, signing, tree, verify
from labcases.custody.signing import SignedHead
from labcases.custody.verify import Row, Walk

KEY = Ed25519PrivateKey.from_private_bytes(b"k" * 32)
PUBLIC = signing.public_hex(KEY)
SIGNED = "2026-03-02T12:00:00.000000Z"
MOMENT = datetime(2026, 3, 2, 12, tzinfo=UTC)


def row_of(body: dict[str, Any]) -> Row:
    data = chain.canonical(body)
    columns = {"kind": body["kind"], "case": body["case"] or "", "happened": MOMENT}
    return Row(body["sequence"], data, chain.leaf_hash(data).hex(), columns)


def ledger(size: int, word: str = "moved") -> list[Row]:
    rows: list[Row] = []
    for n in range(1, size + 1):
        previous = rows[-1].digest if rows else ""
        body = {"sequence": n, "previous": previous, "kind": word, "case": None, "happened": SIGNED}
        rows.append(row_of(body))
    return rows


def walked(rows: list[Row], *at: int) -> tuple[Walk, list[verify.Finding]]:
    walk = Walk()
    return walk, list(verify.events(rows, walk, roots_at=at))


def head_over(rows: list[Row]) -> SignedHead:
    root = chain.root([row.body for row in rows]).hex()
    return signing.sign(KEY, size=len(rows), root=root, signed=SIGNED)


def seen(findings: list[verify.Finding]) -> list[tuple[str, int | None]]:
    return [(finding.detector, finding.sequence) for finding in findings]


def test_a_whole_ledger_holds_and_its_root_is_the_one_over_all_events() -> None:
    rows = ledger(13)
    walk, findings = walked(rows, 5)
    assert findings == []
    assert (walk.size, walk.root) == (13, chain.root([row.body for row in rows]).hex())
    assert walk.roots == {5: chain.root([row.body for row in rows[:5]]).hex()}


def test_an_empty_ledger_holds() -> None:
    walk, findings = walked([])
    assert findings == list(verify.head(walk, None)) == list(verify.beside_key(walk, None, PUBLIC)) == []


def test_a_changed_byte_is_seen_at_its_event_and_at_the_next() -> None:
    rows = ledger(5)
    rows[2] = replace(rows[2], body=rows[2].body.replace(b"moved", b"Moved"))
    found = seen(walked(rows)[1])
    assert found[0] == (verify.CHAIN, 3)
    assert (verify.CHAIN, 4) in found
    assert {at for _, at in found} == {3, 4}


def test_a_body_that_is_no_json_is_named_and_the_walk_goes_on() -> None:
    rows = ledger(3)
    rows[1] = replace(rows[1], body=b"\xff{")
    walk, findings = walked(rows)
    assert seen(findings)[0] == (verify.CHAIN, 2)
    assert "no JSON" in findings[0].sentence
    assert walk.size == 3


@pytest.mark.parametrize("body", [b"[]", b"1", b'"text"', b"null"])
def test_json_that_is_no_record_is_named_and_the_walk_goes_on(body: bytes) -> None:
    rows = ledger(3)
    rows[1] = Row(2, body, chain.leaf_hash(body).hex(), {})
    assert seen(walked(rows)[1])[0] == (verify.CHAIN, 2)


def test_another_spelling_of_the_same_record_is_seen() -> None:
    rows = ledger(1)
    body = rows[0].body.replace(b",", b", ")
    findings = walked([replace(rows[0], body=body, digest=chain.leaf_hash(body).hex())])[1]
    assert [f.sentence for f in findings] == ["Its body is not spelled canonically: it was changed."]


@pytest.mark.parametrize(
    ("name", "wrong"), [("kind", "wiped"), ("case", "26004"), ("happened", MOMENT.replace(year=2025))]
)
def test_a_column_that_says_otherwise_than_the_body_is_named(name: str, wrong: object) -> None:
    rows = ledger(2)
    rows[1] = replace(rows[1], columns={**rows[1].columns, name: wrong})
    findings = walked(rows)[1]
    assert seen(findings) == [(verify.COLUMNS, 2)]
    assert name in findings[0].sentence


def test_a_moment_in_the_body_that_is_no_moment_is_a_finding_not_an_error() -> None:
    body = {"sequence": 1, "previous": "", "kind": "moved", "case": None, "happened": "yesterday"}
    assert seen(walked([row_of(body)])[1]) == [(verify.COLUMNS, 1)]


def test_a_missing_event_is_named_by_its_number() -> None:
    rows = ledger(4)
    del rows[1]
    findings = walked(rows)[1]
    assert findings[0].sentence.startswith("Event 2 is missing")


def test_a_head_must_be_signed_and_be_over_these_events() -> None:
    rows = ledger(6)
    walk, head = walked(rows)[0], head_over(rows)
    assert list(verify.head(walk, head)) == []
    wrong = [None, head_over(rows[:5]), head_over(ledger(6, "wiped")), replace(head, signature="00" * 64)]
    assert [len(list(verify.head(walk, one))) for one in wrong] == [1, 1, 1, 1]


def test_the_head_beside_the_key_may_be_older_and_never_newer_or_of_another_past() -> None:
    rows = ledger(6)
    walk = walked(rows, 4)[0]
    assert list(verify.beside_key(walk, head_over(rows[:4]), PUBLIC)) == []
    newer = list(verify.beside_key(walk, head_over(ledger(9)), PUBLIC))
    assert "cut or rolled back" in newer[0].sentence
    other = list(verify.beside_key(walk, head_over(ledger(4, "wiped")), PUBLIC))
    assert seen(newer + other) == [(verify.BESIDE_KEY, None)] * 2
    assert list(verify.beside_key(walk, None, PUBLIC)) != []
    assert list(verify.beside_key(walk, head_over(rows[:4]), "00" * 32)) != []


def test_a_kept_head_must_be_signed_and_be_of_this_past() -> None:
    rows = ledger(6)
    walk = walked(rows, 2, 4)[0]
    good = [head_over(rows[:2]), head_over(rows[:4])]
    assert list(verify.kept_heads(walk, good)) == []
    bad = [replace(good[0], signature="00" * 64), head_over(ledger(4, "wiped")), head_over(ledger(9))]
    assert seen(list(verify.kept_heads(walk, bad))) == [(verify.KEPT, 2), (verify.KEPT, 4), (verify.KEPT, 9)]


@pytest.mark.parametrize("harm", ["missing", "changed"])
def test_a_stored_subtree_that_is_missing_or_wrong_is_named(harm: str) -> None:
    walk = walked(ledger(6))[0]
    right = {name: digest.hex() for name, digest in zip(tree.peaks(6), walk.peaks, strict=True)}
    assert list(verify.nodes(lambda names: right, walk)) == []
    wrong = {name: digest for name, digest in right.items() if name != (2, 0)}
    if harm == "changed":
        wrong[2, 0] = "00" * 32
    findings = list(verify.nodes(lambda names: wrong, walk))
    assert seen(findings) == [(verify.TREE, None)]
    assert "2/0" in findings[0].sentence


def test_a_text_that_was_not_committed_to_is_named_and_an_erased_one_is_not() -> None:
    salt = b"s" * 32
    body = chain.canonical({"commitments": {"by": chain.commitment(salt, "by", "Ada"), "because": "00" * 32}})
    assert list(verify.texts(body, {"by": (salt, "Ada")})) == []
    assert list(verify.texts(body, {"by": (salt, "Eve")})) == ["by"]
    assert list(verify.texts(body, {"by": (b"t" * 32, "Ada")})) == ["by"]
    assert list(verify.texts(body, {"from": (salt, "Ada")})) == ["from"]
    assert list(verify.texts(body, {})) == []


def test_a_salt_that_was_cut_short_is_a_finding_not_an_error() -> None:
    body = chain.canonical({"commitments": {"by": chain.commitment(b"s" * 32, "by", "Ada")}})
    assert list(verify.texts(body, {"by": (b"", "Ada")})) == ["by"]


@pytest.mark.parametrize("body", [b"\xff{", b"[]", b"{}", b'{"commitments":1}'])
def test_a_body_that_cannot_be_read_commits_to_nothing(body: bytes) -> None:
    assert list(verify.texts(body, {"by": (b"s" * 32, "Ada")})) == ["by"]
