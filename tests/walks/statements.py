"""Invented custody statements, good and bad, made from a seed: what two verifiers are held against each other with."""

from __future__ import annotations

import json
import random
import zlib
from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any, NamedTuple

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from labcases.custody import chain, signing
from labcases.custody.verifier.check_statement import FORM

Said = dict[str, Any]
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER_KEY = Ed25519PrivateKey.from_private_bytes(bytes(32))
CASE, OTHER_CASE = "26004172", "26004180"
THINGS = ["2600417AX", "2600417BY", "D00231Z", None]
NAMES = [
    "Sal Oriel",
    "Ida Vane-Ösk",
    "re\u0301seau",
    "ਸਲ ਓਰੀਅਲ",
    "𐐷 Lee",
    'quote " and \\ and \t',
    "x" * 70,
    "\x7f\u2028",
]


class Ledger:
    """A short ledger in memory: bodies, texts, and heads of any of its sizes."""

    def __init__(self, dice: random.Random) -> None:
        self.dice = dice
        self.bodies: list[bytes] = []
        self.texts: list[dict[str, tuple[bytes, str]]] = []
        last: dict[str | None, Said] = {}
        for _ in range(dice.randint(8, 40)):
            self._append(last)

    def _append(self, last: dict[str | None, Said]) -> None:
        thing = self.dice.choice(THINGS)
        was = last.get(thing, {"holder": None, "place": None})
        now = {"holder": None, "place": f"place:{self.dice.randint(1, 5)}"} if self.dice.random() < 0.6 else was
        last[thing] = now
        fields = ["by", *self.dice.sample(["because", "from", "to"], self.dice.randint(0, 3))]
        texts = {name: (self.dice.randbytes(32), self.dice.choice(NAMES)) for name in fields}
        own = thing and thing.startswith(CASE[:-1])
        body = {
            "sequence": len(self.bodies) + 1,
            "previous": chain.leaf_hash(self.bodies[-1]).hex() if self.bodies else "",
            "kind": "moved",
            "thing": thing,
            "case": CASE if own or self.dice.random() < 0.5 else OTHER_CASE,
            "happened": "2026-03-02T12:00:00.000000Z",
            "from": was,
            "to": now,
            "commitments": {name: chain.commitment(*_salt_name_text(name, kept)) for name, kept in texts.items()},
        }
        self.bodies.append(chain.canonical(body))
        self.texts.append(texts)

    def head(self, size: int, key: Ed25519PrivateKey = KEY) -> Said:
        made = signing.sign(key, size=size, root=chain.root(self.bodies[:size]).hex(), signed="2026-03-02T12:00:00Z")
        return dict(made.as_record())

    def statement(self) -> Said:
        size = len(self.bodies) - self.dice.choice([0, 0, 1, 3])
        events = [self._entry(n, size) for n in range(size) if json.loads(self.bodies[n])["case"] == CASE]
        return {"form": FORM, "case": CASE, "printed": "26-00417-2", "head": self.head(size), "events": events}

    def _entry(self, n: int, size: int) -> Said:
        return {
            "sequence": n + 1,
            "body": self.bodies[n].decode(),
            "texts": {name: {"salt": salt.hex(), "text": text} for name, (salt, text) in self.texts[n].items()},
            "proof": [step.hex() for step in chain.inclusion_proof(self.bodies[:size], n)],
        }

    def newer(self, since: int) -> Said:
        grown = [step.hex() for step in chain.consistency_proof(self.bodies, since)]
        return {"head": self.head(len(self.bodies)), "growth": grown}


def _salt_name_text(name: str, kept: tuple[bytes, str]) -> tuple[bytes, str, str]:
    return kept[0], name, kept[1]


# --- what is done to a statement --------------------------------------------------------------------------------------


def leave_as_it_is(said: Said, dice: random.Random) -> None:
    """Good ones must hold."""


def _some(said: Said, dice: random.Random) -> Said:
    found: Said = dice.choice(said["events"])
    return found


