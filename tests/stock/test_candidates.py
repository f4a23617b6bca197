"""What the database narrows is what judging every part one by one would give."""

from __future__ import annotations

import random

import pytest

from labcases.stock import actions, matching
from labcases.stock.models import DonorPart
from labcases.stock.queries.candidates import PartCandidate, match, rooms, wanted_part
from labcases.stock.rules import RULES, PartKind

LABELS = {
    "maker": ["", "Pelorus"],
    "model": ["", "PL500-2M", "pl500 2m", "CT1000"],
    "serial": ["", "PW2M000777", "PW2M000778"],
    "firmware": ["", "M1.07", "M2.00"],
    "interface": ["", "SATA", "sata", "USB"],
    "board_number": ["", "PB-2210", "pb-22 10", "PB-2340", "ПБ-2210"],
    "preamplifier": ["", "PA7", "pa 7", "PA9", "ΠΑ7"],
    "plant": ["", "K"],
    "heads": [None, 2, 4],
    "platters": [None, 1, 2],
    "sectors": [None, 976_773_168, 1_953_525_168],
}


def draw(dice):
    return {name: dice.choice(values) for name, values in LABELS.items()}


@pytest.mark.parametrize("kind", list(PartKind))
def test_narrowing_leaves_out_exactly_what_judging_excludes(make, kind):
    """The oracle is ``matching.rank`` over every free part; the dice are the same every time."""
    dice = random.Random(f"{kind}")
    make.family("Minnow", aliases=[("", "PL500")])
    make.family("Tern", aliases=[("", "CT1000")])
    for _ in range(25):
        make.donor(parts=[kind], **draw(dice))
    for _ in range(3):
        item = make.item(
            **{
                name: dice.choice([v for v in values if v])
                for name, values in LABELS.items()
                if name not in ("plant", "heads", "platters", "preamplifier", "board_number")
            }
        )
        item.board_number, item.preamplifier = dice.choice(["PB-2210", "ПБ-2210"]), dice.choice(["PA7", "ΠΑ7"])
        item.heads, item.platters = dice.choice([2, None]), 1
        free = DonorPart.objects.free().with_context().filter(part=kind)
        every = [PartCandidate(row, row.donor.traits(), row.donor.cost) for row in free]
        judged = [r.candidate.key for r in matching.rank(item.traits(), every, RULES[kind]) if not r.verdict.excluded]
        found = match(item, kind, shown=100)
        assert {r.candidate.key for r in found.shown} == set(judged)
        assert found.excluded == len(every) - len(judged)
        assert [r.verdict.grade for r in found.shown] == sorted(
            (r.verdict.grade for r in found.shown), key=list(matching.Grade).index
        )


@pytest.mark.parametrize("kind", list(PartKind))
def test_what_does_not_fit_is_shown_only_when_asked_for(make, kind):
    make.donor(parts=[kind], board_number="PB-1", serial="PD-1", model="CT1", interface="USB", platters=3)
    item = make.item(serial="PW-9", interface="SATA")
    assert len(match(item, kind, excluded=True).shown) == 1


def test_a_part_that_serves_this_patient_already_is_not_held_by_others(make, noon):
    item, part = make.item(), make.part()
    actions.assign_donor(part=part, patient=item, by=make.everyone(), happened=noon)
    assert match(item, PartKind.HEAD_STACK).held == []
    assert [taken.part for taken in match(make.item(), PartKind.HEAD_STACK).held] == [part]


@pytest.mark.parametrize(
    ("asked", "kind"),
    [("head stack", "head stack"), ("a Controller Board, revision C", "controller board"), ("", "head stack")],
)
def test_the_part_looked_for_is_the_one_the_findings_ask_for(make, noon, asked, kind):
    from labcases.bench.actions import examine

    item = make.item()
    about = {"faults": ["heads"], "found": "Weak.", "prospects": "fair", "needs_part": asked}
    examine(item=item, by=make.everyone(), happened=noon, **about)
    assert wanted_part(item) == kind


def test_what_holds_the_cases_own_data_comes_after_all_that_is_clean(make, noon):
    item, by = make.item(), make.everyone()
    own, large = make.destination(), make.destination(sectors=item.sectors * 2)
    made = actions.assign_destination(destination=own, patient=item, by=by, happened=noon)
    actions.release_destination(assignment=made, written=True, by=by, happened=noon)
    assert [room.medium for room in rooms(item, "clone").shown] == [large, own]
