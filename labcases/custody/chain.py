"""The proof under the ledger: one spelling of a record, a tree of hashes over all records, salted commitments.

Standard library only, so that whoever doubts a proof can run this one file by itself.

* ``canonical`` writes a record in the one way of RFC 8785 (JSON Canonicalization Scheme), so that equal records
  have equal bytes and equal hashes.
* ``root`` is the Merkle tree head of RFC 9162 s.2.1.1 over a list of records. An inclusion proof (s.2.1.3) shows
  that one record is in the tree of a given root without showing the others; a consistency proof (s.2.1.4) shows
  that a later tree only added to an earlier one. Proofs are lists of 32-byte strings.
* ``commitment`` lets a text stand in a record without being readable there; once its salt is erased nobody can
  find out the text by trying.

>>> canonical({"b": 1.0, "a": ["\\u20ac", None]})
b'{"a":["\\xe2\\x82\\xac",null],"b":1}'
>>> records = [b"in", b"to the bench", b"out"]
>>> proof = inclusion_proof(records, 1)
>>> verify_inclusion(leaf_hash(b"to the bench"), 1, 3, proof, root(records))
True
>>> verify_inclusion(leaf_hash(b"to the bin"), 1, 3, proof, root(records))
False
>>> verify_consistency(2, 3, root(records[:2]), root(records), consistency_proof(records, 2))
True
"""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Iterator, Sequence
from hashlib import sha256

HASH_BYTES = 32
SHORTEST_SALT = 16  # bytes; 128 random bits cannot be tried out

_LARGEST_INTEGER = 2**53 - 1  # RFC 8785 s.3.2.2.3: beyond it a reader of JSON may round


class NotCanonical(ValueError):
    """A value has no spelling in RFC 8785; ``str(error)`` says which value and why."""


def canonical(obj: object) -> bytes:
    """A value as RFC 8785 bytes.

    Takes None, bool, int, float, str, list, tuple and dict with text keys. Raises NotCanonical for NaN and the
    infinities, integers beyond 2**53 - 1 (write them as text), lone surrogates and any other type.
    """
    return b"".join(_pieces(obj))


def leaf_hash(data: bytes) -> bytes:
    """The hash of one record, RFC 9162 s.2.1.1: SHA-256 of 00h and the record."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash over two hashes, RFC 9162 s.2.1.1: SHA-256 of 01h, the left and the right."""
    return sha256(b"\x01" + left + right).digest()


def root(leaves: Sequence[bytes]) -> bytes:
    """The tree head over records in their order; of no records, SHA-256 of nothing."""
    return _root_of([leaf_hash(leaf) for leaf in leaves])


def inclusion_proof(leaves: Sequence[bytes], i: int) -> list[bytes]:
    """The hashes that lead from record ``i`` (from 0) to the root, lowest first. Raises IndexError outside."""
    if not 0 <= i < len(leaves):
        raise IndexError(f"There is no record {i} in a tree of {len(leaves)}.")
    level = [leaf_hash(leaf) for leaf in leaves]
    proof = []
    while len(level) > 1:
        sibling = i ^ 1
        if sibling < len(level):
            proof.append(level[sibling])
        level = _next_level(level)
        i //= 2
    return proof