def erase_a_text(said: Said, dice: random.Random) -> None:
    _some(said, dice)["texts"].pop("by")


def change_a_name(said: Said, dice: random.Random) -> None:
    _some(said, dice)["texts"]["by"]["text"] += "e"


def change_a_salt(said: Said, dice: random.Random) -> None:
    _some(said, dice)["texts"]["by"]["salt"] = dice.choice(["00" * 32, "", "AA", "a", " aa"])


def change_a_body(said: Said, dice: random.Random) -> None:
    event = _some(said, dice)
    event["body"] = event["body"].replace("moved", "wiped")


def swap_two(said: Said, dice: random.Random) -> None:
    said["events"][0], said["events"][-1] = said["events"][-1], said["events"][0]


def cut_the_tail(said: Said, dice: random.Random) -> None:
    said["events"] = said["events"][: dice.randint(0, 2)]


def leave_one_out(said: Said, dice: random.Random) -> None:
    said["events"].remove(_some(said, dice))


def repeat_one(said: Said, dice: random.Random) -> None:
    said["events"].insert(0, deepcopy(_some(said, dice)))


def renumber_one(said: Said, dice: random.Random) -> None:
    _some(said, dice)["sequence"] = dice.choice([0, -1, True, "1", None, 10**9, 2**60])


def reuse_a_proof(said: Said, dice: random.Random) -> None:
    _some(said, dice)["proof"] = said["events"][0]["proof"]


def harm_a_proof(said: Said, dice: random.Random) -> None:
    _some(said, dice)["proof"] = dice.choice([[], ["00" * 32], ["00"], "00", [None], ["zz" * 32]])


def forge_the_signature(said: Said, dice: random.Random) -> None:
    said["head"]["signature"] = dice.choice(["00" * 64, "00", None, said["head"]["signature"].upper()])


def forge_the_head(said: Said, dice: random.Random) -> None:
    name = dice.choice(["root", "size", "signed", "key"])
    said["head"][name] = dice.choice(["00" * 32, 7, None, True, {}, "\ud800"])


def take_the_head_of_another_key(said: Said, dice: random.Random) -> None:
    head = said["head"]
    made = signing.sign(OTHER_KEY, size=head["size"], root=head["root"], signed=head["signed"])
    said["head"] = dict(made.as_record())


def claim_another_case(said: Said, dice: random.Random) -> None:
    said["case"] = dice.choice([OTHER_CASE, None, "", "2", 26])


def put_nonsense(said: Said, dice: random.Random) -> None:
    said["events"][0] = dice.choice(["nothing", None, [], {}, {"body": 1}, {"body": "[]"}, {"body": "\ud800"}])


def put_nonsense_deeper(said: Said, dice: random.Random) -> None:
    _some(said, dice)[dice.choice(["body", "texts", "proof", "sequence"])] = dice.choice([None, 1, "x", [], {}, [1]])


def forget_something(said: Said, dice: random.Random) -> None:
    where = dice.choice([said, said["head"], _some(said, dice)])
    where.pop(dice.choice([name for name in where if name != "form"]))


def rename_twice(said: Said, dice: random.Random) -> None:
    event = _some(said, dice)
    event["body"] = event["body"].replace("{", '{"kind":"wiped","kind":"moved",', 1)


HARMS: list[Callable[[Said, random.Random], None]] = [
    leave_as_it_is, erase_a_text, change_a_name, change_a_salt, change_a_body, swap_two, cut_the_tail, leave_one_out,
    repeat_one, renumber_one, reuse_a_proof, harm_a_proof, forge_the_signature, forge_the_head,
    take_the_head_of_another_key, claim_another_case, put_nonsense, put_nonsense_deeper, forget_something, rename_twice,
]  # fmt: skip


# --- as files ---------------------------------------------------------------------------------------------------------


class Sample(NamedTuple):
    """A file with what is chosen beside it, and what was done to it."""

    name: str
    data: bytes
    key: str
    newer: Said | None


