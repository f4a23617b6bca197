"""Where things are, and the line of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any

from django.conf import settings
from django.db.models import Count, Q

from labcases.core import codes
from labcases.custody import signing, tree, verify
from labcases.custody.kinds import KINDS
from labcases.custody.models import Event, EventText, Head, KeptHead, LedgerCheck, Thing, TreeNode
from labcases.custody.signing import SignedHead
from labcases.lab.models import Place

NEWEST = 12


@dataclass(frozen=True)
class Entry:
    """One event as people read it: what happened, from whom to whom, why, by whom."""

    sequence: int
    thing: str
    happened: datetime
    entered: datetime
    says: str
    was: str
    now: str
    because: str
    authority: str
    change: str
    by: str
    role: str
    corrects: int | None
    digest: str

    @property
    def late(self) -> bool:
        """Entered more than an hour after it happened: normal, and said."""
        return abs((self.entered - self.happened).total_seconds()) > 3600


def entries(events: Sequence[Event]) -> list[Entry]:
    """Events with their words, in two more queries."""
    texts: dict[int, dict[str, str]] = {event.sequence: {} for event in events}
    for sequence, field, text in EventText.objects.filter(sequence__in=texts).values_list("sequence", "field", "text"):
        texts[sequence][field] = text
    words = dict(Thing.objects.filter(code__in={e.thing_code for e in events}).values_list("code", "words"))
    return [_entry(event, texts[event.sequence], words.get(event.thing_code, "")) for event in events]


def _entry(event: Event, texts: dict[str, str], what: str) -> Entry:
    gaps = {"what": what or "It", "to": texts.get("to", ""), "because": texts.get("because", "")}
    return Entry(
        sequence=event.sequence,
        thing=event.thing_code,
        happened=event.happened,
        entered=event.entered,
        says=sentence(event.kind, **gaps),
        was=texts.get("from", ""),
        now=texts.get("to", ""),
        because=texts.get("because", ""),
        authority=texts.get("authority", ""),
        change=texts.get("change", ""),
        by=texts.get("by", "erased"),
        role=event.role,
        corrects=event.corrects,
        digest=event.digest,
    )


def sentence(kind: str, *, what: str, to: str, because: str) -> str:
    """How the day-book says an event."""
    said = KINDS[kind].says.format(what=what, to=to, because=because).rstrip(": ").strip()
    return said[:1].upper() + said[1:]


def line_of(thing: Thing) -> list[Entry]:
    """Every event of a thing, oldest first."""
    return entries(list(Event.objects.filter(thing_code=thing.code).defer("body").order_by("sequence")))


def line_of_case(case: Any) -> list[Entry]:
    """Every movement and touch of a case's things, oldest first, for its papers."""
    return entries(list(Event.objects.filter(case_code=case.code).defer("body").order_by("happened", "sequence")))


def events_of_case(code: str) -> list[Event]:
    """Every event of a case and of its own things, bodies and all, in the order of the ledger."""
    body = codes.case_body_of(code)
    near = Thing.objects.filter(code__startswith=body).values_list("code", flat=True)
    own = [thing for thing in near if codes.case_body_of(thing) == body]
    return list(Event.objects.filter(Q(case_code=code) | Q(thing_code__in=own)).order_by("sequence"))


def texts_of(events: Sequence[Event]) -> dict[int, list[EventText]]:
    """The words and names beside some events, by their numbers."""
    found: dict[int, list[EventText]] = {}
    for text in EventText.objects.filter(sequence__in=[event.sequence for event in events]).order_by("field"):
        found.setdefault(text.sequence, []).append(text)
    return found


@dataclass(frozen=True)
class WhereAllIs:
    """The front of Custody: how many things are where, and the newest movements."""

    places: list[Place]
    with_people: int
    outside: int
    unknown: int
    newest: list[Entry]


def where_all_is(request: Any) -> WhereAllIs:
    """A fixed number of queries, whatever the lab holds."""
    real = Thing.objects.exclude(kind=Thing.Kind.DOCKET)
    moves = [name for name, kind in KINDS.items() if kind.moves]
    newest = Event.objects.filter(kind__in=moves).defer("body").order_by("-sequence")[:NEWEST]
    return WhereAllIs(
        places=list(Place.objects.annotate(holds=Count("things")).filter(in_use=True).order_by("name")),
        with_people=real.exclude(staff=None).count(),
        outside=real.exclude(party=None).count(),
        unknown=real.filter(place=None, staff=None, party=None).count(),
        newest=entries(list(newest)),
    )


@dataclass(frozen=True)
class Standing:
    """What anybody may know of the ledger: its public key, its newest signed head, and when it was last checked."""

    key: str
    head: SignedHead | None
    check: LedgerCheck | None


def standing() -> Standing:
    """How the ledger stands now; the key is empty before the first event."""
    head = Head.objects.first()
    signed = head.as_signed() if head and head.sequence else None
    return Standing(signed.key if signed else _public_key(), signed, last_check())


def standing_for(request: Any) -> Standing:
    """The same, as a part of the front of Custody."""
    return standing()


def last_check() -> LedgerCheck | None:
    """The newest walk through the whole ledger."""
    return LedgerCheck.objects.first()


def failed_check() -> LedgerCheck | None:
    """The newest walk, when it found something; None when the ledger held or was never walked."""
    newest = last_check()
    return newest if newest and not newest.holds else None


