from __future__ import annotations

import subprocess
import sys
from enum import IntEnum, StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.custody import chain
from labcases.custody.chain import NotCanonical, canonical

RECORDS = [b"record %d" % i for i in range(21)]
SIZES = range(1, len(RECORDS) + 1)


class Role(StrEnum):
    COUNTER = "counter"


class Version(IntEnum):
    FIRST = 1


@pytest.mark.parametrize(
    ("value", "named"),
    [
        (2**53, "write it as text"),
        (-(2**53), "write it as text"),
        (float("nan"), "no nan"),
        (float("-inf"), "no -inf"),
        ("half \ud83d", "half a surrogate pair"),
        ({"\udc00": 1}, "half a surrogate pair"),
        ({1: "one"}, "1 is int"),
        (b"bytes", "no bytes"),
        ({"deep": [{"set": {1}}]}, "no set"),
    ],
)
def test_what_has_no_canonical_spelling_is_refused_by_name(value: object, named: str) -> None:
    with pytest.raises(NotCanonical, match=named):
        canonical(value)


def test_the_largest_integers_are_written_in_full() -> None:
    assert canonical([2**53 - 1, -(2**53) + 1]) == b"[9007199254740991,-9007199254740991]"


def test_members_of_enumerations_are_written_as_their_values() -> None:
    assert canonical({Role.COUNTER: Version.FIRST, "roles": (Role.COUNTER,)}) == b'{"counter":1,"roles":["counter"]}'


def test_names_are_ordered_by_utf_16_units_not_by_code_points() -> None:
    assert canonical({"\ue000": 1, "\U00010000": 2}) == '{"\U00010000":2,"\ue000":1}'.encode()


def test_the_order_in_which_a_record_was_put_together_does_not_matter() -> None:
    assert canonical({"a": 1, "b": 2}) == canonical({"b": 2, "a": 1})


@pytest.mark.parametrize("size", SIZES)
def test_every_record_of_every_tree_is_proved_to_be_in_it(size: int) -> None:
    records, head = RECORDS[:size], chain.root(RECORDS[:size])
    for i, record in enumerate(records):
        proof = chain.inclusion_proof(records, i)
        assert chain.verify_inclusion(chain.leaf_hash(record), i, size, proof, head)


@pytest.mark.parametrize("size", SIZES)
def test_every_tree_is_proved_to_have_grown_from_every_smaller_one(size: int) -> None:
    records, head = RECORDS[:size], chain.root(RECORDS[:size])
    for m in range(1, size + 1):
        proof = chain.consistency_proof(records, m)
        assert chain.verify_consistency(m, size, chain.root(records[:m]), head, proof)


@given(st.integers(1, 40), st.data())
def test_a_record_of_another_number_or_text_is_not_proved(size: int, data: st.DataObject) -> None:
    records = [b"%d" % i for i in range(size)]
    i, claimed = data.draw(st.integers(0, size - 1)), data.draw(st.integers(0, size - 1))
    proof, head = chain.inclusion_proof(records, i), chain.root(records)
    assert chain.verify_inclusion(chain.leaf_hash(b"%d" % claimed), i, size, proof, head) == (claimed == i)


@given(st.integers(2, 40), st.data())
def test_a_tree_with_a_changed_past_has_not_grown_from_the_old_one(size: int, data: st.DataObject) -> None:
    records = [b"%d" % i for i in range(size)]
    m = data.draw(st.integers(1, size))
    changed = list(records)
    changed[data.draw(st.integers(0, m - 1))] = b"changed"
    proof = chain.consistency_proof(changed, m)
    assert not chain.verify_consistency(m, size, chain.root(records[:m]), chain.root(changed), proof)


def test_a_proof_with_a_piece_too_many_or_too_few_proves_nothing() -> None:
    head, inclusion = chain.root(RECORDS), chain.inclusion_proof(RECORDS, 5)
    old, consistency = chain.root(RECORDS[:5]), chain.consistency_proof(RECORDS, 5)
    leaf = chain.leaf_hash(RECORDS[5])
    for wrong in ([*inclusion, head], inclusion[:-1], [*inclusion[:-1], b"short"], []):
        assert not chain.verify_inclusion(leaf, 5, 21, wrong, head)
    for wrong in ([*consistency, head], consistency[:-1], [*consistency[:-1], b"short"], []):
        assert not chain.verify_consistency(5, 21, old, head, wrong)


def test_a_proof_does_not_reach_beyond_the_size_it_claims() -> None:
    """A step too many would prove roots of trees larger than those it speaks of."""
    first, second = (chain.leaf_hash(record) for record in RECORDS[:2])
    assert not chain.verify_inclusion(second, 0, 1, [first], chain.root(RECORDS[:2]))
    old, new, proof = chain.root(RECORDS[:3]), chain.root(RECORDS[:4]), chain.consistency_proof(RECORDS[:4], 3)
    assert chain.verify_consistency(3, 4, old, new, proof)
    beyond = chain.node_hash(first, old), chain.node_hash(first, new)
    assert not chain.verify_consistency(3, 4, *beyond, [*proof, first])


def test_a_byte_moved_from_one_hash_to_its_neighbour_proves_nothing() -> None:
    both = chain.leaf_hash(RECORDS[0]) + chain.leaf_hash(RECORDS[1])
    head = chain.root(RECORDS[:2])
    assert chain.verify_inclusion(both[32:], 1, 2, [both[:32]], head)
    assert not chain.verify_inclusion(both[31:], 1, 2, [both[:31]], head)


def test_no_proof_is_made_for_a_record_or_a_tree_that_is_not_there() -> None:
    for i in (-1, 21):
        with pytest.raises(IndexError):
            chain.inclusion_proof(RECORDS, i)
    for m in (0, 22):
        with pytest.raises(ValueError, match="cannot be shown"):
            chain.consistency_proof(RECORDS, m)


def test_a_commitment_hides_the_text_and_holds_to_field_salt_and_text() -> None:
    salt, other = b"s" * 16, b"t" * 16
    held = chain.commitment(salt, "why", "collected")
    different = [
        chain.commitment(other, "why", "collected"),
        chain.commitment(salt, "authority", "collected"),
        chain.commitment(salt, "why", "collected "),
        chain.commitment(salt, "whycollected", ""),
    ]
    assert held == chain.commitment(salt, "why", "collected")
    assert held not in different


def test_a_text_is_committed_to_alike_however_its_accents_were_typed() -> None:
    salt = b"s" * 16
    assert chain.commitment(salt, "why", "re\u0301seau") == chain.commitment(salt, "why", "r\u00e9seau")


@pytest.mark.parametrize(
    ("salt", "field", "text", "named"),
    [(b"short", "why", "", "too short"), (b"s" * 16, "w\0", "", "NUL"), (b"s" * 16, "w", "\ud800", "surrogates")],
)
def test_a_commitment_that_would_not_hold_is_refused(salt: bytes, field: str, text: str, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        chain.commitment(salt, field, text)


def test_the_file_runs_by_itself_on_the_standard_library() -> None:
    program = f"import runpy; print(len(runpy.run_path({chain.__file__!r})['root']([b'x'])))"
    run = subprocess.run([sys.executable, "-I", "-S", "-c", program], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "32"