def as_pdf(data: bytes, *, packed: bool) -> bytes:
    """The least that has the statement in a stream, between streams that hold something else."""
    streams = [zlib.compress(b"BT ET " * 50), zlib.compress(data) if packed else data, b"not packed"]
    written = [
        b"%d 0 obj\n<</Length %d>>\nstream\n%s\nendstream\nendobj\n" % (n, len(s), s) for n, s in enumerate(streams)
    ]
    return b"%PDF-1.7\n" + b"".join(written) + b"%%EOF"


def _flipped(data: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << dice.randrange(8)]) + data[at + 1 :]


def _newer(ledger: Ledger, said: Said, dice: random.Random) -> Said | None:
    since = said["head"].get("size")
    kind = dice.choice(["none", "none", "good", "good", "cut", "forged", "of another", "odd"])
    if kind == "none" or type(since) is not int or not 0 < since <= len(ledger.bodies):
        return None
    newer = ledger.newer(since)
    if kind == "cut":
        newer["growth"] = newer["growth"][:-1]
    elif kind == "forged":
        newer["head"]["root"] = "00" * 32
    elif kind == "of another":
        newer["head"] = Ledger(random.Random(since)).head(8)
    elif kind == "odd":
        newer = dice.choice([{}, {"head": []}, {"head": {}}, {"head": newer["head"]}, {**newer, "growth": [1]}])
    return newer


def samples(count: int) -> Iterator[Sample]:
    """The first ``count`` of an endless row; each harm comes round again and again with another ledger."""
    for n in range(count):
        dice = random.Random(n)
        ledger = Ledger(dice)
        said = ledger.statement()
        while not said["events"]:
            ledger = Ledger(dice)
            said = ledger.statement()
        harm = HARMS[n % len(HARMS)]
        harm(said, dice)
        data = json.dumps(said, ensure_ascii="\\ud8" in json.dumps(said) or dice.random() < 0.5).encode()
        name = harm.__name__
        if dice.random() < 0.5:
            data = as_pdf(data, packed=dice.random() < 0.8)
        if n >= len(HARMS) and dice.random() < 0.25:
            data, name = _flipped(data, dice), f"{name} and flip a bit"
        key = dice.choice(["", said.get("head", {}).get("key") or "", " " + signing.public_hex(KEY).upper(), "00" * 32])
        yield Sample(
            f"{n} {name}", data, key if isinstance(key, str) else "", _newer(ledger, {"head": {}, **said}, dice)
        )


# --- heads alone ------------------------------------------------------------------------------------------------------


def as_mail(head: Said) -> bytes:
    """A mail that carries the head, its header folded at every blank."""
    folded = json.dumps(head, separators=(", ", ": ")).replace(" ", "\r\n ")
    return f"Subject: Your files\r\nLedger-Head: {folded}\r\nTo: vale@example.com\r\n\r\nThey are ready.\r\n".encode()


def heads(count: int) -> Iterator[Sample]:
    """Heads in mails and as JSON, good and bad, with and without a newer one."""
    for n in range(count):
        dice = random.Random(1000 + n)
        ledger = Ledger(dice)
        said = {"head": ledger.head(dice.randint(1, len(ledger.bodies)))}
        newer = _newer(ledger, said, dice)
        harm = [leave_as_it_is, leave_as_it_is, forge_the_signature, forge_the_head, take_the_head_of_another_key][
            n % 5
        ]
        harm(said, dice)
        data = [as_mail(said["head"]), *(json.dumps(one).encode() for one in (said, said["head"]))][n // 5 % 3]
        if n % 11 == 10:
            data = data.replace(b"Ledger-Head: ", b"ledger-head: {}\nLedger-Head:")
        key = dice.choice(["", "", signing.public_hex(KEY), signing.public_hex(KEY), "00" * 32])
        yield Sample(f"{n} head, {harm.__name__}", data, key, newer)
