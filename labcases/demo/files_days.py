"""Plays a list of recovered files: what the recordings of a choir looked like on the clone, and which open."""

from __future__ import annotations

import random
from collections.abc import Iterator

from labcases.bench.files import actions
from labcases.bench.files.models import FileList
from labcases.core import vault
from labcases.demo.days import Days

FOLDERS = (
    ("Recordings/{year}/{piece}/take {n}.wav", 90, 0.02),
    ("Recordings/{year}/{piece}/mix {n}.wav", 60, 0.33),
    ("Scores/{piece}/part {n}.pdf", 70, 0.61),
    ("Members/list {year} {n}.ods", 8, 0.64),
)
PIECES = ("Harbour Vespers", "Six Songs of Rain", "Winter Round", "The Ferryman", "Evensong in D")
COLUMNS = {"path": 0, "size": 1, "modified": 2, "extents": 3, "check": 4}
SAMPLES = ((0, "opened", "plays to its end"), (5, "broken", "silent after two minutes"), (155, "opened", "all pages"))


def play(days: Days) -> None:
    """The list as logical work wrote it, read at once; three samples; what the customer takes."""
    item, key = days.item("choir"), "choir"
    lines = ["path,size,modified,extents,check", *_lines(int(item.sectors or 0), days.dice)]
    data = ("\n".join(lines) + "\n").encode()
    how = {"columns": COLUMNS, "sector_bytes": 512, "letters": "", "separator": "/", "unit": "sectors"}
    how |= {"extent": "sectors", "base": 0, "checks": {}, "headers": lines[0].split(",")}
    about = {"file": vault.put(data), "size": len(data), "name": "files-on-the-clone.csv", "how": how}
    found: FileList = days.do(days.since(key, 0.9), actions.receive, item=item, **about)
    actions.read_list(found.pk)
    found.refresh_from_db()
    wanted = item.case.wanted.order_by("number")[0]
    about = {"wanted": wanted, "name": "all sound files", "pattern": "*.wav"}
    days.do(days.since(key, 0.91), actions.tie_wanted, found=found, **about)
    for row, outcome, words in SAMPLES:
        days.do(days.since(key, 0.93), actions.note_sample, found=found, row=row, outcome=outcome, words=words)
    days.do(days.since(key, 0.95), actions.take, found=found, taken=True, rows=range(90, 120))
    found.refresh_from_db()
    actions.derive(found)


def _lines(total: int, dice: random.Random) -> Iterator[str]:
    for pattern, many, share in FOLDERS:
        at = int(total * share)
        for n in range(1, many + 1):
            year, sectors = 2019 + n % 8, dice.randrange(200, 900_000)
            path = pattern.format(year=year, piece=PIECES[n % len(PIECES)], n=n)
            yield f"{path},{sectors * 512 - dice.randrange(500)},{year}-0{1 + n % 9}-14 19:30,{at}+{sectors},"
            at += sectors + dice.randrange(64, 9_000)
