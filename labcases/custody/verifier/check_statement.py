#!/usr/bin/env python3
"""Check a custody statement on a computer of your own: python3 check_statement.py statement.pdf (or its .json)

The file may also be a head alone, from which the ledger must have grown: a mail of the lab, saved as a file, whose
header Ledger-Head carries one, or what the lab's page of its public key gives out as JSON.

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
from dataclasses import dataclass, field
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
HEADER = rb"(?:^|\n)ledger-head:[ \t]*([^\r\n]*(?:\r?\n[ \t][^\r\n]*)*)"  # of a mail, folded or not (RFC 5322 s.2.2.3)
GIVEN_OUT = {"head", "key", "growth"}  # what the lab's page says
LARGEST = 256 * 2**20  # bytes; a file that unpacks to more is no statement
LARGEST_NUMBER = 2**53 - 1  # readers of JSON may round beyond it (RFC 8259 s.6)
HOLDS, FAILS, UNKNOWN = "holds", "DOES NOT HOLD", "not known"
Line = tuple[str, str]
Said = dict[str, Any]


class Unreadable(Exception):
    """There is nothing here that could be checked; ``str(error)`` says why."""


# --- reading ----------------------------------------------------------------------------------------------------------


def read(data: bytes) -> Said:
    """The statement in the bytes of a PDF or a JSON file, or a head alone, which has no events. Raises Unreadable."""
    if not data.startswith(b"%PDF-"):
        return _head_in_mail(data) or _head_or_statement(load(data))
    found = [content for content in _streams(data) if FORM.encode() in content and content.lstrip()[:1] == b"{"]
    if not found:
        raise Unreadable("This PDF holds no custody statement as an attachment.")
    if len(found) > 1:
        raise Unreadable("This PDF holds more than one custody statement: it was put together from several files.")
    return _statement(load(found[0]))


def _streams(pdf: bytes) -> Iterator[bytes]:
    """The content of every stream that is plain or packed with zlib (ISO 32000-2, 7.4.4)."""
    for start in re.finditer(rb"(?<!end)stream\r?\n", pdf):
        end = pdf.find(b"endstream", start.end())
        packed = pdf[start.end() : end if end >= 0 else len(pdf)]
        yield _unpacked(packed) or packed


def _unpacked(packed: bytes) -> bytes:
    """What one whole zlib stream holds, a line end behind it allowed; nothing when it is anything else."""
    engine = zlib.decompressobj()
    try:
        content = engine.decompress(packed, LARGEST)
    except zlib.error:
        return b""
    return content if engine.eof and engine.unused_data in (b"", b"\n", b"\r", b"\r\n") else b""


def _head_in_mail(data: bytes) -> Said | None:
    """The head in the headers of a mail; None when this is no mail that has one."""
    found = re.findall(HEADER, re.split(rb"\r?\n\r?\n", data, maxsplit=1)[0], re.IGNORECASE)
    if len(found) > 1:
        raise Unreadable("This mail carries more than one head.")
    return _head_or_statement(load(re.sub(rb"\r?\n", b"", found[0]))) if found else None


def _head_or_statement(said: Any) -> Said:
    if isinstance(said, dict) and isinstance(said.get("head"), dict) and GIVEN_OUT.issuperset(said):
        return {"head": said["head"]}
    if isinstance(said, dict) and "root" in said and "signature" in said:
        return {"head": said}
    return _statement(said)


def _statement(said: Any) -> Said:
    if not isinstance(said, dict) or said.get("form") != FORM:
        raise Unreadable(f"This is no custody statement of a form that is known here ({FORM}).")
    if not isinstance(said.get("events"), list) or not isinstance(said.get("head"), dict):
        raise Unreadable("This statement has no events or no head.")
    return said


def load(data: bytes) -> Any:
    """JSON of one meaning: UTF-8, no name twice in a record, whole numbers only. Raises Unreadable."""
    try:
        return json.loads(data.decode(), object_pairs_hook=_once, parse_float=_no_number, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise Unreadable("This cannot be read as JSON in which each name stands once.") from None


def _once(pairs: list[tuple[str, Any]]) -> Said:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice in one record")
    return found


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no whole number")


def whole(value: Any) -> int:
    """A whole number that every reader of JSON reads alike. Raises TypeError for anything else."""
    if type(value) is not int or not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:
        raise TypeError("no whole number")
    return value


def text(value: Any) -> str:
    """Text. Raises TypeError for anything else, ValueError for half a character."""
    if not isinstance(value, str):
        raise TypeError("no text")
    value.encode()
    return value


def unhex(value: Any, count: int) -> bytes:
    """So many bytes from lower-case hex digits; 0 is any number of them. Raises TypeError or ValueError."""
    digits = text(value)
    if not re.fullmatch("([0-9a-f]{2})*", digits) or (count and len(digits) != 2 * count):
        raise ValueError("no such hex digits")
    return bytes.fromhex(digits)


def record_of(value: Any) -> Said:
    """A JSON object. Raises TypeError for anything else."""
    if not isinstance(value, dict):
        raise TypeError("no record")
    return value


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


def commitment(salt: bytes, name: str, words: str) -> str:
    """What an event holds in place of a text: SHA-256 of salt, field, 00h and the text in Unicode form NFC."""
    return sha256(salt + name.encode() + b"\x00" + unicodedata.normalize("NFC", words).encode()).hexdigest()


# --- the checks: each looks at one thing and says its lines; the page in the browser has the same, in this order ------


@dataclass
class Seen:
    """A statement while it is being checked: what one check proved the next ones build on."""

    statement: Said
    key: str = ""
    newer: Said | None = None
    case: str = ""
    size: int = 0
    root: bytes = b""
    proved: list[Said] = field(default_factory=list)  # bodies, as they stand in the statement
    hashes: dict[int, str] = field(default_factory=dict)  # of every entry that could be read, by number

    @property
    def head(self) -> Said:
        return record_of(self.statement["head"])

    @property
    def name(self) -> str:
        return _name(self.statement)


def _name(statement: Said) -> str:
    return "statement" if "events" in statement else "head"


def check(statement: Said, key: str = "", newer: Said | None = None) -> list[Line]:
    """Every verdict with its sentence, in order. Never raises for a bad statement."""
    case = statement.get("case")
    seen, said = Seen(statement, key, newer, case if isinstance(case, str) else ""), []
    for one in CHECKS:
        if one not in OF_EVENTS or "events" in statement:
            said += one(seen)
        if one is head and not seen.size:
            break  # nothing can be proved
    return said


def signature(seen: Seen) -> list[Line]:
    """The head is signed by the key that it names."""
    return _signed(seen.head, "the head")


def _signed(head: Said, name: str) -> list[Line]:
    if not CAN_CHECK_SIGNATURES:
        how = "the Python package “cryptography” is not installed here"
        return [(UNKNOWN, f"Whether the lab signed {name}: {how}.")]
    try:
        size, root, signed = whole(head["size"]), text(head["root"]), text(head["signed"])
        record = {"context": CONTEXT, "root": root, "signed": signed, "size": size}
        message = json.dumps(record, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()
        public = Ed25519PublicKey.from_public_bytes(unhex(head["key"], 32))
        public.verify(unhex(head["signature"], 64), message)
    except (InvalidSignature, KeyError, TypeError, ValueError):
        return [(FAILS, f"The signature under {name} is not of the key it names.")]
    return [(HOLDS, f"The signature under {name}: {size} events, signed {signed}.")]


def key(seen: Seen) -> list[Line]:
    """The key is the one that the reader knows from elsewhere."""
    found = seen.head.get("key")
    named = found if isinstance(found, str) else "none"
    if not seen.key:
        return [(UNKNOWN, f"Whether this is the lab's key; compare it with the lab's page: {named}")]
    if named == seen.key.strip().lower():
        return [(HOLDS, "The key is the one you named.")]
    return [(FAILS, f"The key is not the one you named; this {seen.name} names {named}.")]


def head(seen: Seen) -> list[Line]:
    """The head says how many events there are and the root over them."""
    try:
        size, seen.root = whole(seen.head["size"]), unhex(seen.head["root"], 32)
    except (KeyError, TypeError, ValueError):
        size = 0
    if size <= 0:
        return [(FAILS, "The head names no size and root, so no event can be proved.")]
    seen.size = size
    return []


def entries(seen: Seen) -> list[Line]:
    """Each event is in the signed tree, of this case, and has the names and texts that it committed to."""
    said: list[Line] = []
    events = seen.statement["events"]
    for place, event in enumerate(events, 1):
        try:
            said += _entry(event, seen)
        except (Unreadable, KeyError, TypeError, ValueError):
            said.append((FAILS, f"The entry in place {place} is no event that can be read."))
    if count := len(seen.proved):
        word = "Every event" if count == len(events) else "The other events"
        said.append((HOLDS, f"{word}: {count} in the signed ledger, with the names and texts it committed to."))
    elif not events:
        said.append((FAILS, "The statement holds no event."))
    return said


def _entry(event: Said, seen: Seen) -> list[Line]:
    data = text(record_of(event)["body"]).encode()
    body = record_of(load(data))
    number, proof = whole(body["sequence"]), [unhex(step, 0) for step in list_of(event["proof"])]
    leaf = leaf_hash(data)
    wrong = list(_wrong_with(event, body, seen.case))
    if not is_included(leaf, number - 1, seen.size, proof, seen.root):
        wrong.insert(0, "it is not in the ledger whose head was signed: it was changed, or its proof is of another")
    seen.proved += [] if wrong else [body]
    seen.hashes[number] = leaf.hex()
    erased = [f"the text “{name}” was erased" for name in sorted(body["commitments"]) if name not in event["texts"]]
    return [(FAILS, f"Event {number}: {one}.") for one in wrong] + [
        (UNKNOWN, f"Event {number}: {one}.") for one in erased
    ]


def list_of(value: Any) -> list[Any]:
    """A JSON array. Raises TypeError for anything else."""
    if not isinstance(value, list):
        raise TypeError("no list")
    return value


def _wrong_with(event: Said, body: Said, case: str) -> Iterator[str]:
    """What does not hold within one entry; its proof is looked at elsewhere."""
    if whole(event["sequence"]) != body["sequence"]:
        yield f"its entry is numbered {event['sequence']}"
    thing = None if body["thing"] is None else text(body["thing"])
    if body["case"] != case and not is_of(case, thing):
        yield "it is of another case"
    committed = record_of(body["commitments"])
    for name, kept in sorted(record_of(event["texts"]).items()):
        words = text(record_of(kept)["text"])
        if commitment(unhex(kept["salt"], 0), name, words) != committed.get(name):
            yield f"the text “{name}” ({words[:60]}) is not the one that was recorded"


def is_of(case: str, thing: str | None) -> bool:
    """Whether a thing's code is of the case: the same but for the check character, then a letter."""
    stem = case[:-1]
    return bool(stem and thing and thing.startswith(stem) and (thing == case or thing[len(stem) :][:1].isalpha()))


