"""Plays one story through the real actions, step by step, each at its own moment."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from labcases.bench import actions as bench
from labcases.cases import actions as counter
from labcases.cases.intake import NewItem, Signed, Told, WantedLine
from labcases.cases.models import Case
from labcases.cases.pads.models import ReservedCode
from labcases.cases.scans.actions import keep_signed_paper
from labcases.cases.scans.judging import judge as judge_scan
from labcases.cases.stages import EXITS, Stage
from labcases.custody import actions as custody
from labcases.custody.photos import actions as photos
from labcases.custody.photos.pictures import take_in
from labcases.demo import stock
from labcases.demo.bench_hand import KEPT, AtTheBench
from labcases.demo.clock import set_to
from labcases.demo.people import TERMS
from labcases.demo.pictures import label_photo, signed_form
from labcases.demo.stories import WAY, Story
from labcases.handover.actions import due_back, hand_over
from labcases.lab.models import Place
from labcases.office import actions as office
from labcases.office.queries import balance_of
from labcases.people.models import Party
from labcases.updates.actions import note_call, send_update
from labcases.updates.tasks import send_waiting

DAYS_WITH_PHOTOS = 30  # photographs of older cases would only make the demo slow to load
# How a reseller's things go back: the parcel is on its way until somebody says that it came.
POSTED: dict[str, Any] = {
    "manner": "posted", "carrier": "Grey Goose Post", "tracking": "GG-4410-2917", "proof": "tracked",
    "seals": ["QM-004502"],
}  # fmt: skip
FAMILY = {row[0]: row for row in stock.FAMILIES}


class Player(AtTheBench):
    """One story. ``start`` is when it begins; every step comes some hours after the one before, and never after now."""

    def play(self, story: Story, *, owner: Party, reseller: Party) -> Case:
        """Everything this story tells, up to the stage it stops at."""
        self.step(self._take_in, story, owner, reseller)
        far = WAY.index(story.until) if story.until in WAY else self._before_exit(story)
        steps = (None, self._examine, self._quote, self._accept, self._work, self._check, self._ready, self._hand_over)
        if story.until != "expected":
            for verb in steps[1 : far + 1]:
                if verb:
                    self.step(verb, story)
        if story.until in EXITS:
            self.step(self._exit, story)
        if story.until == "handed over" and self.moment + KEPT < self.now():
            self._wipe(story)
        if story.stop:
            self.step(self._dispute, story)
        return self.case

    def step(self, verb: Callable[..., Any], *args: Any) -> None:
        """One step, some working hours later."""
        if self.case is not None:
            self.moment = min(self._some_hours_later(), self.now() - timedelta(minutes=5))
        with set_to(self.moment, timezone):
            verb(*args)

    def _some_hours_later(self) -> datetime:
        """Later in the day, or in the morning of one of the next days: nobody works at night."""
        later = self.moment + timedelta(hours=self.dice.randrange(2, 5), minutes=self.dice.randrange(60))
        if later.hour < 18 and self.dice.random() < 0.4:
            return later
        morning = later.replace(hour=8, minute=0) + timedelta(minutes=self.dice.randrange(240))
        return morning + timedelta(days=self.dice.randint(1, 2))

    @staticmethod
    def _before_exit(story: Story) -> int:
        """How far it went before it left the way."""
        if story.until == "declined" or (story.until == "abandoned" and story.price):
            return WAY.index("quoted")
        return WAY.index("examined") if story.until == "unrecoverable" else 0

    def _take_in(self, story: Story, owner: Party, reseller: Party) -> None:
        told = Told(
            stories=[story.happened],
            story=story.words,
            tried=[story.tried],
            powered_since="yes" if story.tried == "software" else "",
            wanted=[
                WantedLine(what, urgent=n == 0 and story.urgency != "normal") for n, what in enumerate(story.wanted)
            ],
            locks=story.locks,
        )
        about: dict[str, Any] = {
            "owner": owner,
            "items": [
                replace(self._item(story, *item), slot=str(n) if story.slots else "")
                for n, item in enumerate(story.items)
            ],
            "by": self.staff["counter"],
            "happened": self.moment,
            "told": None if story.unfinished else told,
            "urgency": story.urgency,
            "promised": (self.moment + timedelta(days=story.promise)).date(),
        }
        if story.reseller:
            about |= {"bearer": reseller, "payer": reseller, "letterhead": False, "reference": "SOL-2291"}
        if story.until == "expected":
            self.case = counter.expect(**about)
            return
        if story.sheet:
            about["reserved"] = ReservedCode.objects.waiting().order_by("sheet").first()
        signed = Signed(signed_by=owner.name, may_open=story.may_open, spending_limit=6_000)
        about |= {
            "signed": None if story.unfinished else signed,
            "accessories": [(words, 1) for words in story.with_it],
        }
        self.case = counter.log_drive(**about)
        if story.ago < DAYS_WITH_PHOTOS:
            self._photograph()
        self._put_away()
        if story.scanned:
            self._scan(owner)

    def _item(self, story: Story, kind: str, words: str, behaves: str) -> NewItem:
        marks, behaviours = ([] if story.unfinished else [story.marks]), behaves.split("+")
        if words not in FAMILY:
            maker, _, model = words.partition(" ")
            serial = f"{maker[:1]}{self.dice.randrange(10**8):08d}" if words else ""
            return NewItem(
                kind=kind,
                maker=maker,
                model=model,
                serial=serial,
                sectors=stock.sectors_of(kind, model),
                sector_bytes=512,
                marks=marks,
                behaviours=behaviours,
            )
        _, maker, model, _, heads, _, sectors, board, firmware = FAMILY[words]
        return NewItem(
            kind=kind,
            maker=maker,
            model=f"{model}-{self.dice.randint(1, 4)}M",
            serial=f"{maker[0]}W{heads}{self.dice.randrange(10**7):07d}",
            firmware=self.dice.choice(firmware),
            sectors=sectors,
            sector_bytes=512,
            board_number=board,
            marks=marks,
            behaviours=behaviours,
        )

    def _photograph(self) -> None:
        """The label of each item that has one, as the clerk takes it."""
        for item in self.items:
            if not item.serial:
                continue
            lines = [
                item.maker or "no name",
                item.model,
                item.get_kind_display(),
                item.firmware and f"FW {item.firmware}",
            ]
            picture = label_photo([line for line in lines if line], serial=item.serial, dice=self.dice)
            kept = photos.keep(take_in(picture), picture)
            photos.photograph(
                thing=item.thing, kept=[kept], by=self.staff["counter"], happened=self.moment, words="label"
            )

    def _scan(self, owner: Party) -> None:
        """The form that was signed on paper."""
        lines = [f"Terms of the lab, case {self.case}", "", *TERMS.splitlines(), "", f"Signed: {owner.name}"]
        scan = judge_scan(signed_form([line[:88] for line in lines], dice=self.dice))
        keep_signed_paper(case=self.case, scan=scan, by=self.staff["counter"], happened=self.moment)

    def _put_away(self) -> None:
        shelf = self.dice.choice(list(Place.objects.filter(kind=Place.Kind.SHELF)))
        things = [item.thing for item in self.items] + [a.thing for a in self.case.accessories.select_related("thing")]
        custody.move_all(things=things, to=shelf, by=self.staff["counter"], happened=self.moment)

    def _quote(self, story: Story) -> None:
        lines = [("Labour", story.price), ("Delivery medium", 5_400)]
        success = f"{story.wanted[0]}, nine tenths of the files whole"
        case, manager = self.case, self.staff["manager"]
        office.send_quote(case=case, lines=lines, tax_rate=2000, success=success, by=manager, happened=self.moment)
        self._write(
            "examined", "What we found, and what it costs", f"{story.found}\n\nThe quote is on its way with this mail."
        )

    def _accept(self, story: Story) -> None:
        quote = self.case.quotes.get(state="sent")
        office.accept_quote(
            quote=quote, who=self.case.payer.name, how="by mail", by=self.staff["counter"], happened=self.moment
        )

    def _ready(self, story: Story) -> None:
        for item in self.items:
            if item.stage == Stage.CHECKED:
                bench.make_ready(item=item, by=self.staff["engineer"], happened=self.moment)
        self._write(
            "ready", "Your files are ready", "Everything we could recover is on its medium. You can collect it any day."
        )

    def _hand_over(self, story: Story) -> None:
        if any(item.stage not in (Stage.READY, *EXITS) for item in self.items):
            return
        if (owed := balance_of(self.case)) > 0:
            self._settle(owed)
        items = {item.thing_id for item in self.items}
        fates = {thing.code: "out" for thing in due_back(self.case)}
        proof = "receipt" if len(items) > 1 else "known"
        how = POSTED if story.reseller else {"proof": proof, "signed_how": "paper", "sample_opened": True}
        hand_over(
            case=self.case,
            fates=fates,
            collector_name=self.case.bearer.name,
            collector="owner" if self.case.bearer_id == self.case.owner_id else "bearer",
            delivery_checked=True,
            by=self.staff["counter"],
            happened=self.moment,
            **how,
        )

    def _settle(self, owed: int) -> None:
        if self.case.payer.on_account:
            because = "billed monthly"
            office.settle(
                case=self.case, how="account", because=because, by=self.staff["manager"], happened=self.moment
            )
        else:
            office.take_payment(
                case=self.case, amount=owed, method="card", by=self.staff["counter"], happened=self.moment
            )

    def _exit(self, story: Story) -> None:
        if story.until == "declined":
            quote = self.case.quotes.get(state="sent")
            who = self.case.payer.name
            office.decline_quote(quote=quote, who=who, how=story.said, by=self.staff["counter"], happened=self.moment)
            return
        by = self.staff["engineer" if story.until == "unrecoverable" else "counter"]
        for item in self.items:
            because = story.said or story.found
            counter.end_item(item=item, to=Stage(story.until), by=by, happened=self.moment, because=because)

    def _dispute(self, story: Story) -> None:
        counter.dispute(case=self.case, by=self.staff["counter"], happened=self.moment, because=story.stop)
        note_call(
            case=self.case,
            channel="phone",
            incoming=True,
            with_whom=self.case.owner.name,
            body="Says that the other partner has no share in it.",
            agreed="Both send their papers.",
            by=self.staff["counter"],
            happened=self.moment,
        )

    def _write(self, wording: str, subject: str, body: str) -> None:
        if self.case.owner.email:
            send_update(
                case=self.case,
                wording=wording,
                to=self.case.owner.email,
                subject=subject,
                body=f"Dear {self.case.owner.name},\n\n{body}\n\nQuayside Media Lab",
                by=self.staff["counter"],
                happened=self.moment,
            )
            send_waiting()
