"""Plays what was read of a patient: uploads, heads, areas, a plan, progress; and one table that was taken back."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from labcases.bench.plan import STEPS
from labcases.bench.reading import actions, queries
from labcases.bench.reading.models import CoverageUpload
from labcases.bench.reading.parts import typed
from labcases.bench.spantable import How, read_table
from labcases.cases.models import Item
from labcases.demo.days import Days
from labcases.demo.readings import READ, WORDS, Night, Row, Told, bands, first_pass, second_pass

HOW = How(states=WORDS)
STEPS_A_NIGHT, EVERY = 9, timedelta(minutes=45)


def play(days: Days) -> None:
    for told in READ:
        Reader(days, told).play()


class Reader:
    """One patient, night by night."""

    def __init__(self, days: Days, told: Told) -> None:
        self.days, self.told = days, told
        self.item: Item = days.item(told.case, told.item)
        self.total = int(self.item.sectors or 0)
        self.holes: list[tuple[int, int]] = []
        self.noted: dict[int, list[actions.Noted]] = {}
        self.planned = False

    def play(self) -> None:
        told = self.told
        if told.heads:
            self._map_heads(self._at(0.01))
        if told.layout:
            parts = typed(told.layout, self.total)
            self._do(self._at(0.02), actions.keep_layout, kind="typed", parts=parts, source="as read from the clone")
        for line, name, shares in told.areas:
            self._tie(line, name, shares)
        for night in told.nights:
            if told.plan_at and night.share > told.plan_at and not self.planned:
                self._plan(night.number)
            self._read(night)
        actions.derive(self.item)
        self._note_progress()
        self._judge()

    def _at(self, share: float) -> datetime:
        return self.days.since(self.told.case, share)

    def _do(self, moment: datetime, verb: Any, **about: Any) -> Any:
        return self.days.do(moment, verb, item=self.item, **about)

    def _map_heads(self, moment: datetime) -> None:
        rows = bands(self.total, self.told.heads)
        data = "first,sectors,head\n" + "".join(f"{a},{n},{head}\n" for a, n, head in rows)
        firsts, sectors, heads = (np.array(column, np.int64) for column in zip(*rows, strict=True))
        about = {"firsts": firsts, "sectors": sectors, "heads": heads, "data": data.encode()}
        self._do(moment, actions.map_heads, name="heads-by-sector.csv", **about)

    def _tie(self, line: int, name: str, shares: Any) -> None:
        wanted = self.item.case.wanted.filter(number=line).first() if line else None
        spans = [(int(self.total * a), int(self.total * b) - int(self.total * a)) for a, b in shares]
        self._do(self._at(0.33), actions.tie_area, name=name, spans=spans, wanted=wanted)

    def _read(self, night: Night) -> None:
        """One table, kept as the bench machine wrote it."""
        rows = self._rows(night)
        if not rows:
            return
        name = f"pass-{night.number}-{self._at(night.share):%d-%b}.csv".lower()
        made = self._upload(night, rows, name)
        if night.withdrawn:
            moment = self._at(night.share + 0.02)
            self.days.do(moment, actions.withdraw_upload, upload=made, because=night.withdrawn)
            return
        self._count(night, sum(row[1] for row in rows))

    def _count(self, night: Night, sectors: int) -> None:
        """What the machine said of itself every three quarters of an hour of that night."""
        before = self.noted.setdefault(night.number, [])
        begun, over = before[-1].sectors if before else 0, self._at(night.share)
        for step in range(1, STEPS_A_NIGHT + 1):
            count = begun + sectors * step // STEPS_A_NIGHT
            at = over - EVERY * (STEPS_A_NIGHT - step)
            before.append(actions.Noted(at, count, night.number, wanted_bytes=count * 150))

    def _rows(self, night: Night) -> list[Row]:
        dice = self.days.dice
        if night.number == 1:
            rows = list(first_pass(self.told, night, self.total, dice))
            if not night.withdrawn:
                self.holes += [(first, sectors) for first, sectors, word, _ in rows if word == "later"]
            return rows
        begin, end = int(self.total * night.begin), int(self.total * night.end)
        return list(second_pass([hole for hole in self.holes if begin <= hole[0] < end], dice))

    def _upload(self, night: Night, rows: list[Row], name: str, **more: Any) -> CoverageUpload:
        data = "first,sectors,state,delay\n" + "".join(f"{a},{n},{word},{ms}\n" for a, n, word, ms in rows)
        names = ("first", "sectors", "state", "delay")
        columns = {key: [str(row[at]) for row in rows] for at, key in enumerate(names)}
        said = read_table(columns, HOW, total=self.total)
        ready = actions.prepare(said, data=data.encode(), name=name, source="table", how=asdict(HOW))
        about: dict[str, Any] = {"ready": ready, "pass_number": night.number, **more}
        made: CoverageUpload = self._do(self._at(night.share), actions.keep_upload, **about)
        return made

    def _plan(self, number: int) -> None:
        """What to read next, worked out from what was read so far."""
        self.planned = True
        actions.derive(self.item)
        read = queries.read_of(self.item)
        asked: dict[str, Any] = {"pass_number": number, "damage": ["outer"], "damage_spans": [], "only_wanted": False}
        asked |= {"tried": True, "steps": list(STEPS)}
        plan = queries.plan_of(read, asked)
        heads = {str(row.said.number): str(row.state) for row in read.head_rows}
        about = {"plan": plan, "asked": asked | {"heads": heads}, "derivation": read.derivation}
        self._do(self._at(self.told.plan_at), actions.keep_plan, **about)

    def _note_progress(self) -> None:
        for noted in self.noted.values():
            self._do(noted[-1].at, actions.note_progress, noted=noted)

    def _judge(self) -> None:
        """What an engineer says over what the numbers say."""
        told = self.told
        if told.verdict and told.weak is not None:
            self._do(self._at(0.58), actions.judge_head, head=told.weak, state="weak", because=told.verdict)
        if told.doubted:
            first = int(self.total * 0.08)
            night = Night(0.92, 2, 0.08, 0.09)
            self._upload(night, [(first, 24_000, "unsure", 0)], "two nights compared.csv", because=told.doubted)
            actions.derive(self.item)
