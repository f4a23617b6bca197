#!/usr/bin/env python3
"""Check a custody statement on a computer of your own: python3 check_statement.py statement.pdf (or its .json)

Needs Python 3.9 or newer and nothing else; it asks nobody and sends nothing. With the package "cryptography" installed
it also checks the lab's signature. It says in words what holds and what does not; the exit code is 0 when everything
that was checked holds, 1 when something does not, 2 when there is nothing to check.

  --key HEX       the lab's public key as you know it from elsewhere (its web page, an older paper)
  --newer FILE    a newer head with its proof, from the lab's page /custody/public-key/?format=json&since=SIZE

What is checked: each event is hashed (SHA-256) and its proof leads to the root that the lab signed (RFC 9162
s.2.1.3.2); names and texts are those that the event committed to; nothing is of another case; each thing begins each
step where its last one ended. A newer head must have grown from this one (RFC 9162 s.2.1.4.2).
What no check can show: that an entry was true when it was made, and that none was left out at the end.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import unicodedata
import zlib
from collections.abc import Iterator, Sequence
from hashlib import sha256
from typing import Any

try:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    CAN_CHECK_SIGNATURES = True
except ImportError:
    CAN_CHECK_SIGNATURES = False

FORM = "custody statement v1"
CONTEXT = "ledger head v1"
LARGEST = 256 * 2**20  # bytes; a file that unpacks to more is no statement
HOLDS, FAILS, UNKNOWN = "holds", "DOES NOT HOLD", "not known"
Line = tuple[str, str]


class Unreadable(Exception):
    """There is nothing here that could be checked; ``str(error)`` says why."""


# --- reading ----------------------------------------------------------------------------------------------------------


def read(data: bytes) -> dict[str, Any]:
    """The statement in the bytes of a PDF or a JSON file. Raises Unreadable."""
    if not data.startswith(b"%PDF-"):
        return _statement(data)
    found = [content for content in _streams(data) if FORM.encode() in content and content.lstrip()[:1] == b"{"]
    if not found:
        raise Unreadable("This PDF holds no custody statement as an attachment.")
    if len(found) > 1:
        raise Unreadable("This PDF holds more than one custody statement: it was put together from several files.")
    return _statement(found[0])


def _streams(pdf: bytes) -> Iterator[bytes]:
    """The content of every stream that is plain or packed with zlib (ISO 32000-2, 7.4.4)."""
    for start in re.finditer(rb"(?<!end)stream\r?\n", pdf):
        end = pdf.find(b"endstream", start.end())
        packed = pdf[start.end() : end if end >= 0 else len(pdf)]
        try:
            yield zlib.decompressobj().decompress(packed, LARGEST)
        except zlib.error:
            yield packed


def _statement(data: bytes) -> dict[str, Any]:
    said = load(data)
    if not isinstance(said, dict) or said.get("form") != FORM:
        raise Unreadable(f"This is no custody statement of a form that is known here ({FORM}).")
    if not isinstance(said.get("events"), list) or not isinstance(said.get("head"), dict):
        raise Unreadable("This statement has no events or no head.")
    return said


def load(data: bytes) -> Any:
    """JSON in which no name stands twice: readers would differ about which one counts. Raises Unreadable."""
    try:
        return json.loads(data, object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise Unreadable(f"This cannot be read as JSON: {error}") from None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice in one record")
    return found


# --- hashes and proofs ------------------------------------------------------------------------------------------------


def leaf_hash(body: bytes) -> bytes:
    """RFC 9162 s.2.1.1."""
    return sha256(b"\x00" + body).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """RFC 9162 s.2.1.1."""
    return sha256(b"\x01" + left + right).digest()


def is_included(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether this is leaf number ``index`` (from 0) of ``size``, RFC 9162 s.2.1.3.2."""
    if not 0 <= index < size or any(len(step) != 32 for step in proof):
        return False
    node, last, found = index, size - 1, leaf
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