def order(seen: Seen) -> list[Line]:
    """Each event stands once and in the order of the ledger; neighbours name each other."""
    numbers = [event.get("sequence") for event in seen.statement["events"] if isinstance(event, dict)]
    known = [number for number in numbers if type(number) is int]
    if numbers != sorted(set(known)):
        return [(FAILS, "The events do not stand once each and in the order of the ledger.")]
    named = [(body["sequence"], body.get("previous")) for body in seen.proved if body["sequence"] - 1 in seen.hashes]
    torn = [number for number, previous in named if previous != seen.hashes[number - 1]]
    return [(FAILS, f"Event {number} does not name the hash of the one before it.") for number in torn]


def lines(seen: Seen) -> list[Line]:
    """Each of the case's own things begins every step where its last one ended."""
    said: list[Line] = []
    last: dict[str, Said] = {}
    for body in sorted(seen.proved, key=lambda one: int(one["sequence"])):
        thing = body["thing"]
        if not is_of(seen.case, thing):
            continue  # stock serves other cases too, and its line has events that are none of this case's
        before = last.get(thing)
        if before is not None and _plain(before.get("to")) != _plain(body.get("from")):
            between = f"events {before['sequence']} and {body['sequence']}"
            said.append((FAILS, f"The line of {thing}: a change of hands between {between} is not in this statement."))
        last[thing] = body
    if last and not said:
        said.append((HOLDS, f"The line of custody of {len(last)} things: each step begins where the last one ended."))
    return said


