"""The ledger's Merkle tree, kept as the hashes of its complete subtrees, so that appending and proving cost O(log n).

A node is named (level, index): at level L it covers the 2**L events from index * 2**L on. A complete node never
changes; there are fewer of them above the leaves than events, so storing them costs about one row an event. Roots and
proofs are those of RFC 9162 (``custody.chain``), which builds them from all leaves and serves here as the yardstick.

>>> from labcases.custody.chain import inclusion_proof, leaf_hash, root
>>> events, kept = [bytes([n]) for n in range(11)], {}
>>> for n, event in enumerate(events):
...     kept.update(completed(n, leaf_hash(event), kept.__getitem__))
>>> root_of(11, kept.__getitem__) == root(events)
True
>>> inclusion(3, 11, kept.__getitem__) == inclusion_proof(events, 3)
True
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from labcases.custody.chain import node_hash, root

Node = tuple[int, int]
Get = Callable[[Node], bytes]


def completed(size: int, leaf: bytes, get: Get) -> Iterator[tuple[Node, bytes]]:
    """The nodes that become complete when event number ``size`` (from 0) is appended, lowest first.

    ``get`` gives the complete nodes that were there before.
    """
    level, index, digest = 0, size, leaf
    yield (level, index), digest
    while index % 2:
        digest = node_hash(get((level, index - 1)), digest)
        level, index = level + 1, index // 2
        yield (level, index), digest


def grown(size: int, old: Sequence[bytes], leaf: bytes) -> tuple[list[bytes], list[tuple[Node, bytes]]]:
    """Append to a tree that is remembered by its peaks (the hashes of ``peaks(size)``): nothing else need be read.

    Returns the new peaks and the nodes above the leaves that became complete.
    """
    by_node = dict(zip(peaks(size), old, strict=True))
    nodes = list(completed(size, leaf, by_node.__getitem__))
    by_node.update(nodes)
    return [by_node[node] for node in peaks(size + 1)], nodes[1:]


def root_of_peaks(hashes: Sequence[bytes]) -> bytes:
    """The root of a tree from its peaks, left to right."""
    if not hashes:
        return root([])
    digest = hashes[-1]
    for left in reversed(hashes[:-1]):
        digest = node_hash(left, digest)
    return digest


def root_of(size: int, get: Get) -> bytes:
    """The root over the first ``size`` events."""
    return _over(0, size, get) if size else root([])


def peaks(size: int) -> list[Node]:
    """The largest complete subtrees of a tree of this size, left to right: what ``root_of`` asks for."""
    return list(_nodes_over(0, size)) if size else []


def inclusion(index: int, size: int, get: Get) -> list[bytes]:
    """Proof that event ``index`` (from 0) is in the tree of ``size`` events, RFC 9162 s.2.1.3."""
    if not 0 <= index < size:
        raise ValueError(f"There is no event {index} in a tree of {size}.")
    return [_over(start, end, get) for start, end in _beside(index, size)]


def consistency(earlier: int, later: int, get: Get) -> list[bytes]:
    """Proof that the tree of ``later`` events only adds to that of ``earlier``, RFC 9162 s.2.1.4."""
    if not 0 < earlier <= later:
        raise ValueError(f"A tree of {later} events cannot extend one of {earlier}.")
    return [_over(start, end, get) for start, end in _subproof(earlier, 0, later, whole=True)]


def nodes_for_inclusion(index: int, size: int) -> list[Node]:
    """The stored nodes that ``inclusion`` will ask for, to be read in one query."""
    return [node for start, end in _beside(index, size) for node in _nodes_over(start, end)]


def nodes_for_consistency(earlier: int, later: int) -> list[Node]:
    """The stored nodes that ``consistency`` will ask for."""
    spans = _subproof(earlier, 0, later, whole=True)
    return [node for start, end in spans for node in _nodes_over(start, end)]


def _split(count: int) -> int:
    """The largest power of two below ``count``, RFC 9162 s.2.1.1."""
    return 1 << (count - 1).bit_length() - 1


def _over(start: int, end: int, get: Get) -> bytes:
    """The hash over the events from ``start`` to before ``end``; such spans begin at a multiple of their split."""
    count = end - start
    if count & (count - 1) == 0:
        level = count.bit_length() - 1
        return get((level, start >> level))
    middle = start + _split(count)
    return node_hash(_over(start, middle, get), _over(middle, end, get))


def _nodes_over(start: int, end: int) -> Iterator[Node]:
    count = end - start
    if count & (count - 1) == 0:
        level = count.bit_length() - 1
        yield level, start >> level
        return
    middle = start + _split(count)
    yield from _nodes_over(start, middle)
    yield from _nodes_over(middle, end)


def _beside(index: int, size: int) -> list[tuple[int, int]]:
    """The spans beside the way from an event up to the root, lowest first."""
    start, end, spans = 0, size, []
    while end - start > 1:
        middle = start + _split(end - start)
        if index < middle:
            spans.append((middle, end))
            end = middle
        else:
            spans.append((start, middle))
            start = middle
    return spans[::-1]


def _subproof(m: int, start: int, end: int, *, whole: bool) -> list[tuple[int, int]]:
    """RFC 9162 s.2.1.4.1 SUBPROOF as spans; ``m`` counts events from ``start`` on."""
    if m == end - start:
        return [] if whole else [(start, end)]
    middle = start + _split(end - start)
    if m <= middle - start:
        return [*_subproof(m, start, middle, whole=whole), (middle, end)]
    return [*_subproof(m - (middle - start), middle, end, whole=False), (start, middle)]