def has_grown(old: int, new: int, old_root: bytes, new_root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether the tree of ``new`` leaves only added to that of ``old``, RFC 9162 s.2.1.4.2."""
    if not 0 < old <= new or any(len(step) != 32 for step in proof):
        return False
    if old == new:
        return not proof and old_root == new_root
    steps = [old_root, *proof] if old & (old - 1) == 0 else list(proof)
    if not proof:
        return False
    node, last = old - 1, new - 1
    while node & 1:
        node, last = node >> 1, last >> 1
    older = newer = steps[0]
    for step in steps[1:]:
        if last == 0:
            return False
        if node & 1 or node == last:
            older, newer = node_hash(step, older), node_hash(step, newer)
            while not node & 1 and node:
                node, last = node >> 1, last >> 1
        else:
            newer = node_hash(newer, step)
        node, last = node >> 1, last >> 1
    return last == 0 and (older, newer) == (old_root, new_root)


def commitment(salt: bytes, field: str, text: str) -> str:
    """What an event holds in place of a text: SHA-256 of salt, field, 00h and the text in Unicode form NFC."""
    return sha256(salt + field.encode() + b"\x00" + unicodedata.normalize("NFC", text).encode()).hexdigest()


# --- the checks -------------------------------------------------------------------------------------------------------


def check(statement: dict[str, Any], key: str = "", newer: dict[str, Any] | None = None) -> list[Line]:
    """Every verdict with its sentence, in order. Never raises for a bad statement."""
    head = statement["head"]
    said = _signature(head, "the head") + _key(head, key)
    try:
        size, root = int(head["size"]), bytes.fromhex(head["root"])
    except (KeyError, TypeError, ValueError):
        return [*said, (FAILS, "The head names no size and root, so no event can be proved.")]
    said += _events(statement, size, root)
    if newer is not None:
        said += _growth(size, root, head, newer)
    return said


def _signature(head: dict[str, Any], name: str) -> list[Line]:
    if not CAN_CHECK_SIGNATURES:
        how = "the Python package “cryptography” is not installed here"
        return [(UNKNOWN, f"Whether the lab signed {name}: {how}.")]
    try:
        record = {"context": CONTEXT, "root": head["root"], "signed": head["signed"], "size": head["size"]}
        message = json.dumps(record, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(head["key"]))
        public.verify(bytes.fromhex(head["signature"]), message)
    except (InvalidSignature, KeyError, TypeError, ValueError):
        return [(FAILS, f"The signature under {name} is not of the key it names.")]
    return [(HOLDS, f"The signature under {name}: {head['size']} events, signed {head['signed']}.")]


def _key(head: dict[str, Any], key: str) -> list[Line]:
    named = head.get("key")
    if not key:
        return [(UNKNOWN, f"Whether this is the lab's key; compare it with the lab's page: {named}")]
    if named == key.strip().lower():
        return [(HOLDS, "The key is the one you named.")]
    return [(FAILS, f"The key is not the one you named; this statement names {named}.")]


def _events(statement: dict[str, Any], size: int, root: bytes) -> list[Line]:
    said: list[Line] = []
    proved: list[dict[str, Any]] = []
    hashes: dict[int, str] = {}
    for place, event in enumerate(statement["events"], 1):
        try:
            body = load(event["body"].encode())
            number, proof = body["sequence"], [bytes.fromhex(step) for step in event["proof"]]
            leaf = leaf_hash(event["body"].encode())
            wrong = list(_wrong_with(event, body, str(statement.get("case", ""))))
            included = is_included(leaf, number - 1, size, proof, root)
        except (Unreadable, KeyError, TypeError, ValueError, AttributeError):
            said.append((FAILS, f"The entry in place {place} is no event that can be read."))
            continue
        if not included:
            wrong.insert(0, "it is not in the ledger whose head was signed: it was changed, or its proof is of another")
        said += [(FAILS, f"Event {number}: {sentence}.") for sentence in wrong]
        said += [(UNKNOWN, f"Event {number}: {name} was erased.") for name in _erased(event, body)]
        proved += [] if wrong else [body]
        hashes[number] = leaf.hex()
    if proved:
        count = len(proved)
        word = "Every event" if count == len(statement["events"]) else "The other events"
        said.append((HOLDS, f"{word}: {count} in the signed ledger, with the names and texts it committed to."))
    elif not statement["events"]:
        said.append((FAILS, "The statement holds no event."))
    return said + _order(statement, proved, hashes) + _lines(proved, str(statement.get("case", "")))


def _wrong_with(event: dict[str, Any], body: dict[str, Any], case: str) -> Iterator[str]:
    """What does not hold within one entry; its proof is looked at elsewhere."""
    if event["sequence"] != body["sequence"]:
        yield f"its entry is numbered {event['sequence']}"
    if body["case"] != case and not is_of(case, body["thing"]):
        yield "it is of another case"
    for name, kept in event["texts"].items():
        if commitment(bytes.fromhex(kept["salt"]), name, kept["text"]) != body["commitments"].get(name):
            yield f"the text “{name}” ({kept['text'][:60]}) is not the one that was recorded"


def is_of(case: str, thing: str | None) -> bool:
    """Whether a thing's code is of the case: the same but for the check character, then a letter."""
    stem = case[:-1]
    return bool(stem and thing and thing.startswith(stem) and (thing == case or thing[len(stem) :][:1].isalpha()))


def _erased(event: dict[str, Any], body: dict[str, Any]) -> list[str]:
    return [f"the text “{name}”" for name in body["commitments"] if name not in event["texts"]]


def _order(statement: dict[str, Any], bodies: list[dict[str, Any]], hashes: dict[int, str]) -> list[Line]:
    """Each event once and in the order of the ledger; neighbours name each other."""
    numbers = [event.get("sequence") for event in statement["events"] if isinstance(event, dict)]
    whole = [number for number in numbers if isinstance(number, int)]
    if numbers != sorted(set(whole)):
        return [(FAILS, "The events do not stand once each and in the order of the ledger.")]
    named = [(body["sequence"], body.get("previous")) for body in bodies if body["sequence"] - 1 in hashes]
    torn = [number for number, previous in named if previous != hashes[number - 1]]
    return [(FAILS, f"Event {number} does not name the hash of the one before it.") for number in torn]


def _lines(bodies: list[dict[str, Any]], case: str) -> list[Line]:
    """Each of the case's own things begins every step where its last one ended."""
    said: list[Line] = []
    last: dict[str, dict[str, Any]] = {}
    for body in sorted(bodies, key=lambda one: int(one["sequence"])):
        thing = body["thing"]
        if not is_of(case, thing):
            continue  # stock serves other cases too, and its line has events that are none of this case's
        before = last.get(thing)
        if before is not None and before.get("to") != body.get("from"):
            between = f"events {before['sequence']} and {body['sequence']}"
            said.append((FAILS, f"The line of {thing}: a change of hands between {between} is not in this statement."))
        last[thing] = body
    if last and not said:
        said.append((HOLDS, f"The line of custody of {len(last)} things: each step begins where the last one ended."))
    return said


def _growth(size: int, root: bytes, head: dict[str, Any], newer: dict[str, Any]) -> list[Line]:
    now = newer.get("head")
    if not isinstance(now, dict):
        return [(FAILS, "The newer head cannot be read.")]
    said = _signature(now, "the newer head")
    if now.get("key") != head.get("key"):
        said.append((FAILS, "The newer head is of another key."))
    try:
        proof = [bytes.fromhex(step) for step in newer["growth"]]
        grown = has_grown(size, int(now["size"]), root, bytes.fromhex(now["root"]), proof)
    except (KeyError, TypeError, ValueError):
        return [*said, (FAILS, "The newer head comes with no proof that can be read.")]
    if not grown:
        sentence = (
            f"The ledger of {now['size']} events has not grown from this statement's {size}: its past was changed."
        )
        return [*said, (FAILS, sentence)]
    return [*said, (HOLDS, f"The ledger of {now['size']} events has grown from this statement's {size}.")]


# --- in words ---------------------------------------------------------------------------------------------------------


def told(statement: dict[str, Any]) -> Iterator[str]:
    """The events as they stand in the statement, to be compared with what is printed on the paper."""
    for event in statement["events"]:
        try:
            body = load(event["body"].encode())
            texts = {name: kept["text"] for name, kept in event["texts"].items()}
            words = [f"{name}: {texts[name]}" for name in sorted(texts)]
            yield f"  {body['sequence']}  {body['happened'][:19]}Z  {body['kind']}  {body['thing']}  " + "; ".join(
                words
            )
        except (Unreadable, KeyError, TypeError, AttributeError):
            yield "  (an entry that cannot be read)"


def main(arguments: Sequence[str] | None = None) -> int:
    """Check the file that is named; the exit code says how it went."""
    parser = argparse.ArgumentParser(description="Check a custody statement (PDF or JSON).")
    parser.add_argument("file")
    parser.add_argument("--key", default="", help="the lab's public key as you know it, 64 hex digits")
    parser.add_argument("--newer", help="a newer head of the lab with its proof, JSON")
    asked = parser.parse_args(arguments)
    try:
        statement = read(_bytes_of(asked.file))
        newer = load(_bytes_of(asked.newer)) if asked.newer else None
        if newer is not None and not isinstance(newer, dict):
            raise Unreadable("The newer head is no record.")
    except Unreadable as error:
        sys.stderr.write(f"{error}\n")
        return 2
    said = check(statement, asked.key, newer)
    good = not any(verdict == FAILS for verdict, _ in said)
    lines = [f"Custody statement of case {statement.get('printed') or statement.get('case')}"]
    lines += [f"{verdict}: {sentence}" for verdict, sentence in said]
    lines += ["What was recorded, to be compared with the paper:", *told(statement)]
    lines += ["Everything that was checked holds." if good else "This statement DOES NOT HOLD."]
    sys.stdout.write("\n".join(lines) + "\n")
    return 0 if good else 1


def _bytes_of(path: str) -> bytes:
    try:
        with open(path, "rb") as file:
            return file.read()
    except OSError as error:
        raise Unreadable(f"{path}: {error.strerror}") from None


if __name__ == "__main__":
    sys.exit(main())
