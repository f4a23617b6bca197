"""The stored tree against the one that is built from all leaves (which is checked against the published vectors)."""

from __future__ import annotations

import pytest

from labcases.custody import chain, tree
from labcases.custody.tree import Node

MOST = 130
LEAVES = [b"event %d" % n for n in range(MOST)]


class Stored(dict[Node, bytes]):
    """Complete nodes as the database keeps them; it remembers which were asked for."""

    def __init__(self, size: int) -> None:
        super().__init__()
        self.asked: set[Node] = set()
        for n, leaf in enumerate(LEAVES[:size]):
            self.update(list(tree.completed(n, chain.leaf_hash(leaf), self.__getitem__)))

    def get_node(self, node: Node) -> bytes:
        self.asked.add(node)
        return self[node]


WHOLE = Stored(MOST)
SIZES = range(1, MOST + 1)


@pytest.mark.parametrize("size", SIZES)
def test_the_root_at_every_size_is_the_one_over_all_leaves(size: int) -> None:
    assert tree.root_of(size, WHOLE.__getitem__) == chain.root(LEAVES[:size])


def test_a_tree_remembered_by_its_peaks_grows_to_the_same_roots_and_nodes() -> None:
    peaks: list[bytes] = []
    kept: dict[Node, bytes] = {}
    for n, leaf in enumerate(LEAVES):
        peaks, complete = tree.grown(n, peaks, chain.leaf_hash(leaf))
        kept.update(complete)
        assert tree.root_of_peaks(peaks) == chain.root(LEAVES[: n + 1])
    assert kept == {node: digest for node, digest in WHOLE.items() if node[0] > 0}


@pytest.mark.parametrize("size", [1, 2, 3, 7, 8, 9, 31, 32, 33, 64, 100, 127, 128, 129, 130])
def test_every_inclusion_proof_is_the_one_from_all_leaves(size: int) -> None:
    for index in range(size):
        assert tree.inclusion(index, size, WHOLE.__getitem__) == chain.inclusion_proof(LEAVES[:size], index)


@pytest.mark.parametrize("later", [1, 2, 3, 6, 8, 13, 33, 64, 65, 100, 129, 130])
def test_every_consistency_proof_is_the_one_from_all_leaves(later: int) -> None:
    for earlier in range(1, later + 1):
        mine = tree.consistency(earlier, later, WHOLE.__getitem__)
        assert mine == chain.consistency_proof(LEAVES[:later], earlier)


@pytest.mark.parametrize("size", [1, 5, 64, 100, 130])
def test_what_is_read_beforehand_is_what_a_proof_asks_for(size: int) -> None:
    for index in range(size):
        stored = Stored(size)
        tree.inclusion(index, size, stored.get_node)
        assert stored.asked == set(tree.nodes_for_inclusion(index, size))
        stored = Stored(size)
        tree.consistency(index + 1, size, stored.get_node)
        assert stored.asked == set(tree.nodes_for_consistency(index + 1, size))


@pytest.mark.parametrize(("size", "most"), [(1_000_000, 25), (999_999, 40), (1_048_575, 40), (10_000_000, 48)])
def test_a_proof_in_a_large_tree_reads_few_rows(size: int, most: int) -> None:
    """At most 25 at a million events; at other sizes at most twice the tree's height, for the peaks at its end."""
    assert max(len(tree.nodes_for_inclusion(index, size)) for index in (0, 1, size // 2, size - 2, size - 1)) <= most


def test_a_peak_that_differs_makes_another_root() -> None:
    peaks = [WHOLE[node] for node in tree.peaks(100)]
    assert tree.root_of_peaks([*peaks[:-1], chain.leaf_hash(b"other")]) != chain.root(LEAVES[:100])


def test_no_proof_of_what_is_not_there() -> None:
    with pytest.raises(ValueError, match="no event 5 in a tree of 5"):
        tree.inclusion(5, 5, WHOLE.__getitem__)
    with pytest.raises(ValueError, match="cannot extend one of 6"):
        tree.consistency(6, 5, WHOLE.__getitem__)
    with pytest.raises(ValueError, match="cannot extend one of 0"):
        tree.consistency(0, 5, WHOLE.__getitem__)
    assert tree.peaks(0) == []
    assert tree.root_of_peaks([]) == tree.root_of(0, WHOLE.__getitem__) == chain.root([])
