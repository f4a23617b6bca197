"""The ledger at a thousand events and at a million: appending, verifying, proving, and printing a statement.

    python tests/load/bench_custody.py            1,000,000 events, some minutes
    python tests/load/bench_custody.py --smoke    20,000 events, the same limits

* appending: medians of as many real moves at each size, one here, one there: at most 1.5 times as long;
* verifying: at most twice a loop that reads the same rows, parses each body and hashes it twice, in flat memory;
* a proof: at most 25 rows are read;
* a statement of 200 events: at most 1.3 times what WeasyPrint takes for the same page without attachments.

Two processes hold a lab each, so that neither warms the other. The events are written in bulk and are a ledger like
any other: chained, with their tree, one text each, and a signed head. Ends with 1 above a limit.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")

SMALL = 1_000
APPEND, VERIFY, MEMORY, ROWS, STATEMENT = 1.5, 2.0, 32, 25, 1.3  # memory in MB, rows of one proof, the rest ratios
IN_STATEMENT = 200  # events
WHO = "5e1f0c6e-8d1c-4a40-9d8e-2f3f5a1b7c11"


# --- a lab, in a process of its own -----------------------------------------------------------------------------------


def body_of(n: int, previous: str, commitment: str) -> bytes:
    """A movement, spelled as the ledger spells it; a tenth of the work of spelling it anew each time."""
    moment = f"2026-03-{1 + n // 86_400 % 28:02}T{n // 3600 % 24:02}:{n // 60 % 60:02}:{n % 60:02}.000000Z"
    before, after = (f'{{"holder":null,"place":"place:{(n + step) % 7}"}}' for step in (0, 1))
    return (
        f'{{"by":"{WHO}","case":"{case_of(n)}","commitments":{{"by":"{commitment}"}},"corrects":null,'
        f'"entered":"{moment}","from":{before},"happened":"{moment}","kind":"moved","previous":"{previous}",'
        f'"role":"engineer","seals":[],"sequence":{n},"thing":"{case_of(n)}A","to":{after},"version":1}}'
    ).encode()


def case_of(n: int) -> str:
    return f"25{n // 40:07}X"


def rows_up_to(size: int, head: Any) -> Iterator[tuple[tuple[Any, ...], tuple[Any, ...], list[tuple[Any, ...]]]]:
    """Event, text and finished tree nodes of each further event; ``head`` is brought along."""
    from labcases.custody import chain, tree

    peaks = [bytes.fromhex(peak) for peak in head.peaks]
    dice = random.Random(1)
    for n in range(head.sequence + 1, size + 1):
        salt = dice.randbytes(32)
        data = body_of(n, head.digest, chain.commitment(salt, "by", "Sal Oriel"))
        leaf = digest = chain.leaf_hash(data)
        nodes, level, index = [], 0, n - 1
        while index & 1:
            digest = chain.node_hash(peaks.pop(), digest)
            level, index = level + 1, index // 2
            nodes.append((level, index, digest.hex()))
        peaks.append(digest)
        head.sequence, head.digest = n, leaf.hex()
        moment = data[(at := data.index(b'"entered":"') + 11) : at + 26].decode().replace("T", " ")
        event = (n, data, head.digest, "moved", f"{case_of(n)}A", case_of(n), WHO, "engineer", moment, moment, None)
        yield event, (n, "by", salt, "Sal Oriel"), nodes
    head.peaks, head.root = [peak.hex() for peak in peaks], tree.root_of_peaks(peaks).hex()


def fill(size: int) -> None:
    """Bring the ledger to so many events."""
    from django.conf import settings
    from django.db import connection, transaction

    from labcases.custody import signing, triggers
    from labcases.custody.models import Event, EventText, Head, TreeNode

    def writer(model: Any, *names: str) -> Callable[[list[tuple[Any, ...]]], Any]:
        fields = [model._meta.get_field(name).column for name in names]
        gaps = ", ".join("?" * len(fields))
        quoted = ", ".join(f'"{column}"' for column in fields)
        sql = f"INSERT INTO {model._meta.db_table} ({quoted}) VALUES ({gaps})"  # noqa: S608 our own names
        return lambda rows: connection.connection.executemany(sql, rows)

    columns = ("kind", "thing_code", "case_code", "actor_ref", "role", "happened", "entered", "corrects")
    tables = (
        writer(Event, "sequence", "body", "digest", *columns),
        writer(EventText, "sequence", "field", "salt", "text"),
        writer(TreeNode, "level", "index", "digest"),
    )
    head = Head.objects.get()
    triggers.drop(connection)
    connection.cursor().execute("PRAGMA cache_size=-400000")
    connection.cursor().execute("PRAGMA synchronous=OFF")
    with transaction.atomic():
        kept: tuple[list[Any], list[Any], list[Any]] = ([], [], [])
        for event, text, nodes in rows_up_to(size, head):
            kept[0].append(event)
            kept[1].append(text)
            kept[2].extend(nodes)
            if len(kept[0]) == 10_000 or event[0] == size:
                for write, rows in zip(tables, kept, strict=True):
                    write(rows)
                    rows.clear()
        key = signing.load_key(settings.KEY_DIR, supplied=settings.LEDGER_KEY)
        made = signing.sign(key, size=head.sequence, root=head.root, signed="2026-03-30T12:00:00.000000Z")
        head.signed, head.signature = made.signed, made.signature
        head.save()
    triggers.install(connection)
    signing.keep_beside_key(settings.KEY_DIR, made)
    connection.close()  # the next connection has the settings of a lab again


class Lab:
    """What the parent asks for, by name."""

    def __init__(self) -> None:
        from tests.builders import NOON, Make

        self.make, self.noon = Make(), NOON

    def begin(self, size: int) -> int:
        """Migrate, take a case in, and fill the ledger up; gives how many events there are."""
        from labcases.custody.models import Event, Thing
        from tests.load.tables import make_tables

        make_tables()
        if not Event.objects.exists():
            self.make.profile()
            self.make.place(name="Shelf A1"), self.make.place(name="Shelf A2")
            self.make.case(), self.make.case()  # one is moved about, of the other a statement is printed
        fill(size)
        from labcases.lab.models import Actor, Place, Staff
        from labcases.lab.roles import Role

        self.docket = Thing.objects.filter(kind=Thing.Kind.DOCKET).order_by("pk").last()
        self.thing, self.other = Thing.objects.filter(kind=Thing.Kind.PATIENT).order_by("pk")
        self.places = list(Place.objects.filter(name__startswith="Shelf"))
        self.by = Actor(Staff.objects.order_by("pk").last(), Role.MANAGER)
        return Event.objects.count()

    def append(self, *, other: bool = False) -> float:
        """Seconds of one real move, committed."""
        from labcases.custody.actions import case_of, move

        self.places.reverse()
        began = time.perf_counter()
        thing = self.other if other else self.thing
        move(thing=thing, to=self.places[0], by=self.by, happened=self.noon, case=case_of(thing))
        return time.perf_counter() - began

    def verify(self) -> tuple[float, float, float]:
        """Seconds of work for verifying and of the bare loop, and by how many MB memory grew meanwhile."""
        from labcases.custody.proofs import queries

        before, peak = memory(), 0.0

        def look(_: int) -> None:
            nonlocal peak
            peak = max(peak, memory())

        began = time.process_time()
        found = queries.verify_ledger(progress=look)
        middle = time.process_time()
        assert found.holds, found.findings
        assert bare_loop() == found.size
        return middle - began, time.process_time() - middle, max(peak - before, 0.0)

    def proofs(self, count: int) -> int:
        """The most rows that one proof reads, of many."""
        from labcases.custody import chain
        from labcases.custody.models import Event, Head
        from labcases.custody.proofs import queries

        stored, most = queries.stored_nodes, 0

        def counted(names: Any) -> Any:
            nonlocal most
            found = stored(names)
            most = max(most, len(found) + 1)  # and the head
            return found

        queries.stored_nodes = counted
        head = Head.objects.get()
        size, root = head.sequence, bytes.fromhex(head.root)
        for n in [1, 2, size - 1, size, *random.Random(2).choices(range(1, size + 1), k=count)]:
            path = [bytes.fromhex(step) for step in queries.prove(n, size).path]
            leaf = bytes.fromhex(Event.objects.get(sequence=n).digest)
            assert chain.verify_inclusion(leaf, n - 1, size, path, root), n
        queries.stored_nodes = stored
        return most

    def statement(self, rounds: int) -> tuple[float, float, int]:
        """Medians of seconds: the statement printed, and its page set without attachments; and its events."""
        from django.db.models import QuerySet
        from django.utils import timezone

        from labcases.custody import papers as statements
        from labcases.custody.queries import events_of_case
        from labcases.paper import papers, render
        from labcases.paper.models import Paper

        while len(events_of_case(self.docket.code)) < IN_STATEMENT:
            self.append(other=True)
        pages: list[str] = []
        papers.to_pdf = lambda html, **more: pages.append(html) or render.to_pdf(html, **more)  # type: ignore[func-returns-value]
        whole, bare = [], []
        for _ in range(rounds + 1):  # the first warms up
            QuerySet(Paper).delete()  # else it is the same paper again
            began = time.process_time()
            statements.print_statement(self.docket, by=self.by, issued=timezone.now())
            middle = time.process_time()
            render.to_pdf(pages[-1], issued=self.noon)
            whole.append(middle - began)
            bare.append(time.process_time() - middle)
        return statistics.median(whole[1:]), statistics.median(bare[1:]), len(events_of_case(self.docket.code))


def bare_loop() -> int:
    """The yardstick: the same rows, each body parsed and hashed twice."""
    from labcases.custody import chain
    from labcases.custody.proofs import queries

    seen = 0
    for batch in queries.batches():
        queries._texts_of(batch)
        for _, body, *_ in batch:
            json.loads(body)
            chain.leaf_hash(body)
            chain.leaf_hash(body)
            seen += 1
    return seen


def memory() -> float:
    """MB of this process that are no file's."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("RssAnon:"):
            return int(line.split()[1]) / 1024
    raise SystemExit("This machine does not say how much memory a process holds.")


