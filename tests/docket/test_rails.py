"""The stage rail: stamps passed, the open one, what is still to come."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from labcases.cases.stages import Stage
from labcases.docket.rails import SHOWN, rails_of, stamps_of

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def history(*stages: Stage) -> list[tuple[Stage, datetime]]:
    """These stages, a day apart."""
    return [(stage, NOON + timedelta(days=day)) for day, stage in enumerate(stages)]


def said(stamps) -> list[str]:
    return [f"{stamp.word} {stamp.state}" for stamp in stamps]


def test_the_usual_way_shows_what_is_passed_what_is_open_and_what_comes():
    rail = stamps_of(history(Stage.RECEIVED, Stage.EXAMINED, Stage.QUOTED), Stage.QUOTED)
    assert said(rail)[:4] == ["received done", "examined done", "quoted now", "authorised todo"]
    assert said(rail)[-1] == "handed over todo"
    assert [stamp.word for stamp in rail] == [str(stage) for stage in SHOWN]


def test_a_passed_stamp_carries_its_date_and_one_to_come_has_none():
    rail = stamps_of(history(Stage.RECEIVED, Stage.EXAMINED), Stage.EXAMINED)
    assert rail[0].when == NOON
    assert rail[1].when == NOON + timedelta(days=1)
    assert rail[2].when is None


def test_what_went_back_loses_the_stamps_it_has_to_earn_again():
    went = history(Stage.RECEIVED, Stage.EXAMINED, Stage.QUOTED, Stage.AUTHORISED, Stage.IN_WORK, Stage.EXAMINED)
    rail = stamps_of(went, Stage.EXAMINED)
    assert said(rail)[:3] == ["received done", "examined now", "quoted todo"]
    assert rail[1].when == NOON + timedelta(days=5)


def test_an_exit_leads_to_the_handover_and_to_nothing_else():
    rail = stamps_of(history(Stage.RECEIVED, Stage.EXAMINED, Stage.QUOTED, Stage.DECLINED), Stage.DECLINED)
    assert said(rail)[-2:] == ["declined ended", "handed over todo"]
    assert len(rail) == 5


def test_an_exit_that_was_taken_back_is_shown_no_more():
    went = history(Stage.RECEIVED, Stage.EXAMINED, Stage.QUOTED, Stage.DECLINED, Stage.QUOTED)
    assert said(stamps_of(went, Stage.QUOTED))[:4] == [
        "received done",
        "examined done",
        "quoted now",
        "authorised todo",
    ]


def test_a_handed_over_item_has_nothing_open():
    went = history(*SHOWN)
    assert {stamp.state for stamp in stamps_of(went, Stage.HANDED_OVER)} == {"done"}
    assert {stamp.state for stamp in stamps_of([*went, *history(Stage.CLOSED)], Stage.CLOSED)} == {"done"}


def test_what_is_expected_stands_before_the_whole_way():
    rail = stamps_of(history(Stage.EXPECTED), Stage.EXPECTED)
    assert said(rail)[0] == "expected now"
    assert [stamp.word for stamp in rail[1:]] == [str(stage) for stage in SHOWN]


def test_what_never_came_has_no_way_before_it():
    assert said(stamps_of(history(Stage.EXPECTED, Stage.NEVER_CAME), Stage.NEVER_CAME)) == [
        "expected done",
        "never came done",
    ]


def test_items_that_agree_share_one_line_and_others_have_their_own():
    alike = ("disk", "26-00001-P1-X", history(Stage.RECEIVED), Stage.RECEIVED)
    other = ("stick", "26-00001-P2-X", history(Stage.RECEIVED, Stage.EXAMINED), Stage.EXAMINED)
    assert [rail.label for rail in rails_of([alike, alike])] == ["all 2 items"]
    assert [rail.label for rail in rails_of([alike, other])] == ["disk", "stick"]
    assert [rail.label for rail in rails_of([alike])] == ["disk"]
    assert rails_of([]) == []
