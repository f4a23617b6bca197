"""Plays one story through the real actions, step by step, each at its own moment."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from labcases.bench import actions as bench
from labcases.bench.protocol import Grade, State, first_word
from labcases.bench.protocols.actions import answer as note_order
from labcases.bench.protocols.actions import lift
from labcases.bench.protocols.queries import judged
from labcases.cases import actions as counter
from labcases.cases.intake import NewItem, Signed, Told, WantedLine
from labcases.cases.models import Case, Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import EXITS, Stage
from labcases.custody import actions as custody
from labcases.custody.photos import actions as photos
from labcases.custody.photos.pictures import take_in
from labcases.demo import stock
from labcases.demo.clock import set_to
from labcases.demo.pictures import label_photo
from labcases.demo.stories import WAY, Story
from labcases.handover.actions import due_back, hand_over
from labcases.lab.models import Actor, Place, Staff
from labcases.office import actions as office
from labcases.office.queries import balance_of
from labcases.people.models import Party
from labcases.stock import actions as stockroom
from labcases.stock.models import Destination, DestinationAssignment, DonorPart
from labcases.stock.wiping.actions import wipe
from labcases.updates.actions import note_call, send_update
from labcases.updates.tasks import send_waiting

DAYS_WITH_PHOTOS = 30  # photographs of older cases would only make the demo slow to load
KEPT = timedelta(days=15)
FAMILY = {row[0]: row for row in stock.FAMILIES}
LINES = {"whole": ("whole", ""), "partial": ("partial", "the newest folder is incomplete")}


class Player:
    """One story. ``start`` is when it begins; every step comes some hours after the one before, and never after now."""

    def __init__(
        self, *, staff: dict[str, Actor], dice: random.Random, start: datetime, now: Callable[[], datetime]
    ) -> None:
        self.staff, self.dice, self.moment, self.now = staff, dice, start, now
        self.case: Case = None  # type: ignore[assignment]

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
        if self.moment + KEPT < self.now():
            self._wipe()
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

    @property
    def desk(self) -> Staff:
        """Whose hands the items go into for examination."""
        person = self.staff["engineer"].staff
        assert person is not None  # noqa: S101 only the worker is nobody, and it examines nothing
        return person

    @property
    def items(self) -> list[Item]:
        return list(Item.objects.with_context().filter(case=self.case))

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
            "items": [self._item(story, *item) for item in story.items],
            "by": self.staff["counter"],
            "happened": self.moment,
            "told": None if story.unfinished else told,
            "urgency": story.urgency,
            "promised": (self.moment + timedelta(days=18)).date(),
        }
        if story.reseller:
            about |= {"bearer": reseller, "payer": reseller, "letterhead": False, "reference": "SOL-2291"}
        if story.until == "expected":
            self.case = counter.expect(**about)
            return
        signed = Signed(signed_by=owner.name, may_open=story.may_open, spending_limit=6_000)
        about |= {
            "signed": None if story.unfinished else signed,
            "accessories": [(words, 1) for words in story.with_it],
        }
        self.case = counter.log_drive(**about)
        if story.ago < DAYS_WITH_PHOTOS:
            self._photograph()
        self._put_away()

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

    def _put_away(self) -> None:
        shelf = self.dice.choice(list(Place.objects.filter(kind=Place.Kind.SHELF)))
        things = [item.thing for item in self.items] + [a.thing for a in self.case.accessories.select_related("thing")]
        custody.move_all(things=things, to=shelf, by=self.staff["counter"], happened=self.moment)

    def _examine(self, story: Story) -> None:
        engineer = self.staff["engineer"]
        things = [item.thing for item in self.items]
        custody.move_all(things=things, to=self.desk, by=engineer, happened=self.moment, because="examination")
        for n, item in enumerate(self.items):
            bench.examine(
                item=item,
                by=engineer,
                happened=self.moment,
                faults=list(story.faults) or ["none"],
                found=story.found or "Nothing found that would explain it yet.",
                inside=bool(item.no_power_because) and item.spinning and story.may_open,
                prospects=story.prospects,
                needs_part=story.needs_part if n == 0 else "",
                hours_people=2 + n,
                hours_machine=10,
            )

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

    def _answer(self, item: Item) -> None:
        """Whatever the bench order asks of this item now, each with its first ready word; and what opens after it."""
        engineer = self.staff["engineer"]
        for _ in range(3):
            order = judged(facts_for([item])[item.pk])
            answers = {
                state.key: first_word(state.step) for state in order.asks if not state.step.verb or state.step.results
            }
            free = [s for s in order.steps if s.state is State.OPEN and s.step.grade is Grade.STOP and not s.step.verb]
            answers |= {state.key: first_word(state.step) for state in free}
            if not answers:
                return
            note_order(item=item, answers=answers, by=engineer, happened=self.moment)

    def _lift(self, item: Item) -> None:
        """What the customer never let anybody open goes on only by a manager's word."""
        order = judged(facts_for([item])[item.pk])
        if any(standing.key == "inside" for state in order.steps for standing in state.standing):
            because = "The owner was told on the phone that it can die at the first turn, and wants it tried."
            lift(item=item, key="inside", because=because, by=self.staff["manager"], happened=self.moment)

    def _work(self, story: Story) -> None:
        for item in self.items:
            self._lift(item)
            self._answer(item)
            self._assign(story, item)
            if not item.destination_assignments.exists():
                continue  # nothing free fits: it waits, as it would
            bench.start_work(item=item, by=self.staff["engineer"], happened=self.moment)
            bench.note_step(
                item=item,
                what="First pass, quick, skipping what resists.",
                method="our imager, version 3",
                copied=True,
                by=self.staff["engineer"],
                happened=self.moment + timedelta(minutes=1),
            )
            if story.until != "in work":
                self._answer(item)

    def _assign(self, story: Story, item: Item) -> None:
        engineer = self.staff["engineer"]
        if story.needs_part and item.number == 1 and item.family_id:
            free = DonorPart.objects.free().filter(part=story.needs_part, donor__family=item.family).with_context()
            fitting = [part for part in free if not stockroom.judge(part, item).excluded]
            if fitting:
                stockroom.assign_donor(part=fitting[0], patient=item, by=engineer, happened=self.moment)
        free_media = Destination.objects.filter(state__in=Destination.CLEAN).filter(use="clone").with_context()
        fits = [m for m in free_media.order_by("sectors") if stockroom.fit(m, item).fits]
        if fits:
            stockroom.assign_destination(destination=fits[0], patient=item, by=engineer, happened=self.moment)

    def _check(self, story: Story) -> None:
        for item in self.items:
            if item.stage != Stage.IN_WORK:
                continue
            whole = story.outcome == "whole"
            files = self.dice.randrange(900, 60_000)
            bench.record_result(
                item=item,
                by=self.staff["engineer"],
                happened=self.moment,
                sectors_total=item.sectors,
                sectors_read=item.sectors
                if whole or not item.sectors
                else item.sectors - self.dice.randrange(2_000, 90_000),
                files=files,
                bytes=files * 2_345_678,
                compared="full" if whole else "sampled",
                samples="Three of each wanted kind opened by I. O.",
                not_recovered="" if whole else "A few files in the newest folder lie on sectors that cannot be read.",
                malware_check="nothing found",
                wanted={
                    line.pk: LINES[story.outcome if n == 0 else "whole"]
                    for n, line in enumerate(self.case.wanted.all())
                },
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
        hand_over(
            case=self.case,
            fates=fates,
            collector_name=self.case.bearer.name,
            collector="owner" if self.case.bearer_id == self.case.owner_id else "bearer",
            proof="receipt" if len(items) > 1 else "known",
            signed_how="paper",
            sample_opened=True,
            delivery_checked=True,
            by=self.staff["counter"],
            happened=self.moment,
        )

    def _wipe(self) -> None:
        """After the days of keeping, the copies are erased and their media are free again."""
        serving = DestinationAssignment.objects.filter(item__case=self.case, ended=None, destination__use="clone")
        for assignment in serving.select_related("destination__thing", "item__case__thing"):
            self.moment += KEPT / max(len(serving), 1)
            with set_to(self.moment, timezone):
                by, medium = self.staff["engineer"], assignment.destination
                stockroom.release_destination(assignment=assignment, written=True, by=by, happened=self.moment)
                medium.refresh_from_db()
                wipe(
                    destination=medium,
                    method="clear",
                    tool="one pass of zeros, our own script 2.1",
                    verified="full",
                    by=by,
                    happened=self.moment,
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
