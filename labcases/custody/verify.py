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
AT_EVENTS = (CHAIN, COLUMNS, TEXTS)  # those whose findings are about one event


@dataclass(slots=True)
class Row:
    """An event as the database holds it: its bytes, the columns beside them, its texts as (salt, text) by name."""

    sequence: int
    body: bytes
    digest: str
    columns: Mapping[str, Any]
    texts: Mapping[str, tuple[bytes, str]] | None = None


@dataclass(frozen=True)
class Finding:
    """Something that does not hold. ``sequence`` is the event it was seen at, None for the whole ledger."""

    detector: str
    sequence: int | None
    sentence: str


@dataclass
class Walk:
    """What is carried from event to event: the last digest and the tree's peaks, left to right."""

    size: int = 0
    digest: str = ""
    peaks: list[bytes] = field(default_factory=list)
    roots: dict[int, str] = field(default_factory=dict)

    @property
    def root(self) -> str:
        return tree.root_of_peaks(self.peaks).hex()

    def step(self, leaf: bytes) -> None:
        """Go on by one event. Two subtrees of one size become one: as often as the size so far ends in binary ones."""
        self.digest = leaf.hex()
        ones = self.size
        while ones & 1:
            leaf = chain.node_hash(self.peaks.pop(), leaf)
            ones >>= 1
        self.peaks.append(leaf)
        self.size += 1


def events(rows: Iterable[Row], walk: Walk, *, roots_at: Iterable[int] = ()) -> Iterator[Finding]:
    """Walk through every event in the order of its number; ``walk`` holds the state at the end.

    ``roots_at`` names sizes at which the root is remembered, to be compared with heads that were kept.
    """
    wanted = set(roots_at)
    for row in rows:
        leaf = chain.leaf_hash(row.body)
        yield from _one(row, leaf, walk)
        walk.step(leaf)
        if walk.size in wanted:
            walk.roots[walk.size] = walk.root


def _one(row: Row, leaf: bytes, walk: Walk) -> Iterable[Finding]:
    read = _read(row.body)
    if read is None:
        return [Finding(CHAIN, row.sequence, "Its body is no JSON that this ledger would write.")]
    body, canonical = read
    found = []
    if not canonical:
        found.append("Its body is not spelled canonically: it was changed.")
    if leaf.hex() != row.digest:
        found.append("Its body does not have the hash that was recorded with it.")
    if not body.get("sequence") == walk.size + 1 == row.sequence:
        found.append(f"Event {walk.size + 1} is missing or out of its place; event {row.sequence} stands there.")
    if body.get("previous") != walk.digest:
        found.append("It does not name the hash of the event before it.")
    told = [Finding(CHAIN, row.sequence, sentence) for sentence in found] if found else []
    for name, beside in row.columns.items():
        inside = body.get(name)
        if inside != beside and not _same(inside, beside):
            said = f"The column {name} says {beside!r}, the body {inside!r}."
            told.append(Finding(COLUMNS, row.sequence, said))
    for name in _strange(body.get("commitments"), row.texts) if row.texts else ():
        said = f"The text kept for “{name}” is not the one the event committed to."
        told.append(Finding(TEXTS, row.sequence, said))
    return told


class _Odd:
    """A number that the quick spelling below does not spell; its encoder does not know this type and refuses."""

    def __init__(self, _: str) -> None: ...


def _small(digits: str) -> int | _Odd:
    return int(digits) if len(digits) <= 15 else _Odd(digits)


_decode = json.JSONDecoder(parse_float=_Odd, parse_constant=_Odd, parse_int=_small).decode
_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True, check_circular=False).encode


def _read(data: bytes) -> tuple[dict[str, Any], bool] | None:
    """A body, and whether it is spelled canonically; None when it is no record.

    Python's own writer spells ASCII text and small whole numbers as RFC 8785 does, ten times as fast as
    ``chain.canonical``, which judges whatever else there is.
    """
    try:
        if data.isascii():
            body = _decode(data.decode())
            if _encode(body).encode() == data:
                return (body, True) if isinstance(body, dict) else None
    except (ValueError, TypeError, RecursionError):
        pass
    try:
        body = json.loads(data)
        spelled = chain.canonical(body)
    except (ValueError, RecursionError):
        return None
    return (body, spelled == data) if isinstance(body, dict) else None


def _same(in_body: Any, beside: Any) -> bool:
    if isinstance(beside, datetime):
        return isinstance(in_body, str) and _moment(in_body) == beside
    return (in_body or None) == (beside or None)


def _moment(text: str) -> datetime | None:
    """The moment of a body's text; Python's own reader is quick and knows all but leap seconds."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    try:
        return read_rfc3339(text)
    except NoTimestamp:
        return None


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


def peaks(kept: Iterable[str], walk: Walk) -> Iterator[Finding]:
    """The peaks that the head keeps, to append and to prove from, against those that were walked."""
    if list(kept) != [peak.hex() for peak in walk.peaks]:
        yield Finding(TREE, None, "The head does not keep the hashes of the largest subtrees as they are.")


def texts(body: bytes, words: Mapping[str, tuple[bytes, str]]) -> Iterator[str]:
    """Which texts of an event do not match the commitments in its body; erased ones are simply not there."""
    read = _read(body)
    yield from _strange(read[0].get("commitments") if read else None, words)


def _strange(committed: Any, words: Mapping[str, tuple[bytes, str]]) -> Iterator[str]:
    for name, (salt, text) in words.items():
        if not isinstance(committed, dict) or not _committed(salt, name, text, committed.get(name)):
            yield name


def _committed(salt: bytes, name: str, text: str, to: object) -> bool:
    try:
        return chain.commitment(salt, name, text) == to
    except ValueError:  # a salt cut short, half a character: nothing that was ever committed to
        return False