@dataclass(frozen=True)
class CustodySection:
    """The custody part of a docket: each thing and where it is, and the line of events."""

    docket: str
    things: list[Thing]
    entries: list[Entry]


def section_of(case: Any) -> CustodySection:
    """Things of a case (its own, and stock that serves it) with their whereabouts."""
    events = list(Event.objects.filter(case_code=case.code).defer("body").order_by("happened", "sequence"))
    used = {event.thing_code for event in events if KINDS[event.kind].moves}
    things = Thing.objects.with_whereabouts().filter(code__in=used).exclude(kind=Thing.Kind.DOCKET)
    moves = [event for event in events if KINDS[event.kind].moves or event.kind in ("opened", "sealed", "seal-broken")]
    return CustodySection(codes.printed(case.code), list(things), entries(moves))


@dataclass(frozen=True)
class Verified:
    """What a walk through the whole ledger found; ``findings`` is empty when everything holds."""

    size: int
    root: str
    findings: list[verify.Finding]

    @property
    def holds(self) -> bool:
        return not self.findings


COLUMNS = {"kind": "kind", "thing": "thing_code", "case": "case_code", "by": "actor_ref", "role": "role"}
MOMENTS = ("happened", "entered", "corrects")
AT_A_TIME = 2_000


def verify_ledger(*, most: int = 50, progress: Callable[[int], None] | None = None) -> Verified:
    """Walk through every event and every head; stops collecting after ``most`` findings, never walking."""
    beside = signing.last_beside_key(settings.KEY_DIR)
    kept = [head.as_signed() for head in KeptHead.objects.order_by("size")]
    walk = verify.Walk()
    found: list[verify.Finding] = []
    sizes = [head.size for head in kept] + ([beside.size] if beside else [])
    for finding in verify.events(_rows(progress), walk, roots_at=sizes):
        if len(found) < most:
            found.append(finding)
    head = Head.objects.first()
    found += verify.head(walk, head.as_signed() if head else None)
    if head and head.key:
        found += verify.beside_key(walk, beside, _public_key() or head.key)
    found += verify.kept_heads(walk, kept)
    found += verify.nodes(stored_nodes, walk)
    found += _wrong_texts(most)
    return Verified(walk.size, walk.root, found[:most])


def _public_key() -> str:
    try:
        key = signing.load_key(settings.KEY_DIR, supplied=settings.LEDGER_KEY, make=False)
    except signing.KeyTrouble:
        return ""
    return signing.public_hex(key)


def _rows(progress: Callable[[int], None] | None) -> Iterator[verify.Row]:
    for n, event in enumerate(Event.objects.order_by("sequence").iterator(chunk_size=AT_A_TIME), 1):
        columns = {name: getattr(event, column) for name, column in COLUMNS.items()}
        columns |= {name: getattr(event, name) for name in MOMENTS}
        yield verify.Row(event.sequence, bytes(event.body), event.digest, columns)
        if progress and n % AT_A_TIME == 0:
            progress(n)


def _wrong_texts(most: int) -> list[verify.Finding]:
    """Texts beside the ledger that are not the ones it committed to."""
    found: list[verify.Finding] = []
    events = Event.objects.order_by("sequence").only("sequence", "body").iterator(chunk_size=AT_A_TIME)
    for some in _batches(events):
        texts: dict[int, dict[str, tuple[bytes, str]]] = {}
        for row in EventText.objects.filter(sequence__range=(some[0].sequence, some[-1].sequence)):
            texts.setdefault(row.sequence, {})[row.field] = (bytes(row.salt), row.text)
        for event in some:
            for name in verify.texts(bytes(event.body), texts.get(event.sequence, {})):
                words = f"The text kept for “{name}” is not the one the event committed to."
                found.append(verify.Finding(verify.TEXTS, event.sequence, words))
                if len(found) >= most:
                    return found
    return found


def _batches(events: Iterator[Event]) -> Iterator[list[Event]]:
    while some := list(islice(events, AT_A_TIME)):
        yield some


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


def prove(sequence: int, size: int) -> Proof:
    """That event ``sequence`` is in the tree of ``size`` events; reads about log2(size) rows."""
    nodes = stored_nodes(tree.nodes_for_inclusion(sequence - 1, size))
    path = tree.inclusion(sequence - 1, size, lambda node: bytes.fromhex(nodes[node]))
    return Proof(sequence, size, [step.hex() for step in path])


def prove_many(sequences: Sequence[int], size: int) -> dict[int, list[str]]:
    """The paths of ``prove`` for several events at once, hex, in two queries."""
    names = {node for sequence in sequences for node in tree.nodes_for_inclusion(sequence - 1, size)}
    nodes = stored_nodes(sorted(names))
    paths = {n: tree.inclusion(n - 1, size, lambda node: bytes.fromhex(nodes[node])) for n in sequences}
    return {n: [step.hex() for step in path] for n, path in paths.items()}


def prove_growth(earlier: int, later: int) -> list[str]:
    """That the ledger of ``later`` events only adds to that of ``earlier``, hex."""
    nodes = stored_nodes(tree.nodes_for_consistency(earlier, later))
    return [step.hex() for step in tree.consistency(earlier, later, lambda node: bytes.fromhex(nodes[node]))]