def serve() -> int:
    """Answer the parent's questions, one a line."""
    import django

    django.setup()
    lab = Lab()
    for line in sys.stdin:
        name, *arguments = json.loads(line)
        answer = getattr(lab, name)(*arguments)
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()
    return 0


# --- the parent -------------------------------------------------------------------------------------------------------


class Far:
    """A lab in another process."""

    def __init__(self, folder: Path) -> None:
        from labcases.ops.suite import clean_environment

        environ = {**clean_environment(os.environ), "DATA_DIR": str(folder)}
        words = [sys.executable, __file__, "--serve"]
        self.process = subprocess.Popen(words, env=environ, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def ask(self, name: str, *arguments: Any) -> Any:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps([name, *arguments]) + "\n")
        self.process.stdin.flush()
        if answer := self.process.stdout.readline():
            return json.loads(answer)
        raise SystemExit(f"The lab in the other process gave up over {name}.")

    def end(self) -> None:
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait(timeout=60)


class Limits:
    """Prints each number beside its limit and remembers whether all were kept."""

    def __init__(self) -> None:
        self.kept = True

    def judge(self, words: str, value: float, limit: float) -> None:
        kept = value <= limit
        self.kept = self.kept and kept
        print(f"{words}: {value:.2f} (limit {limit}){'' if kept else '  ABOVE'}", flush=True)  # noqa: T201