def _plain(value: Any) -> str:
    return json.dumps(value, sort_keys=True)


def growth(seen: Seen) -> list[Line]:
    """A newer head has grown from this statement's, when there is one to compare."""
    if seen.newer is None and "events" not in seen.statement:
        return [(UNKNOWN, "Whether the ledger has grown from this head: that takes a newer head with its proof.")]
    if seen.newer is None:
        return []
    now = seen.newer.get("head")
    if not isinstance(now, dict):
        return [(FAILS, "The newer head cannot be read.")]
    said = _signed(now, "the newer head")
    if now.get("key") != seen.head.get("key"):
        said.append((FAILS, "The newer head is of another key."))
    try:
        proof = [unhex(step, 0) for step in list_of(seen.newer["growth"])]
        size = whole(now["size"])
        grown = has_grown(seen.size, size, seen.root, unhex(now["root"], 32), proof)
    except (KeyError, TypeError, ValueError):
        return [*said, (FAILS, "The newer head comes with no proof that can be read.")]
    if not grown:
        told = f"The ledger of {size} events has not grown from this {seen.name}'s {seen.size}: its past was changed."
        return [*said, (FAILS, told)]
    return [*said, (HOLDS, f"The ledger of {size} events has grown from this {seen.name}'s {seen.size}.")]


CHECKS = (signature, key, head, entries, order, lines, growth)
OF_EVENTS = (entries, order, lines)


# --- in words ---------------------------------------------------------------------------------------------------------


def told(statement: Said) -> Iterator[str]:
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


def title(statement: Said) -> str:
    """What it is, in a few words."""
    if "events" not in statement:
        return f"Head of a ledger of {statement['head'].get('size', 'unknown')} events"
    return f"Custody statement of case {statement.get('printed') or statement.get('case')}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Check the file that is named; the exit code says how it went."""
    parser = argparse.ArgumentParser(
        description="Check a custody statement (PDF or JSON), or a head alone (a mail, JSON)."
    )
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
    lines = [title(statement), *(f"{verdict}: {sentence}" for verdict, sentence in said)]
    if "events" in statement:
        lines += ["What was recorded, to be compared with the paper:", *told(statement)]
    lines += ["Everything that was checked holds." if good else f"This {_name(statement)} DOES NOT HOLD."]
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
