"""Who a medium says it is: compared with what was noted, answered, and a stop for the wrong item."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.cases.actions import NotYet
from labcases.cases.models import Item, Reading
from labcases.cases.queries import facts_for
from labcases.cases.readings import comparing
from labcases.cases.readings.actions import (
    NotAnswered,
    NotReadable,
    WrongItem,
    answer,
    as_shown,
    identify,
    lift_wrong_item,
    lines_of,
    read_page,
)
from labcases.core import vault
from labcases.core.refused import NotAllowed
from labcases.custody.actions import move
from labcases.custody.models import Event
from labcases.lab.roles import Role
from tests.media.test_identify import made

NOTED = {"model": "BQ-500", "serial": "BQ5-0000419", "sectors": 976_773_168, "sector_bytes": 512}


def marks(noted: dict[str, object], said: dict[str, object], **more: object) -> dict[str, str]:
    return {line.name: line.mark for line in comparing.compare(noted, said, **more)}


# --- comparing ---


@pytest.mark.parametrize(
    ("noted", "said", "mark"),
    [
        ("PW2M-00417", "pw2m 00417", "same"),
        ("PL500-2M", "PELORUS PL500-2M", "near"),
        ("PW2M00417", "PW2M00418", "different"),
        ("", "PW2M00418", "unknown"),
        ("PW2M00417", "", "unknown"),
        ("12", "PW2M00412", "different"),
    ],
)
def test_texts_are_the_same_near_different_or_unknown(noted: str, said: str, mark: str) -> None:
    assert marks({"serial": noted}, {"serial": said}) == {"serial": mark}


def test_counts_are_the_same_or_different() -> None:
    assert marks({"sectors": 100, "sector_bytes": 512}, {"sectors": 99, "sector_bytes": 512}) == {
        "sectors": "different",
        "sector_bytes": "same",
    }


def test_a_boards_own_names_are_held_against_nothing() -> None:
    assert marks({"model": "PL500-2M"}, {"model": "BOOT ROM"}, whole=False) == {"model": "unknown"}


@given(st.dictionaries(st.sampled_from(sorted(comparing.NAMES)), st.text(max_size=8) | st.integers(0, 9)))
def test_what_is_compared_with_itself_is_never_different(said: dict[str, object]) -> None:
    assert set(marks(said, said).values()) <= {"same", "unknown"}


@given(*[st.dictionaries(st.sampled_from(sorted(comparing.NAMES)), st.text("AB1", max_size=8))] * 2)
def test_filling_blanks_never_touches_what_was_noted(noted: dict[str, str], said: dict[str, str]) -> None:
    filled = comparing.blanks_filled(noted, said)
    assert not any(noted.get(name) for name in filled)
    assert noted | filled == {**filled, **noted} | {
        name: value for name, value in filled.items() if not noted.get(name)
    }


# --- identify ---


def bramford(make, **about: object) -> Item:
    """A patient noted as its page says, unless said otherwise."""
    return make.item(**(NOTED | {"maker": "Bramford", "firmware": ""} | about))


def read(make, noon, item: Item, page: bytes | None = None) -> Reading:
    return identify(item=item, read=read_page(page or made()), by=make.actor(Role.ENGINEER), happened=noon)


def test_what_nobody_had_noted_is_filled_in_and_marked(make, noon):
    item = bramford(make)
    reading = read(make, noon, item)
    item.refresh_from_db()
    assert item.firmware == "1.23"
    assert reading.filled == ["firmware"]
    assert vault.get(reading.page) == made()
    assert facts_for([item])[item.pk].differs == ()


def test_a_difference_waits_for_an_answer_and_a_typo_is_corrected(make, noon):
    item = bramford(make, serial="BQ5-0000491")
    reading = read(make, noon, item)
    assert facts_for([item])[item.pk].differs == ("serial",)
    answer(reading=reading, answers={"serial": "typo"}, by=make.actor(Role.ENGINEER), happened=noon)
    item.refresh_from_db()
    assert item.serial == "BQ5-0000419"
    assert facts_for([item])[item.pk].differs == ()
    assert Event.objects.filter(kind="intake-changed", thing_code=item.thing.code).count() == 2


def test_a_swapped_board_leaves_what_was_noted(make, noon):
    item = bramford(make, serial="BQ5-0000491")
    reading = read(make, noon, item)
    answer(reading=reading, answers={"serial": "swapped"}, by=make.actor(Role.ENGINEER), happened=noon)
    item.refresh_from_db()
    assert item.serial == "BQ5-0000491"
    assert facts_for([item])[item.pk].differs == ()


@pytest.mark.parametrize("answers", [{}, {"serial": "typo"}, {"serial": "typo", "model": "typo", "sectors": "typo"}])
def test_every_difference_is_answered_and_no_other(make, noon, answers):
    reading = read(make, noon, bramford(make, serial="BQ5-0000491", model="OTHER-9"))
    with pytest.raises(NotAnswered):
        answer(reading=reading, answers=answers, by=make.actor(Role.ENGINEER), happened=noon)


def test_a_difference_is_answered_once(make, noon):
    reading = read(make, noon, bramford(make, serial="BQ5-0000491"))
    about = {"reading": reading, "answers": {"serial": "swapped"}, "by": make.actor(Role.ENGINEER), "happened": noon}
    answer(**about)
    with pytest.raises(NotAnswered, match="answered already"):
        answer(**about)


def stopped(make, noon) -> Item:
    item = bramford(make, serial="BQ5-0000491")
    answer(
        reading=read(make, noon, item), answers={"serial": "wrong"}, by=make.actor(Role.ENGINEER), happened=noon
    )  # fmt: skip
    return item


def test_the_wrong_item_is_stopped_at_every_verb_of_the_bench_and_the_stockroom(make, noon):
    from labcases.bench.actions import examine, note_step
    from labcases.stock.actions import assign_destination

    item, by = stopped(make, noon), make.everyone()
    found = {"faults": ["reading"], "found": "Reads slowly.", "prospects": "good"}
    with pytest.raises((NotYet, WrongItem), match=r"wrong item|cannot become"):
        examine(item=item, by=by, happened=noon, **found)
    with pytest.raises(WrongItem):
        note_step(item=item, what="Copied", by=by, happened=noon)
    with pytest.raises(WrongItem):
        assign_destination(destination=make.destination(), patient=item, by=by, happened=noon)


def test_the_wrong_item_enters_no_stage(make, noon):
    from labcases.cases.stages import EDGES, RIGHT_ITEM, stops

    item = stopped(make, noon)
    facts = facts_for([item])[item.pk]
    assert facts.wrong_item
    assert all(RIGHT_ITEM in stops(facts.stage, to, facts) for to in EDGES[facts.stage])


def test_the_wrong_item_can_still_be_put_away(make, noon):
    safe = make.place(kind="safe")
    move(thing=stopped(make, noon).thing, to=safe, by=make.actor(Role.ENGINEER), happened=noon)


def test_only_a_manager_lifts_the_stop_and_says_why(make, noon):
    item = stopped(make, noon)
    with pytest.raises(NotAllowed):
        lift_wrong_item(item=item, by=make.actor(Role.ENGINEER), happened=noon, because="label was another's")
    lift_wrong_item(item=item, by=make.actor(Role.MANAGER), happened=noon, because="label was another's")
    assert not facts_for([item])[item.pk].wrong_item
    with pytest.raises(NotAnswered, match="is not stopped"):
        lift_wrong_item(item=item, by=make.actor(Role.MANAGER), happened=noon, because="again")


def test_a_later_reading_does_not_lift_the_stop(make, noon):
    item = stopped(make, noon)
    read(make, noon, item)
    assert facts_for([item])[item.pk].wrong_item


def test_a_locked_state_is_a_fact_until_it_is_read_unlocked(make, noon):
    item = bramford(make)
    read(make, noon, item, made({128: 0x0007}))
    assert facts_for([item])[item.pk].locked
    read(make, noon, item)
    assert not facts_for([item])[item.pk].locked


def test_a_boards_own_answer_fills_nothing_and_asks_nothing(make, noon):
    item = bramford(make)
    reading = read(make, noon, item, made(model="BOOT ROM", serial="", sectors=0))
    item.refresh_from_db()
    assert (reading.whole, reading.filled, item.firmware) == (False, [], "")
    assert facts_for([item])[item.pk].differs == ()


def test_the_counter_does_not_identify(make, noon):
    with pytest.raises(NotAllowed):
        identify(item=bramford(make), read=read_page(made()), by=make.actor(Role.COUNTER), happened=noon)
    assert not Reading.objects.exists()


def test_what_a_machine_shows_can_be_typed(make, noon):
    item = bramford(make)
    shown = as_shown({"model": "BQ-500", "serial": "BQ5-0000491"}, locked=True)
    reading = identify(item=item, read=shown, by=make.actor(Role.ENGINEER), happened=noon)
    assert [line.name for line in lines_of(reading) if line.open] == ["serial"]
    assert facts_for([item])[item.pk].locked


@pytest.mark.parametrize("page", ["", "hello", b"\0" * 512, b"\xff" * 4096, b"\x80\x81" * 900, "é" * 100, made()[:400]])
def test_what_is_no_page_is_refused_with_a_sentence(page):
    with pytest.raises(NotReadable, match=r"^[A-Z].*\.$"):
        read_page(page)
