"""Attacks on a real ledger by someone who owns the database and not the key. Each test names its detector.

The attacker takes the triggers away first, writes whatever table they like and knows how everything here is computed;
the one thing they cannot do is sign. Last come those who own the key too: only a head kept outside still tells.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.db import connection
from django.db.models import F, QuerySet

from labcases.custody import chain, queries, signing, tree, triggers
from labcases.custody.actions import keep_head
from labcases.custody.models import Event, EventText, Head, KeptHead, TreeNode
from labcases.custody.signing import SignedHead
from labcases.custody.verifier import check_statement
from labcases.custody.verify import BESIDE_KEY, CHAIN, COLUMNS, HEAD, KEPT, TEXTS, TREE
from labcases.updates.witnesses.models import HeadMail
from labcases.updates.witnesses.tasks import letter


@pytest.fixture
def ledger(make, settings, tmp_path: Path) -> int:
    """A ledger of some length, its last head beside its key; its size."""
    settings.KEY_DIR = tmp_path / "keys"
    make.case(items=3)
    make.case(items=2)
    _keep_beside_key(settings.KEY_DIR)
    assert found() == set()
    triggers.drop(connection)
    return Event.objects.count()


def _keep_beside_key(folder: Path) -> None:
    """What happens on commit; a test's transaction never commits."""
    signing.keep_beside_key(folder, Head.objects.get().as_signed())


def found() -> set[str]:
    return {finding.detector for finding in queries.verify_ledger().findings}


def first() -> tuple[str, int | None]:
    finding = queries.verify_ledger().findings[0]
    return finding.detector, finding.sequence


# --- the attacker's tools ---------------------------------------------------------------------------------------------


def table() -> QuerySet[Event]:
    """The events without the manager that refuses."""
    return QuerySet(Event)


def bodies() -> list[bytes]:
    return [bytes(event.body) for event in Event.objects.order_by("sequence")]


def put(sequence: int, body: bytes) -> None:
    table().filter(sequence=sequence).update(body=body, digest=chain.leaf_hash(body).hex())


def said(body: bytes, **changes: Any) -> bytes:
    return chain.canonical(json.loads(body) | changes)


def rebuild(history: list[bytes]) -> None:
    """Write a whole new history: numbers, predecessors, digests, columns, tree and head, all but the signature."""
    rows = list(Event.objects.order_by("sequence"))[: len(history)]
    table().delete()
    TreeNode.objects.all().delete()
    previous, peaks = "", []
    for n, (row, body) in enumerate(zip(rows, history, strict=True)):
        row.sequence, row.body = n + 1, said(body, sequence=n + 1, previous=previous)
        row.digest = previous = chain.leaf_hash(row.body).hex()
        row.kind = json.loads(row.body)["kind"]
        peaks, complete = tree.grown(n, peaks, bytes.fromhex(row.digest))
        TreeNode.objects.bulk_create([TreeNode(level=a, index=b, digest=d.hex()) for (a, b), d in complete])
    Event.objects.bulk_create(rows)
    root = tree.root_of_peaks(peaks).hex()
    Head.objects.update(sequence=len(rows), digest=previous, peaks=[p.hex() for p in peaks], root=root)


def sign_again(key: Ed25519PrivateKey) -> SignedHead:
    """Put a signature under the head as it stands."""
    head = Head.objects.get()
    made = signing.sign(key, size=head.sequence, root=head.root, signed=head.signed)
    Head.objects.update(signature=made.signature, key=made.key)
    return made


def forged(kind: str = "refused") -> list[bytes]:
    """A history in which the second event is another."""
    history = bodies()
    return [history[0], said(history[1], kind=kind), *history[2:]]


# --- without the key --------------------------------------------------------------------------------------------------


def test_the_chain_finds_one_changed_byte_of_a_body(ledger):
    body = bodies()[2]
    at = body.index(b'"role"') + 8
    table().filter(sequence=3).update(body=body[:at] + bytes([body[at] ^ 1]) + body[at + 1 :])
    assert first() == (CHAIN, 3)
    assert HEAD in found()


def test_the_chain_finds_two_swapped_events(ledger):
    second, third = bodies()[1:3]
    table().filter(sequence=3).update(digest="x")
    put(2, third)
    put(3, second)
    assert first() == (CHAIN, 2)