def measure(small: Far, large: Far, size: int, rounds: int, appends: int) -> bool:
    limits = Limits()
    at_small, at_large = [], []
    for _ in range(appends):
        at_small.append(small.ask("append"))
        at_large.append(large.ask("append"))
    here, there = statistics.median(at_small), statistics.median(at_large)
    words = f"append at {size:,} events {there * 1000:.2f} ms, at {SMALL:,} {here * 1000:.2f} ms, ratio"
    limits.judge(words, there / here, APPEND)
    times = [large.ask("verify") for _ in range(rounds)]
    verified, bare = min(t[0] for t in times), min(t[1] for t in times)
    limits.judge(f"verify {size:,} events {verified:.1f} s, bare loop {bare:.1f} s, ratio", verified / bare, VERIFY)
    limits.judge("memory that verifying adds, MB", max(t[2] for t in times), MEMORY)
    limits.judge(f"rows read for a proof at {size:,} events, the most of many", large.ask("proofs", 500), ROWS)
    whole, page, events = large.ask("statement", rounds + 2)
    words = f"statement of {events} events {whole:.2f} s, its page alone {page:.2f} s, ratio"
    limits.judge(words, whole / page, STATEMENT)
    return limits.kept


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true")
    parser.add_argument("--serve", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.serve:
        return serve()
    size, rounds, appends = (20_000, 1, 100) if asked.smoke else (1_000_000, 2, 2_000)
    with tempfile.TemporaryDirectory(prefix="labcases-ledger-") as folder:
        first, second = Path(folder) / "small", Path(folder) / "large"
        begun = Far(first)
        begun.ask("begin", SMALL)
        begun.end()
        shutil.copytree(first, second)
        small, large = Far(first), Far(second)
        try:
            small.ask("begin", SMALL)
            began = time.perf_counter()
            large.ask("begin", size)
            print(f"{size:,} events written in bulk in {time.perf_counter() - began:.0f} s", flush=True)  # noqa: T201
            kept = measure(small, large, size, rounds, appends)
        finally:
            small.end()
            large.end()
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
