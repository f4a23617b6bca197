"""The page of a case: one page for everybody, each with the buttons that are theirs, at a cost that does not grow."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.cases import actions
from labcases.cases.stages import Stage
from labcases.core import codes, sections
from labcases.docket import queries
from labcases.lab.roles import Role


def shown(client, case, **asked) -> str:
    answer = client.get(case.get_absolute_url(), asked)
    assert answer.status_code == 200
    return answer.content.decode()


def cost(client, case) -> int:
    with CaptureQueriesContext(connection) as ran:
        shown(client, case)
    return len(ran)


def test_a_docket_shows_whose_it_is_what_comes_next_and_every_section(make, client_as):
    case = make.case(owner=make.party(name="Wren Halloway"))
    page = shown(client_as(), case)
    assert "Wren Halloway" in page
    assert "Next safe step" in page
    assert all(f'id="{section.key}"' in page for section in sections.of_docket())
    assert page.count("<h1") == 1


def test_htmx_gets_the_same_docket_without_the_frame(make, client_as):
    case = make.case()
    part = client_as().get(case.get_absolute_url(), headers={"HX-Request": "true"})
    assert part.content.decode().count('<article id="docket">') == 1
    assert "<main" not in part.content.decode()
    assert "<html" not in part.content.decode()
    assert "HX-Request" in part.headers["Vary"]


@pytest.mark.parametrize("spelling", ["{0}", "{1}", "LC{1}", "lc{1}"])
def test_a_case_opens_under_any_spelling_of_its_code(make, client_as, spelling):
    case = make.case()
    address = reverse("docket:case", args=[spelling.format(case, case.code)])
    assert client_as().get(address).status_code == 200


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("26-00001-X", "The check character of “26-00001-X” is wrong"),
        (codes.with_check(codes.case_body(2026, 7)), "There is no case 26-00007-"),
        ("nonsense", "does not have the form of a code"),
    ],
)
def test_a_case_that_is_none_is_said_in_a_sentence(make, client_as, code, said):
    answer = client_as().get(reverse("docket:case", args=[code]))
    assert answer.status_code == 404
    assert said in answer.content.decode()


def test_an_address_that_is_none_is_said_without_words_of_a_program(make, client_as):
    page = client_as().get("/nowhere/at/all/").content.decode()
    assert "The address is mistyped" in page
    assert "Resolver404" not in page
    lost = client_as().get(reverse("cases:enquiry", args=[7])).content.decode()
    assert "matches the given query" not in lost


def test_the_engineer_gets_the_button_that_examines_and_the_others_read_what_waits(make, client_as):
    item = make.item()
    examine = reverse("bench:examine", args=[str(item)])
    pages = {role: shown(client_as(role), item.case) for role in (Role.COUNTER, Role.ENGINEER, Role.AUDITOR)}
    assert examine in pages[Role.ENGINEER]
    assert examine not in pages[Role.COUNTER]
    assert examine not in pages[Role.AUDITOR]
    assert all("Examine it" in page for page in pages.values())


def test_the_counter_gets_the_buttons_of_the_counter_and_the_auditor_gets_none(make, client_as):
    case = make.case()
    take_money = reverse("office:payment", args=[str(case)])
    assert take_money in shown(client_as(Role.COUNTER), case)
    auditor = shown(client_as(Role.AUDITOR), case)
    assert take_money not in auditor
    assert 'method="post"' not in auditor.partition("<main")[2]


def test_a_docket_costs_the_same_for_one_item_and_for_eight(make, client_as):
    one, eight = make.case(items=1), make.case(items=8)
    client = client_as()
    assert cost(client, eight) == cost(client, one)


def test_a_docket_with_findings_and_results_costs_the_same_for_one_item_and_for_eight(make, client_as):
    one, eight = make.worked(make.case(items=1)), make.worked(make.case(items=8))
    client = client_as()
    assert cost(client, eight) == cost(client, one)


def test_the_bench_sheet_costs_the_same_for_one_patient_and_for_eight(make, client_as):
    client = client_as()

    def cost_of_bench() -> int:
        with CaptureQueriesContext(connection) as ran:
            assert client.get(reverse("docket:bench")).status_code == 200
        return len(ran)

    make.case()
    one = cost_of_bench()
    make.case(items=7)
    assert cost_of_bench() == one


def test_the_bench_sheet_puts_what_i_can_do_now_first(make):
    waiting = make.case(signed=None).items.get()
    ready = make.item()
    engineer = make.actor(Role.ENGINEER).staff
    rows = queries.bench_sheet(engineer)
    assert [row.item for row in rows] == [ready, waiting]
    assert (rows[0].mine, rows[1].mine) == (True, False)


def test_only_my_cases_are_on_my_bench_sheet(make, noon):
    mine, _ = make.item(), make.item()
    engineer = make.actor(Role.ENGINEER).staff
    mine.case.engineers.add(engineer)
    assert [row.item for row in queries.bench_sheet(engineer, mine_only=True)] == [mine]


def test_the_day_book_has_every_event_and_is_narrowed_by_place(make, client_as):
    case = make.examined()
    client = client_as()
    everything = shown(client, case)
    assert "received" in everything
    assert "examined: unstable reading; prospects good" in everything
    lines = [line.text for day in queries.daybook(case, "bench") for line in day.lines]
    assert any("examined" in line for line in lines)
    assert not any("received" in line for line in lines)
    assert len([line for day in queries.daybook(case) for line in day.lines]) > len(lines)


def test_a_place_that_is_none_has_an_empty_day_book(make):
    assert queries.daybook(make.case(), "cellar") == []


def test_what_was_entered_late_says_when(make):
    soft = [line.soft for day in queries.daybook(make.case()) for line in day.lines]
    assert all("entered" in words for words in soft)


def test_items_that_stand_alike_share_one_step_where_the_case_is_acted_on(make):
    case = make.examined(items=3)
    steps = queries.steps_of(case.items.all(), make.everyone().staff)
    assert [step.whose for step in steps] == ["all items"]
    assert steps[0].action == reverse("office:quote", args=[str(case)])


def test_items_with_a_step_of_their_own_each_have_it(make):
    case = make.case(items=3)
    steps = queries.steps_of(case.items.all(), make.everyone().staff)
    assert [step.whose for step in steps] == ["item 1", "item 2", "item 3"]


def test_a_disputed_or_held_case_says_so_on_top(make, client_as, noon):
    case = make.case()
    actions.dispute(case=case, because="the brother claims it", by=make.everyone(), happened=noon)
    page = shown(client_as(), case)
    assert "Ownership is disputed." in page
    assert "the brother claims it" in page
    actions.hold_by_law(case=case, because="order 7", by=make.everyone(), happened=noon)
    assert "Held by law." in shown(client_as(), case)


def test_an_item_whose_way_has_ended_asks_for_nothing(make, noon):
    case = make.expected()
    actions.never_came(item=case.items.get(), because="kept", by=make.everyone(), happened=noon)
    assert case.items.get().stage == Stage.NEVER_CAME
    assert queries.steps_of(case.items.all(), make.everyone().staff) == []


@pytest.mark.parametrize(
    ("role", "place"),
    [(Role.COUNTER, "counter"), (Role.ENGINEER, "bench"), (Role.MANAGER, "office"), (Role.AUDITOR, "custody")],
)
def test_everybody_starts_where_they_work(make, client_as, role, place):
    assert client_as(role).get(reverse("docket:home")).url == reverse(f"docket:{place}")


@pytest.mark.parametrize("place", ["counter", "bench", "stockroom", "office", "custody"])
@pytest.mark.parametrize("role", [Role.COUNTER, Role.ENGINEER, Role.MANAGER, Role.AUDITOR])
def test_every_place_opens_for_everybody(make, client_as, role, place):
    make.case()
    make.expected()
    assert client_as(role).get(reverse(f"docket:{place}")).status_code == 200
