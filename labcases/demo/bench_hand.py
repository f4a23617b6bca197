"""What the bench does in a story: examining, working, checking, judging parts and erasing copies."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from labcases.bench import actions as bench
from labcases.bench.protocol import Grade, Judgement, State, first_word
from labcases.bench.protocols.actions import answer as note_order
from labcases.bench.protocols.actions import lift
from labcases.bench.protocols.queries import judged
from labcases.cases.models import Case, Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage
from labcases.custody import actions as custody
from labcases.custody.models import SPINNING
from labcases.demo.clock import set_to
from labcases.demo.stories import Story
from labcases.lab.models import Actor, Staff
from labcases.stock import actions as stockroom
from labcases.stock.models import Destination, DestinationAssignment, DonorPart, PartAssignment
from labcases.stock.pools.actions import assign_pool
from labcases.stock.pools.models import Pool
from labcases.stock.wiping.actions import begin_wipe, end_wipe, wipe

KEPT = timedelta(days=15)
IN_DETAIL = 30  # days: of older cases only what their order cannot do without is noted, so that the demo loads fast
ZEROS = "one pass of zeros, our own script 2.1"
OUTCOMES = {
    "whole": (
        ("worked", "used", "Read the whole disk; heads still sound, kept for tests only."),
        ("worked", "used", "Worked at once, with the patient's own ROM moved across."),
        ("worked", "returned", "Needed for an hour only; looked over and put back."),
    ),
    "partial": (
        ("partly", "used", "Carried two passes, then head 1 grew weak."),
        ("partly", "spoiled", "Read nine tenths before a slider caught on the damaged ring."),
        ("failed", "spoiled", "Never came ready: the adaptives lie too far apart."),
    ),
}
LINES = {"whole": ("whole", ""), "partial": ("partial", "the newest folder is incomplete")}


def _found(story: Story, item: Item) -> dict[str, Any]:
    """What was found, of what can be found on such a medium: the card that came along has no heads."""
    disks = any(kind in SPINNING for kind, *_ in story.items)
    if disks and not item.spinning:
        return {"faults": ["reading"], "found": "Reads slowly in places; nothing to be seen on the outside."}
    faults = list(story.faults) or ["none"]
    return {"faults": faults, "found": story.found or "Nothing found that would explain it yet."}


class AtTheBench:
    """The engineer's hand in a story. ``moment`` is the time on the wall; ``now`` asks the real clock."""

    def __init__(
        self, *, staff: dict[str, Actor], dice: random.Random, start: datetime, now: Callable[[], datetime]
    ) -> None:
        self.staff, self.dice, self.moment, self.now = staff, dice, start, now
        self.case: Case = None  # type: ignore[assignment]

    @property
    def desk(self) -> Staff:
        """Whose hands the items go into for examination."""
        person = self.staff["engineer"].staff
        assert person is not None  # noqa: S101 only the worker is nobody, and it examines nothing
        return person

    @property
    def items(self) -> list[Item]:
        return list(Item.objects.with_context().filter(case=self.case))

    def _examine(self, story: Story) -> None:
        engineer = self.staff["engineer"]
        things = [item.thing for item in self.items]
        custody.move_all(things=things, to=self.desk, by=engineer, happened=self.moment, because="examination")
        for n, item in enumerate(self.items):
            bench.examine(
                item=item,
                by=engineer,
                happened=self.moment,
                **_found(story, item),
                inside=bool(item.no_power_because) and item.spinning and story.may_open,
                prospects=story.prospects,
                needs_part=story.needs_part if n == 0 else "",
                hours_people=2 + n,
                hours_machine=10,
            )

    def _answer(self, item: Item, order: Judgement, rounds: int = 3) -> None:
        """Whatever the bench order asks of this item now, each with its first ready word; and what opens after it."""
        for later in range(rounds):
            order = self._order(item) if later else order
            answers = {
                state.key: first_word(state.step) for state in order.asks if not state.step.verb or state.step.results
            }
            free = [s for s in order.steps if s.state is State.OPEN and s.step.grade is Grade.STOP and not s.step.verb]
            answers |= {state.key: first_word(state.step) for state in free}
            if not answers:
                return
            note_order(item=item, answers=answers, by=self.staff["engineer"], happened=self.moment)

    def _order(self, item: Item) -> Judgement:
        return judged(facts_for([item])[item.pk])

    def _lift(self, item: Item, order: Judgement) -> Judgement:
        """What the customer never let anybody open goes on only by a manager's word; gives the order as it is then."""
        if not any(standing.key == "inside" for state in order.steps for standing in state.standing):
            return order
        because = "The owner was told on the phone that it can die at the first turn, and wants it tried."
        lift(item=item, key="inside", because=because, by=self.staff["manager"], happened=self.moment)
        return self._order(item)

    def _work(self, story: Story) -> None:
        for item in self.items:
            self._answer(item, self._lift(item, self._order(item)), 3 if story.ago < IN_DETAIL else 1)
            self._assign(story, item)
            if not story.pool and not item.destination_assignments.exists():
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
            if story.until != "in work" and story.ago < IN_DETAIL:
                self._answer(item, self._order(item))

    def _assign(self, story: Story, item: Item) -> None:
        engineer = self.staff["engineer"]
        if story.needs_part and item.number == 1 and item.family_id:
            free = DonorPart.objects.free().filter(part=story.needs_part, donor__family=item.family).with_context()
            fitting = [part for part in free if not stockroom.judge(part, item).excluded]
            if fitting:
                stockroom.assign_donor(part=fitting[0], patient=item, by=engineer, happened=self.moment)
        if story.pool:
            pool = Pool.objects.order_by("pk")[0]
            assign_pool(pool=pool, patient=item, by=engineer, happened=self.moment)
            return
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
        self._judge_parts(story)

    def _judge_parts(self, story: Story) -> None:
        """Every part that was used is judged: that is what the lab's expectations are made of."""
        for used in PartAssignment.objects.filter(item__case=self.case, ended=None).select_related("part", "item"):
            outcome, afterwards, because = self.dice.choice(OUTCOMES[story.outcome])
            stockroom.judge_part(
                assignment=used,
                outcome=outcome,
                afterwards=afterwards,
                because=because,
                by=self.staff["engineer"],
                happened=self.moment,
            )

    def _wipe(self, story: Story) -> None:
        """After the days of keeping, the copies are erased and their media are free again."""
        serving = DestinationAssignment.objects.filter(item__case=self.case, ended=None, destination__use="clone")
        for assignment in serving.select_related("destination__thing", "item__case__thing"):
            self.moment += KEPT / max(len(serving), 1)
            with set_to(self.moment, timezone):
                by, medium = self.staff["engineer"], assignment.destination
                stockroom.release_destination(assignment=assignment, written=True, by=by, happened=self.moment)
                medium.refresh_from_db()
            self._erase(story, medium)

    def _erase(self, story: Story, medium: Destination) -> None:
        """Over and verified; or, for what happens tonight, running or not looked at yet."""
        by = self.staff["engineer"]
        about: dict[str, Any] = {"destination": medium, "method": "clear", "by": by}
        if not story.erase:
            with set_to(self.moment, timezone):
                wipe(tool=ZEROS, verified="full", happened=self.moment, **about)
            return
        self.moment = self.now() - timedelta(hours=7 if story.erase == "running" else 26)
        with set_to(self.moment, timezone):
            port, until = "Bench machine 2, bay 4", self.moment + timedelta(hours=11)
            running = begin_wipe(
                tool=ZEROS, technique="overwrite", port=port, expected_end=until, happened=self.moment, **about
            )
        if story.erase == "ended":
            self.moment += timedelta(hours=9)
            with set_to(self.moment, timezone):
                end_wipe(wipe=running, by=by, happened=self.moment)
