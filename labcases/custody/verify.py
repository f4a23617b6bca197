"""Verifying the ledger: whole chain, columns against bodies, tree, signed head, the head beside the key, kept heads.

Pure: rows come in as plain records, one after the other, and what does not hold comes out as findings. Memory does not
grow with the ledger, since the tree is carried as its peaks.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from labcases.core.clock import NoTimestamp, read_rfc3339
from labcases.custody import chain, tree
from labcases.custody.signing import SignedHead

# Which check spoke: the detector's name stands in every finding.
CHAIN, COLUMNS, TREE, HEAD, BESIDE_KEY, KEPT, TEXTS = (
    "chain", "columns", "tree", "signed head", "head beside the key", "kept heads", "texts",
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """An event as the database holds it: its bytes, and the columns beside them."""

    sequence: int
    body: bytes
    digest: str
    columns: Mapping[str, Any]


@dataclass(frozen=True)
class Finding:
    """Something that does not hold. ``sequence`` is the event it was seen at, None for the whole ledger."""

    detector: str
    sequence: int | None
    sentence: str


@dataclass
class Walk:
    """What is carried from event to event: the last digest and the tree's peaks."""

    size: int = 0
    digest: str = ""
    peaks: list[bytes] = field(default_factory=list)
    roots: dict[int, str] = field(default_factory=dict)

    @property
    def root(self) -> str:
        return tree.root_of_peaks(self.peaks).hex()


def events(rows: Iterable[Row], walk: Walk, *, roots_at: Iterable[int] = ()) -> Iterator[Finding]:
    """Walk through every event in the order of its number; ``walk`` holds the state at the end.

    ``roots_at`` names sizes at which the root is remembered, to be compared with heads that were kept.
    """
    wanted = set(roots_at)
    for row in rows:
        yield from _one(row, walk)
        walk.peaks, _ = tree.grown(walk.size, walk.peaks, chain.leaf_hash(row.body))
        walk.size, walk.digest = walk.size + 1, chain.leaf_hash(row.body).hex()
        if walk.size in wanted:
            walk.roots[walk.size] = walk.root


def _one(row: Row, walk: Walk) -> Iterator[Finding]:
    try:
        body = json.loads(row.body)
        spelled = chain.canonical(body)
    except (ValueError, RecursionError):
        body, spelled = None, b""
    if not isinstance(body, dict):
        yield Finding(CHAIN, row.sequence, "Its body is no JSON that this ledger would write.")
        return
    if spelled != row.body:
        yield Finding(CHAIN, row.sequence, "Its body is not spelled canonically: it was changed.")
    if chain.leaf_hash(row.body).hex() != row.digest:
        yield Finding(CHAIN, row.sequence, "Its body does not have the hash that was recorded with it.")
    if body.get("sequence") != walk.size + 1 or row.sequence != walk.size + 1:
        expected = f"Event {walk.size + 1} is missing or out of its place; event {row.sequence} stands there."
        yield Finding(CHAIN, row.sequence, expected)
    if body.get("previous") != walk.digest:
        yield Finding(CHAIN, row.sequence, "It does not name the hash of the event before it.")
    for name, beside in row.columns.items():
        if not _same(body.get(name), beside):
            yield Finding(COLUMNS, row.sequence, f"The column {name} says {beside!r}, the body {body.get(name)!r}.")


def _same(in_body: Any, beside: Any) -> bool:
    if isinstance(beside, datetime):
        try:
            return isinstance(in_body, str) and read_rfc3339(in_body) == beside
        except NoTimestamp:
            return False
    return (in_body or None) == (beside or None)


def head(walk: Walk, signed: SignedHead | None) -> Iterator[Finding]:
    """The head in the database against the events, and its signature."""
    if signed is None or not signed.size:
        if walk.size:
            yield Finding(HEAD, None, f"There are {walk.size} events and no signed head.")
        return
    if not signed.holds():
        yield Finding(HEAD, None, "The signature under the head is not of the lab's key.")
    if signed.size != walk.size:
        yield Finding(HEAD, None, f"The head was signed over {signed.size} events, and there are {walk.size}.")
    elif signed.root != walk.root:
        yield Finding(HEAD, None, "The root that was signed is not the root over the events.")


def beside_key(walk: Walk, last: SignedHead | None, public_key: str) -> Iterator[Finding]:
    """The head that was kept beside the key: the ledger may have grown since, and nothing else.

    ``walk.roots`` holds the root at its size when it was asked for.
    """
    if last is None:
        if walk.size:
            yield Finding(BESIDE_KEY, None, "No head lies beside the key, though there are events.")
        return
    if not last.holds() or last.key != public_key:
        yield Finding(BESIDE_KEY, None, "The head beside the key is not signed by this key.")
    elif last.size > walk.size:
        sentence = f"The key signed {last.size} events and {walk.size} are there: the ledger was cut or rolled back."
        yield Finding(BESIDE_KEY, None, sentence)
    elif walk.roots.get(last.size) != last.root:
        yield Finding(BESIDE_KEY, None, f"The first {last.size} events are not those that were signed.")


def kept_heads(walk: Walk, kept: Iterable[SignedHead]) -> Iterator[Finding]:
    """Heads kept from day to day: each signed, each a root of this same ledger at its size."""
    for one in kept:
        if not one.holds():
            yield Finding(KEPT, one.size, f"The kept head of {one.size} events is not signed.")
        elif walk.roots.get(one.size) != one.root:
            yield Finding(KEPT, one.size, f"The first {one.size} events are not those whose head was kept.")


def nodes(stored: Callable[[list[tuple[int, int]]], Mapping[tuple[int, int], str]], walk: Walk) -> Iterator[Finding]:
    """The stored peaks of the tree against those that were walked."""
    names = tree.peaks(walk.size)
    above = [name for name in names if name[0]]
    there = stored(above)
    for name, digest in zip(names, walk.peaks, strict=True):
        if name[0] and there.get(name) != digest.hex():
            yield Finding(TREE, None, f"The stored hash of the subtree {name[0]}/{name[1]} is missing or wrong.")


def texts(body: bytes, words: Mapping[str, tuple[bytes, str]]) -> Iterator[str]:
    """Which texts of an event do not match the commitments in its body; erased ones are simply not there."""
    try:
        committed = json.loads(body)["commitments"]
    except (ValueError, RecursionError, TypeError, KeyError):
        committed = None
    for name, (salt, text) in words.items():
        if not isinstance(committed, dict) or not _committed(salt, name, text, committed.get(name)):
            yield name


def _committed(salt: bytes, name: str, text: str, to: object) -> bool:
    try:
        return chain.commitment(salt, name, text) == to
    except ValueError:  # a salt cut short, half a character: nothing that was ever committed to
        return False