def verify_inclusion(leaf_hash: bytes, i: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether the record of this hash is number ``i`` of the ``size`` records under the root. RFC 9162 s.2.1.3.2.

    Judges anything it is given and never raises for a bad proof.
    """
    if not 0 <= i < size or not _all_hashes(leaf_hash, root, *proof):
        return False
    node, last, found = i, size - 1, leaf_hash
    for step in proof:
        if last == 0:
            return False
        if node & 1 or node == last:
            found = node_hash(step, found)
            while not node & 1 and node:
                node, last = node >> 1, last >> 1
        else:
            found = node_hash(found, step)
        node, last = node >> 1, last >> 1
    return last == 0 and found == root


def consistency_proof(leaves: Sequence[bytes], m: int) -> list[bytes]:
    """The hashes that show the first ``m`` records to be the start of all. Raises ValueError unless 0 < m <= size.

    RFC 9162 s.2.1.4.1; empty when ``m`` is the whole.
    """
    if not 0 < m <= len(leaves):
        raise ValueError(f"A tree of {len(leaves)} cannot be shown to have grown from one of {m}.")
    return _subproof(m, [leaf_hash(leaf) for leaf in leaves], whole=True)


def verify_consistency(m: int, n: int, root_m: bytes, root_n: bytes, proof: Sequence[bytes]) -> bool:
    """Whether the tree of ``n`` records only added to the tree of ``m``. RFC 9162 s.2.1.4.2.

    Judges anything it is given and never raises for a bad proof. From an empty tree nothing can be shown: False.
    """
    if not 0 < m <= n or not _all_hashes(root_m, root_n, *proof):
        return False
    if m == n:
        return not proof and root_m == root_n
    if not proof:
        return False
    steps = [root_m, *proof] if m & (m - 1) == 0 else proof  # a power of two is one whole subtree
    return _grown(m - 1, n - 1, steps) == (root_m, root_n)


def commitment(salt: bytes, field: str, text: str) -> str:
    """What stands in a record for a text of a field: hex SHA-256 of salt, field (UTF-8), 00h, text (UTF-8).

    The text is brought to Unicode form NFC first, so that it matches however it was typed. The salt is random,
    at least 16 bytes, its own for each record and field; without it the text cannot be found by trying. Whoever
    checks knows the field's name beforehand. Raises ValueError for a short salt, for a NUL in the field's name
    and, as UnicodeEncodeError, for half a surrogate pair.

    >>> commitment(bytes(16), "why", "collected")[:16]
    'd8907c29c41cc4ce'
    """
    if len(salt) < SHORTEST_SALT:
        raise ValueError(f"A salt of {len(salt)} bytes is too short; it takes {SHORTEST_SALT}.")
    if "\x00" in field:
        raise ValueError("The name of a field cannot contain NUL, which ends it.")
    normal = unicodedata.normalize("NFC", text)
    return sha256(salt + field.encode() + b"\x00" + normal.encode()).hexdigest()


def _pieces(obj: object) -> Iterator[bytes]:
    """The bytes of a value, piece by piece. Bool before int: Python holds True to be an integer."""
    match obj:
        case None:
            yield b"null"
        case bool():
            yield b"true" if obj else b"false"
        case int():
            yield _integer(obj)
        case float():
            yield _number(float(obj))
        case str():
            yield _string(obj)
        case list() | tuple():
            yield b"["
            for position, item in enumerate(obj):
                yield b"," if position else b""
                yield from _pieces(item)
            yield b"]"
        case dict():
            yield b"{"
            for position, (key, value) in enumerate(sorted(obj.items(), key=_utf16)):
                yield b"," if position else b""
                yield _string(key)
                yield b":"
                yield from _pieces(value)
            yield b"}"
        case _:
            raise NotCanonical(f"JSON has no {type(obj).__name__}.")


def _utf16(member: tuple[object, object]) -> bytes:
    """The order of members, RFC 8785 s.3.2.3: by UTF-16 code units, which big-endian bytes sort as."""
    key = member[0]
    if not isinstance(key, str):
        raise NotCanonical(f"The names in an object are text; {key!r} is {type(key).__name__}.")
    return key.encode("utf-16-be", "surrogatepass")


def _string(text: str) -> bytes:
    """RFC 8785 s.3.2.2.2. Python escapes exactly what the RFC asks for when it may leave the rest alone."""
    try:
        return json.dumps(text, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise NotCanonical(f"{text!r} has half a surrogate pair and is no Unicode text.") from None


def _integer(number: int) -> bytes:
    if abs(number) > _LARGEST_INTEGER:
        raise NotCanonical(f"{int(number)} is beyond 2**53 - 1; write it as text.")
    return b"%d" % number


def _number(number: float) -> bytes:
    """RFC 8785 s.3.2.2.3: as ECMAScript writes numbers, shortest digits that read back the same.

    Python's repr has those digits; only where it puts point and exponent differs. ``point`` counts the digits
    before the decimal point.
    """
    if not math.isfinite(number):
        raise NotCanonical(f"JSON has no {number}.")
    if number == 0:
        return b"0"
    mantissa, _, exponent = repr(abs(number)).partition("e")
    whole, _, fraction = mantissa.partition(".")
    padded = (whole + fraction).lstrip("0")
    point = len(whole) + int(exponent or 0) - (len(whole + fraction) - len(padded))
    sign = "-" if number < 0 else ""
    return (sign + _placed(padded.rstrip("0"), point)).encode()


def _placed(digits: str, point: int) -> str:
    """ECMAScript Number::toString for digits d1 d2 ... with the decimal point behind the first ``point`` of them."""
    if len(digits) <= point <= 21:
        return digits.ljust(point, "0")
    if 0 < point <= 21:
        return f"{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"0.{'0' * -point}{digits}"
    first, rest = digits[0], digits[1:]
    return f"{first}{'.' if rest else ''}{rest}e{point - 1:+d}"


def _next_level(level: Sequence[bytes]) -> list[bytes]:
    """One step towards the root: neighbours joined; an odd one at the end goes up as it is.

    This gives the tree of RFC 9162, which splits at the largest power of two, without recursion.
    """
    joined = [node_hash(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
    return [*joined, level[-1]] if len(level) % 2 else joined


def _root_of(hashes: Sequence[bytes]) -> bytes:
    if not hashes:
        return sha256().digest()
    level = list(hashes)
    while len(level) > 1:
        level = _next_level(level)
    return level[0]


def _subproof(m: int, hashes: Sequence[bytes], *, whole: bool) -> list[bytes]:
    """SUBPROOF of RFC 9162 s.2.1.4.1; ``whole`` while the subtree is one the reader of the proof has the root of."""
    if m == len(hashes):
        return [] if whole else [_root_of(hashes)]
    split = 1 << (len(hashes) - 1).bit_length() - 1  # the largest power of two below the size
    left, right = hashes[:split], hashes[split:]
    if m <= split:
        return [*_subproof(m, left, whole=whole), _root_of(right)]
    return [*_subproof(m - split, right, whole=False), _root_of(left)]


def _grown(node: int, last: int, steps: Sequence[bytes]) -> tuple[bytes, bytes] | None:
    """The two roots a consistency proof leads to, or None when it is too long or too short."""
    while node & 1:
        node, last = node >> 1, last >> 1
    older = newer = steps[0]
    for step in steps[1:]:
        if last == 0:
            return None
        if node & 1 or node == last:
            older, newer = node_hash(step, older), node_hash(step, newer)
            while not node & 1 and node:
                node, last = node >> 1, last >> 1
        else:
            newer = node_hash(newer, step)
        node, last = node >> 1, last >> 1
    return (older, newer) if last == 0 else None


def _all_hashes(*values: bytes) -> bool:
    return all(len(value) == HASH_BYTES for value in values)