def test_the_signed_head_finds_that_the_last_event_is_deleted(ledger):
    table().filter(sequence=ledger).delete()
    assert {HEAD, BESIDE_KEY} <= found()
    assert CHAIN not in found()


def test_the_chain_finds_an_event_deleted_in_the_middle_with_the_rest_renumbered(ledger):
    table().filter(sequence=3).delete()
    for sequence in range(4, ledger + 1):
        table().filter(sequence=sequence).update(sequence=F("sequence") - 1)
    assert first() == (CHAIN, 3)


def test_the_signed_head_finds_a_deletion_whose_chain_was_mended_too(ledger):
    history = bodies()
    rebuild([*history[:2], *history[3:]])
    assert CHAIN not in found()
    assert {HEAD, BESIDE_KEY} <= found()


def test_the_signed_head_finds_a_forged_event_at_the_end(ledger):
    last = Event.objects.get(sequence=ledger)
    body = said(bytes(last.body), sequence=ledger + 1, previous=last.digest)
    last.pk, last.body, last.digest = ledger + 1, body, chain.leaf_hash(body).hex()
    Event.objects.bulk_create([last])
    assert found() - {TREE} == {HEAD}


@pytest.mark.parametrize(
    ("column", "value"),
    [("kind", "wiped"), ("thing_code", "X"), ("case_code", "X"), ("actor_ref", "X"), ("role", "auditor")],
)
def test_the_column_check_finds_a_column_that_says_otherwise_than_an_intact_body(ledger, column, value):
    table().filter(sequence=2).update(**{column: value})
    assert first() == (COLUMNS, 2)
    assert found() == {COLUMNS}


@pytest.mark.parametrize("column", ["happened", "entered"])
def test_the_column_check_finds_a_moved_moment(ledger, column, noon):
    table().filter(sequence=2).update(**{column: noon.replace(year=2020)})
    assert found() == {COLUMNS}


def test_the_column_check_finds_a_correction_that_was_never_made(ledger):
    table().filter(sequence=2).update(corrects=1)
    assert found() == {COLUMNS}


def test_the_signed_head_finds_a_new_history_of_the_whole_ledger(ledger):
    rebuild(forged())
    assert found() == {HEAD, BESIDE_KEY}


def test_the_head_beside_the_key_finds_a_new_history_under_a_key_of_the_attackers_own(ledger):
    rebuild(forged())
    sign_again(Ed25519PrivateKey.from_private_bytes(b"a" * 32))
    assert found() == {BESIDE_KEY}


def test_nothing_more_is_recorded_under_a_key_of_the_attackers_own(ledger, make):
    sign_again(Ed25519PrivateKey.from_private_bytes(b"a" * 32))
    with pytest.raises(signing.KeyTrouble, match="not the one the ledger was begun with"):
        make.case()


def test_the_signed_head_finds_a_tail_that_was_cut_off(ledger):
    rebuild(bodies()[:3])
    assert found() == {HEAD, BESIDE_KEY}


def test_the_head_beside_the_key_finds_a_database_rolled_back_to_yesterday(ledger, make, settings):
    """An older file is whole in itself, signature and all: only what lies outside it tells."""
    yesterday = Head.objects.get()
    make.case()
    _keep_beside_key(settings.KEY_DIR)
    table().filter(sequence__gt=ledger).delete()
    TreeNode.objects.all().delete()
    rebuild(bodies())
    yesterday.save()
    assert found() == {BESIDE_KEY}
    assert "cut or rolled back" in queries.verify_ledger().findings[0].sentence


def test_a_kept_head_finds_a_new_history_even_where_nothing_lies_beside_the_key(ledger, settings):
    keep_head(because="daily")
    rebuild(forged())
    sign_again(signing.load_key(settings.KEY_DIR))
    (settings.KEY_DIR / signing.LAST_HEAD_FILE).unlink()
    assert found() == {KEPT, BESIDE_KEY}


@pytest.mark.parametrize("change", [{"text": "Somebody Else"}, {"salt": b"t" * 32}, {"salt": b""}], ids=str)
def test_the_texts_check_finds_a_changed_name(ledger, change):
    EventText.objects.filter(sequence=2, field="by").update(**change)
    assert found() == {TEXTS}
    assert first() == (TEXTS, 2)


def test_an_erased_name_is_no_tampering(ledger):
    EventText.objects.filter(sequence=2).delete()
    assert found() == set()


