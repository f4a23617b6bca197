"""Proofs about the ledger as it is stored: that an event is in it, that it grew, that all of it holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db.models import Q

from labcases.custody import signing, tree, verify
from labcases.custody.models import Event, EventText, Head, KeptHead, TreeNode


@dataclass(frozen=True)
class Verified:
    """What a walk through the whole ledger found; ``findings`` is empty when everything holds."""

    size: int
    root: str
    findings: list[verify.Finding]

    @property
    def holds(self) -> bool:
        return not self.findings

    @property
    def first(self) -> verify.Finding | None:
        """What is wrong with the first bad event; with the heads, when every event is as it was recorded."""
        at_events = (one for one in self.findings if one.detector in verify.AT_EVENTS)
        return next(at_events, self.findings[0] if self.findings else None)


# A name in the body, and the column that must say the same.
BESIDE = {
    "kind": "kind",
    "thing": "thing_code",
    "case": "case_code",
    "by": "actor_ref",
    "role": "role",
    "happened": "happened",
    "entered": "entered",
    "corrects": "corrects",
}
COLUMNS = ("sequence", "body", "digest", *BESIDE.values())
AT_A_TIME = 2_000
Columns = tuple[Any, ...]


def verify_ledger(*, most: int = 50, progress: Callable[[int], None] | None = None) -> Verified:
    """Walk once through every event, its texts and every head; memory does not grow with the ledger.

    It never stops walking, but collects at most ``most`` findings at events; what is wrong with the heads comes last.
    Others may record meanwhile: it walks on until it stands at the head that it read.
    """
    beside = signing.last_beside_key(settings.KEY_DIR)
    kept = [head.as_signed() for head in KeptHead.objects.order_by("size")]
    sizes = [head.size for head in kept] + ([beside.size] if beside else [])
    walk = verify.Walk()
    found: list[verify.Finding] = []
    head, rows = None, _Rows(progress)
    while rows.more:
        for finding in verify.events(rows, walk, roots_at=sizes):
            if len(found) < most:
                found.append(finding)
        head = Head.objects.first()
        rows.more = rows.more and head is not None and head.sequence > walk.size
    found += verify.head(walk, head.as_signed() if head else None)
    if head and head.key:
        found += verify.beside_key(walk, beside, public_key() or head.key)
    found += verify.kept_heads(walk, kept)
    found += verify.nodes(stored_nodes, walk)
    found += verify.peaks(head.peaks if head else [], walk)
    return Verified(walk.size, walk.root, found)


def public_key() -> str:
    """The public key of the key that signs here, hex; empty when there is none."""
    try:
        key = signing.load_key(settings.KEY_DIR, supplied=settings.LEDGER_KEY, make=False)
    except signing.KeyTrouble:
        return ""
    return signing.public_hex(key)


class _Rows:
    """Every event as a plain row with its texts; walked again, it gives those that came since.

    ``more`` is whether the last walk met any: when it did not, there is nothing to wait for.
    """

    def __init__(self, progress: Callable[[int], None] | None) -> None:
        self.progress, self.seen, self.more = progress, 0, True
        self.last: int | None = None

    def __iter__(self) -> Iterator[verify.Row]:
        self.more = False
        for batch in batches(self.last):
            self.more, self.last = True, batch[-1][0]
            texts = _texts_of(batch)
            for sequence, body, digest, *beside in batch:
                columns = dict(zip(BESIDE, beside, strict=True))
                yield verify.Row(sequence, bytes(body), digest, columns, texts.get(sequence))
            self.seen += len(batch)
            if self.progress:
                self.progress(self.seen)


def batches(after: int | None = None) -> Iterator[list[Columns]]:
    """Every event's columns, in the order of the ledger, some at a time: by number, so that no cursor stays open."""
    ahead = Event.objects.order_by("sequence").values_list(*COLUMNS)
    batch = list((ahead if after is None else ahead.filter(sequence__gt=after))[:AT_A_TIME])
    while batch:
        yield batch
        batch = list(ahead.filter(sequence__gt=batch[-1][0])[:AT_A_TIME])


def _texts_of(batch: Sequence[Columns]) -> dict[int, dict[str, tuple[bytes, str]]]:
    found: dict[int, dict[str, tuple[bytes, str]]] = {}
    near = EventText.objects.filter(sequence__range=(batch[0][0], batch[-1][0]))
    for sequence, field, salt, text in near.values_list("sequence", "field", "salt", "text").iterator():
        found.setdefault(sequence, {})[field] = (bytes(salt), text)
    return found


def stored_nodes(names: Sequence[tuple[int, int]]) -> dict[tuple[int, int], str]:
    """Hashes of complete subtrees by (level, index), in two queries: leaves are the events themselves."""
    above: dict[int, list[int]] = {}
    for level, index in names:
        above.setdefault(level, []).append(index)
    leaves = Event.objects.filter(sequence__in=[index + 1 for index in above.pop(0, [])])
    found = {(0, sequence - 1): digest for sequence, digest in leaves.values_list("sequence", "digest")}
    wanted = Q(pk__in=())
    for level, indexes in above.items():
        wanted |= Q(level=level, index__in=indexes)
    nodes = TreeNode.objects.filter(wanted).values_list("level", "index", "digest")
    return found | {(level, index): digest for level, index, digest in nodes}


@dataclass(frozen=True)
class Proof:
    """An inclusion proof of one event under a signed head, hex throughout."""

    sequence: int
    size: int
    path: list[str]


def known_nodes(names: Sequence[tuple[int, int]]) -> dict[tuple[int, int], str]:
    """The same for proofs; the largest subtrees stand in the head already, in one row instead of many."""
    size, peaks = Head.objects.values_list("sequence", "peaks").first() or (0, [])
    known = dict(zip(tree.peaks(size), peaks, strict=True))
    return known | stored_nodes([name for name in names if name not in known])


def prove(sequence: int, size: int) -> Proof:
    """That event ``sequence`` is in the tree of ``size`` events; reads about log2(size) rows."""
    nodes = known_nodes(tree.nodes_for_inclusion(sequence - 1, size))
    path = tree.inclusion(sequence - 1, size, lambda node: bytes.fromhex(nodes[node]))
    return Proof(sequence, size, [step.hex() for step in path])


def prove_many(sequences: Sequence[int], size: int) -> dict[int, list[str]]:
    """The paths of ``prove`` for several events at once, hex, in three queries."""
    names = {node for sequence in sequences for node in tree.nodes_for_inclusion(sequence - 1, size)}
    nodes = known_nodes(sorted(names))
    paths = {n: tree.inclusion(n - 1, size, lambda node: bytes.fromhex(nodes[node])) for n in sequences}
    return {n: [step.hex() for step in path] for n, path in paths.items()}


def prove_growth(earlier: int, later: int) -> list[str]:
    """That the ledger of ``later`` events only adds to that of ``earlier``, hex."""
    nodes = known_nodes(tree.nodes_for_consistency(earlier, later))
    return [step.hex() for step in tree.consistency(earlier, later, lambda node: bytes.fromhex(nodes[node]))]
