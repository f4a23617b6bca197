"""The verbs of the bench: findings, work with authority, results, and back again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from labcases.bench import actions, queries
from labcases.bench.models import Result
from labcases.cases.actions import NotYet, advance, hold_by_law
from labcases.cases.intake import Signed
from labcases.cases.models import Item
from labcases.cases.queries import facts_for
from labcases.cases.stages import Stage
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, EventText
from labcases.lab.roles import Role
from labcases.office.actions import accept_quote, send_quote

FOUND = {"faults": ["heads", "surface"], "found": "Two heads weak.", "prospects": "fair"}


def kinds(item) -> list[str]:
    return list(Event.objects.filter(thing_code=item.thing.code).order_by("sequence").values_list("kind", flat=True))


def fresh(item) -> Item:
    return Item.objects.with_context().get(pk=item.pk)


def authorised(make) -> Item:
    """An item whose quote was accepted."""
    case = make.examined()
    quote = send_quote(case=case, lines=[("Work", 10_000)], by=make.everyone(), happened=case.happened)
    accept_quote(quote=quote, who="Orrin Vale", how="by phone", by=make.everyone(), happened=case.happened)
    return fresh(case.items.get())


def test_findings_make_an_item_examined_and_put_whoever_found_them_on_the_case(make, noon):
    item, engineer = make.item(), make.actor(Role.ENGINEER)
    made = actions.examine(item=item, by=engineer, happened=noon, needs_part="head stack", **FOUND)
    assert fresh(item).stage == Stage.EXAMINED
    assert made.fault_words == "heads, platter surface"
    assert list(item.case.engineers.all()) == [engineer.staff]
    assert kinds(item) == ["received", "examined"]
    known = facts_for([item])[item.pk]
    assert (known.examined, known.found, known.needs_part) == (True, "heads, platter surface", "head stack")


def test_looking_inside_is_an_event_of_its_own_and_stays_known(make, noon):
    item, by = make.item(), make.everyone()
    actions.examine(item=item, by=by, happened=noon, inside=True, **FOUND)
    actions.examine(item=fresh(item), by=by, happened=noon, **FOUND)
    assert kinds(item) == ["received", "opened", "examined", "examined"]
    assert facts_for([item])[item.pk].inspected_inside


def test_nothing_is_opened_that_the_customer_did_not_allow_to_be_opened(make, noon):
    item = make.item(case={"signed": Signed(signed_by="Orrin Vale", may_open=False)})
    with pytest.raises(actions.NotAllowedToOpen):
        actions.examine(item=item, by=make.everyone(), happened=noon, inside=True, **FOUND)
    assert fresh(item).stage == Stage.RECEIVED
    assert kinds(item) == ["received"]


def test_without_signed_terms_nothing_is_examined(make, noon):
    item = make.item(case={"signed": None})
    with pytest.raises(NotYet, match="examined"):
        actions.examine(item=item, by=make.everyone(), happened=noon, **FOUND)
    assert not item.examinations.exists()


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
def test_only_engineers_work_at_the_bench(make, noon, role):
    item, by = make.item(), make.actor(role)
    for verb in (actions.examine, actions.start_work, actions.note_step, actions.make_ready, actions.record_result):
        more = FOUND if verb is actions.examine else {"what": "x"} if verb is actions.note_step else {}
        with pytest.raises(NotAllowed):
            verb(item=item, by=by, happened=noon, **more)


def test_work_starts_with_authority_on_file_and_not_before(make, noon):
    item = fresh(make.examined().items.get())
    with pytest.raises(NotYet):
        actions.start_work(item=item, by=make.everyone(), happened=noon)
    ready = authorised(make)
    actions.start_work(item=ready, by=make.everyone(), happened=noon)
    assert fresh(ready).stage == Stage.IN_WORK


def test_a_hold_of_the_law_stops_the_start_of_work(make, noon):
    item = authorised(make)
    hold_by_law(case=item.case, because="order 7", by=make.everyone(), happened=noon)
    with pytest.raises(NotYet) as refused:
        actions.start_work(item=fresh(item), by=make.everyone(), happened=noon)
    assert "The law holds it." in refused.value.why


def test_a_step_keeps_the_change_that_could_not_be_avoided_in_the_ledger(make, noon):
    item = authorised(make)
    actions.note_step(
        item=item, what="Wrote one module.", change="service area, relocation list cleared", by=make.everyone(),
        happened=noon,
    )  # fmt: skip
    last = Event.objects.filter(kind="work-noted").latest("sequence")
    change = EventText.objects.get(sequence=last.sequence, field="change")
    assert change.text == "service area, relocation list cleared"


def test_only_a_step_that_copied_makes_the_clone_known(make, noon):
    item, by = authorised(make), make.everyone()
    actions.start_work(item=item, by=by, happened=noon)
    actions.note_step(item=item, what="Read identity.", by=by, happened=noon)
    assert not facts_for([item])[item.pk].clone_noted
    actions.note_step(item=item, what="Copied, pass 1.", copied=True, by=by, happened=noon)
    assert facts_for([item])[item.pk].clone_noted


def test_a_result_answers_each_wanted_line_and_makes_the_item_checked(make, noon):
    item, by = authorised(make), make.everyone()
    actions.start_work(item=item, by=by, happened=noon)
    line = item.case.wanted.get()
    wanted = {line.pk: ("partial", "2019 is missing")}
    actions.record_result(item=item, by=by, happened=noon, wanted=wanted, files=12, compared="sampled")
    assert fresh(item).stage == Stage.CHECKED
    assert str(line.results.get()) == "Photographs: partial"
    (section,) = queries.results_of(item.case)
    assert [answer.words for answer in section.answers] == ["2019 is missing"]


def test_a_result_from_before_the_work_began_again_says_nothing_about_it(make, noon):
    item = fresh(make.worked(make.case()).items.get())
    by = make.everyone()
    advance(item=item, to=Stage.IN_WORK, by=by, happened=noon)
    assert not facts_for([item])[item.pk].result_checked
    with pytest.raises(NotYet):
        advance(item=item, to=Stage.CHECKED, by=by, happened=noon)
    actions.record_result(item=item, by=by, happened=noon + timedelta(hours=1))
    assert fresh(item).stage == Stage.CHECKED


def test_the_newest_result_of_an_item_is_the_one_that_counts(make, noon):
    case = make.worked(make.case(), files=10)
    item = fresh(case.items.get())
    actions.record_result(item=item, by=make.everyone(), happened=noon, files=11)
    assert [section.result.files for section in queries.results_of(case)] == [11]
    assert Result.objects.count() == 2


def test_a_share_of_almost_everything_is_never_shown_as_all(make):
    case = make.worked(make.case(), sectors_read=976_773_167)
    assert queries.results_of(case)[0].share_read == "99.99 %"


@pytest.mark.parametrize(("read", "said"), [(976_773_168, "100.00 %"), (0, ""), (None, "")])
def test_a_share_is_said_where_it_is_known(make, read, said):
    assert queries.results_of(make.worked(make.case(), sectors_read=read))[0].share_read == said


def test_an_item_is_ready_after_its_result_and_not_before(make, noon):
    item, by = authorised(make), make.everyone()
    actions.start_work(item=item, by=by, happened=noon)
    with pytest.raises(NotYet):
        actions.make_ready(item=item, by=by, happened=noon)
    actions.record_result(item=item, by=by, happened=noon)
    actions.make_ready(item=fresh(item), by=by, happened=noon)
    assert fresh(item).stage == Stage.READY


def test_what_goes_back_to_examination_says_why(make, noon):
    item, by = authorised(make), make.everyone()
    actions.start_work(item=item, by=by, happened=noon)
    actions.send_back(item=item, because="the platter is scored", by=by, happened=noon)
    assert fresh(item).stage == Stage.EXAMINED
    assert kinds(item)[-1] == "sent-back"
    assert item.stamps.last().because == "the platter is scored"