@pytest.mark.parametrize("harm", [lambda nodes: nodes.delete(), lambda nodes: nodes.update(digest="00" * 32)])
def test_the_tree_check_finds_a_stored_subtree_that_is_gone_or_changed(ledger, harm: Callable[[Any], Any]):
    top = max(node for node in tree.peaks(ledger))
    harm(TreeNode.objects.filter(level=top[0], index=top[1]))
    assert found() == {TREE}


def test_a_proof_of_another_event_proves_nothing(ledger):
    """Reused from another case, or for another place in the ledger."""
    root = bytes.fromhex(Head.objects.get().root)
    proofs = {n: [bytes.fromhex(step) for step in queries.prove(n, ledger).path] for n in (1, 2)}
    leaves = {n: chain.leaf_hash(bodies()[n - 1]) for n in (1, 2)}
    judged = [
        chain.verify_inclusion(leaves[leaf], at - 1, ledger, proofs[proof], root)
        for leaf, at, proof in [(1, 1, 1), (2, 2, 2), (1, 1, 2), (1, 2, 2), (2, 2, 1)]
    ]
    assert judged == [True, True, False, False, False]


# --- with the key too -------------------------------------------------------------------------------------------------


@pytest.fixture
def forgery(ledger, settings) -> SignedHead:
    """Whoever owns the key as well writes a whole new past and signs it; gives the head a witness kept before."""
    witness = keep_head(because="sent to a witness").as_signed()
    rebuild(forged())
    made = sign_again(signing.load_key(settings.KEY_DIR))
    signing.keep_beside_key(settings.KEY_DIR, made)
    (settings.KEY_DIR / signing.LAST_HEAD_FILE).write_text(json.dumps(made.as_record()))
    KeptHead.objects.all().delete()
    return witness


def test_whoever_owns_the_key_too_deceives_every_check_inside(forgery):
    """Said plainly in DEVELOPERS.md: nothing that lies in the house can tell."""
    assert found() == set()


def test_a_head_kept_outside_finds_the_forgery_of_whoever_owns_the_key(forgery, make):
    """The customer's paper, a mail to a witness: its root is not the root at that size any more."""
    assert forgery.holds()
    make.case()
    now = Head.objects.get().as_signed()
    assert now.holds()
    assert now.key == forgery.key
    proof = [bytes.fromhex(step) for step in queries.prove_growth(forgery.size, now.size)]
    roots = bytes.fromhex(forgery.root), bytes.fromhex(now.root)
    assert not chain.verify_consistency(forgery.size, now.size, *roots, proof)


def test_a_witnesss_mail_finds_that_forgery_with_the_program_anybody_can_run(forgery, make, client):
    """Detector: the outside witness. The mail as it was kept, and what the lab's own page gives out now."""
    row = HeadMail(head=KeptHead(**forgery.as_record(), because="sent to witnesses"), to="notary@example.com", pk=1)
    kept = letter(row).message().as_bytes()
    make.case()
    newer = client.get(f"/custody/public-key/?format=json&since={forgery.size}").json()
    said = check_statement.check(check_statement.read(kept), forgery.key, newer)
    failed = [sentence for verdict, sentence in said if verdict == check_statement.FAILS]
    assert len(failed) == 1
    assert failed[0].endswith(f"has not grown from this head's {forgery.size}: its past was changed.")


def test_a_witnesss_mail_is_at_peace_with_an_honest_ledger(ledger, make, client):
    """The control of the test before."""
    head = Head.objects.get().as_signed()
    row = HeadMail(head=KeptHead(**head.as_record(), because="sent to witnesses"), to="notary@example.com", pk=1)
    kept = letter(row).message().as_bytes()
    make.case()
    newer = client.get(f"/custody/public-key/?format=json&since={head.size}").json()
    said = check_statement.check(check_statement.read(kept), head.key, newer)
    assert {verdict for verdict, _ in said} == {check_statement.HOLDS}
    assert any("has grown from this head's" in sentence for _, sentence in said)


def test_an_honest_ledger_grows_from_the_head_kept_outside(ledger, make):
    """The control of the test before."""
    witness = Head.objects.get().as_signed()
    make.case()
    now = Head.objects.get().as_signed()
    proof = [bytes.fromhex(step) for step in queries.prove_growth(witness.size, now.size)]
    roots = bytes.fromhex(witness.root), bytes.fromhex(now.root)
    assert chain.verify_consistency(witness.size, now.size, *roots, proof)
