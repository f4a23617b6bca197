"""A part kept for a patient until a time, and what happens when the time comes, or the clock goes wrong."""

from __future__ import annotations

import html
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labcases.cases.models import Item
from labcases.cases.stages import Stage
from labcases.custody.models import EventText
from labcases.lab.roles import Role
from labcases.stock import actions
from labcases.stock.models import DonorPart, PartAssignment
from labcases.stock.queries.candidates import match
from labcases.stock.queries.front import parts_there
from labcases.stock.rules import PartKind


@pytest.fixture
def clock(monkeypatch):
    """Set the computer's clock so many days ahead or back."""
    real = timezone.now

    def set_to(**ahead):
        monkeypatch.setattr(timezone, "now", lambda: real() + timedelta(**ahead))

    return set_to


def reserve(part, item, by, noon, **ahead):
    until = timezone.now() + timedelta(**ahead or {"days": 1})
    return actions.reserve_part(part=part, patient=item, until=until, by=by, happened=noon)


def test_a_reserved_part_is_not_assigned_to_another(make, noon):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.actor(Role.ENGINEER)
    reserve(part, ours, by, noon)
    with pytest.raises(actions.PartReserved, match=f"is reserved for {ours} until"):
        actions.assign_donor(part=part, patient=theirs, by=by, happened=noon)
    assert not PartAssignment.objects.exists()


def test_whom_it_is_reserved_for_gets_it(make, noon):
    part, item, by = make.part(), make.item(), make.everyone()
    reserve(part, item, by, noon)
    actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    part.refresh_from_db()
    assert (part.state, part.reserved_for, part.reserved_until) == ("assigned", None, None)


def test_a_manager_gives_it_to_another_and_both_cases_know(make, noon):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    reserve(part, ours, by, noon)
    made = actions.assign_donor(part=part, patient=theirs, by=by, happened=noon, lifted="The other can wait.")
    assert made.lifted == "The other can wait."
    assert EventText.objects.filter(text__contains=f"given to {theirs} by a manager").exists()


def test_an_engineer_alone_lifts_no_reservation(make, noon):
    part, ours, theirs = make.part(), make.item(), make.item()
    reserve(part, ours, make.everyone(), noon)
    with pytest.raises(actions.PartReserved):
        actions.assign_donor(
            part=part, patient=theirs, by=make.actor(Role.ENGINEER), happened=noon, lifted="I want it."
        )


def test_what_ran_out_is_free_for_anybody_without_a_clerk(make, noon, clock):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    reserve(part, ours, by, noon, hours=1)
    clock(hours=2)
    assert [one.part for one in match(theirs, PartKind.HEAD_STACK).shown] == [part]
    actions.assign_donor(part=part, patient=theirs, by=by, happened=noon)


def test_while_it_is_reserved_it_stands_under_what_others_hold(make, noon):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    reserve(part, ours, by, noon)
    assert [taken.part for taken in match(theirs, PartKind.HEAD_STACK).held] == [part]
    assert [one.part for one in match(ours, PartKind.HEAD_STACK).shown] == [part]


def test_two_cannot_reserve_the_same(make, noon):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    reserve(part, ours, by, noon)
    with pytest.raises(actions.PartReserved):
        reserve(part, theirs, by, noon)


def test_a_reservation_is_drawn_out_by_making_it_again(make, noon):
    part, item, by = make.part(), make.item(), make.everyone()
    first = reserve(part, item, by, noon).reserved_until
    assert reserve(part, item, by, noon, days=2).reserved_until > first


@pytest.mark.parametrize("ahead", [{"minutes": -1}, {"days": 61}])
def test_it_ends_neither_in_the_past_nor_far_ahead(make, noon, ahead):
    with pytest.raises(actions.NotNow, match="by this computer's clock"):
        reserve(make.part(), make.item(), make.everyone(), noon, **ahead)


def test_a_part_that_does_not_fit_is_not_reserved(make, noon):
    part = make.part("controller board", board_number="PB-1")
    item = make.item(board_number="PB-2")
    with pytest.raises(actions.NotAMatch):
        reserve(part, item, make.everyone(), noon)


def test_a_reservation_is_let_go_before_its_time(make, noon):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    reserve(part, ours, by, noon)
    actions.end_reservation(part=part, by=by, happened=noon)
    actions.assign_donor(part=part, patient=theirs, by=by, happened=noon)
    with pytest.raises(actions.NotNow, match="is not reserved any more"):
        actions.end_reservation(part=part, by=by, happened=noon)


def test_what_a_clock_gone_wrong_reserved_for_years_holds_nothing(make, noon, clock):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    clock(days=3000)
    reserve(part, ours, by, noon)
    clock(days=0)
    part.refresh_from_db()
    assert part.reserved_now is None
    actions.assign_donor(part=part, patient=theirs, by=by, happened=noon)


def test_a_clock_set_back_ends_no_assignment_before_it_began(make, noon):
    part, item, by = make.part(), make.item(), make.everyone()
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    early = noon - timedelta(hours=1)
    with pytest.raises(actions.NotNow, match="would end before it began"):
        actions.release_part(assignment=made, by=by, happened=early, because="Not needed.")
    made.refresh_from_db()
    assert made.ended is None


def test_a_reservation_that_runs_out_while_its_page_is_open_says_so(make, noon, clock, client_as):
    part, ours, theirs, by = make.part(), make.item(), make.item(), make.everyone()
    until = reserve(part, ours, by, noon, hours=1).reserved_until
    address, client = reverse("stock:assign-donor", args=[str(ours)]), client_as()
    assert f'value="{until.isoformat()}"' in html.unescape(client.get(address).content.decode())
    clock(hours=2)
    actions.assign_donor(part=part, patient=theirs, by=by, happened=noon)
    answer = client.post(address, {"chosen": str(part), "kept_until": until.isoformat()})
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    assert f"{part} is taken by {by.name}: it serves {theirs}." in page
    assert "The reservation that this page showed ran out at" in page


def test_the_reserve_page_keeps_it(make, client_as):
    part, item, client = make.part(), make.item(), client_as()
    address = reverse("stock:reserve-part", args=[str(item)])
    page = client.get(f"{address}?part={part}")
    assert page.status_code == 200
    start = page.context["form"].initial["until"]
    assert client.post(address, {"chosen": str(part), "until": f"{start:%Y-%m-%dT%H:%M}"}).status_code == 303
    assert DonorPart.objects.get().reserved_for == item
    assert client.get(part.get_absolute_url()).content.decode().count("Reserved for") == 1


def test_a_part_of_a_scrapped_donor_is_not_assigned(make, noon):
    part, item, by = make.part(), make.item(), make.everyone()
    actions.scrap_donor(donor=part.donor, by=by, happened=noon, because="Crashed.")
    with pytest.raises(actions.PartTaken, match="it is spoiled"):
        actions.assign_donor(part=part, patient=item, by=by, happened=noon)


def test_a_donor_whose_part_serves_a_patient_is_not_scrapped(make, noon):
    donor, item, by = make.donor(parts=["head stack", "controller board"]), make.item(), make.everyone()
    part = donor.parts.get(part="head stack")
    actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    with pytest.raises(actions.NotNow, match=f"{part} is taken by"):
        actions.scrap_donor(donor=donor, by=by, happened=noon, because="No room.")
    donor.refresh_from_db()
    assert donor.scrapped is None
    assert donor.parts.get(part="controller board").state == "free"


def test_what_was_taken_off_before_stays_when_the_donor_is_scrapped(make, noon):
    donor, item, by = make.donor(parts=["head stack", "controller board"]), make.item(), make.everyone()
    heads = donor.parts.get(part="head stack")
    actions.assign_donor(part=heads, patient=item, by=by, happened=noon)
    actions.strip_part(part=heads, by=by, happened=noon)
    actions.scrap_donor(donor=donor, by=by, happened=noon, because="Stripped.")
    assert dict(donor.parts.values_list("part", "state")) == {"head stack": "assigned", "controller board": "spoiled"}
    with pytest.raises(actions.NotNow, match="was scrapped"):
        actions.list_part(donor=donor, part="motor", by=by, happened=noon)


def test_a_donor_whose_part_is_kept_for_a_patient_is_not_scrapped(make, noon):
    part, by = make.part(), make.everyone()
    reserve(part, make.item(), by, noon)
    with pytest.raises(actions.NotNow, match="is reserved for"):
        actions.scrap_donor(donor=part.donor, by=by, happened=noon, because="No room.")


def test_a_spoiled_board_does_not_spoil_the_heads(make, noon):
    donor, by = make.donor(parts=["head stack", "controller board"]), make.everyone()
    board = donor.parts.get(part="controller board")
    actions.note_test(part=board, tested="Short on 5 V.", result="bad", spoiled=True, by=by, happened=noon)
    assert dict(donor.parts.values_list("part", "state")) == {"head stack": "free", "controller board": "spoiled"}


def test_a_test_says_who_when_what_and_which_heads_live(make, noon):
    part, by = make.part(head_map="0 1 2 3"), make.everyone()
    actions.note_test(part=part, tested="Read on the twin.", result="partly", heads_alive="0-2", by=by, happened=noon)
    said = (part.test_result, part.heads_alive, part.tested_at, part.tested_by)
    assert said == ("partly", "0 1 2", noon, by.staff)


def test_a_head_that_is_not_fitted_is_not_alive(make, client_as):
    part = make.part(head_map="0 1")
    address = reverse("stock:note-test", args=[str(part)])
    answer = client_as().post(address, {"tested": "Read.", "heads_alive": "0 3"})
    assert answer.status_code == 422
    assert "Head 3 is not fitted" in answer.content.decode()


def test_no_more_heads_are_alive_than_are_fitted(make, noon):
    part, by = make.part(heads=2, head_map=""), make.everyone()
    with pytest.raises(actions.NotNow, match="3 heads are said to be alive"):
        actions.note_test(part=part, tested="Read.", heads_alive="0 1 3", by=by, happened=noon)
    actions.note_test(part=part, tested="Read.", heads_alive="0 3", by=by, happened=noon)
    assert part.heads_alive == "0 3"


@pytest.mark.parametrize("name", ["strip-part", "change-part", "note-test"])
def test_the_verbs_of_a_part_have_their_pages(make, client_as, name):
    part, client = make.part(), client_as()
    said = {"tested": "Read.", "note": "In the blue box.", "cost": "12.50"}
    assert client.get(reverse(f"stock:{name}", args=[str(part)])).status_code == 200
    answer = client.post(reverse(f"stock:{name}", args=[str(part)]), said)
    assert answer.headers["Location"] == part.get_absolute_url()
    assert client.get(part.get_absolute_url()).status_code == 200


def test_released_after_an_earlier_use_it_is_back_on_its_shelf(make, noon):
    part, by = make.part(), make.everyone()
    first = actions.assign_donor(part=part, patient=make.item(), by=by, happened=noon)
    actions.judge_part(
        assignment=first, outcome="worked", because="Read.", afterwards="free", heads_alive="0", by=by, happened=noon
    )
    again = actions.assign_donor(part=part, patient=make.item(), by=by, happened=noon, lifted="One head will do.")
    actions.release_part(assignment=again, by=by, happened=noon, because="Not needed.")
    part.refresh_from_db()
    assert (part.state, part.heads_alive) == ("returned", "0")


@pytest.mark.parametrize("alive", ["0 3", "zero"])
def test_after_use_no_head_is_alive_that_is_not_fitted(make, noon, client_as, alive):
    part, by = make.part(head_map="0 1"), make.everyone()
    made = actions.assign_donor(part=part, patient=make.item(), by=by, happened=noon)
    sent = {"outcome": "partly", "because": "One head died.", "afterwards": "free", "heads_alive": alive}
    answer = client_as().post(reverse("stock:judge-part", args=[str(part)]), sent)
    assert answer.status_code == 422
    assert ("Head 3 is not fitted" in answer.content.decode()) == (alive == "0 3")
    made.refresh_from_db()
    part.refresh_from_db()
    assert (made.ended, part.state, part.heads_alive) == (None, "assigned", "")


def test_a_part_whose_page_was_open_is_not_taken_off_a_scrapped_donor(make, noon):
    part, by = make.part(), make.everyone()
    stale = DonorPart.objects.select_related("donor__thing", "thing").get(pk=part.pk)
    actions.scrap_donor(donor=part.donor, by=by, happened=noon, because="Crashed.")
    with pytest.raises(actions.NotNow, match="was scrapped, and"):
        actions.strip_part(part=stale, by=by, happened=noon)
    part.refresh_from_db()
    assert (part.stripped, part.state) == (None, "spoiled")


# --- as they stand now ----------------------------------------------------------------------------------------------


@pytest.fixture
def four(make, noon):
    """A part that is free, one that is kept for a patient, one whose reservation ran out, one back on its shelf."""
    free, kept, over, back = (make.part() for _ in range(4))
    reserve(kept, make.item(), make.everyone(), noon)
    until = timezone.now() - timedelta(minutes=1)
    DonorPart.objects.filter(pk=over.pk).update(reserved_for=make.item(), reserved_until=until)
    DonorPart.objects.filter(pk=back.pk).update(state="returned")
    return free, kept, over, back


@pytest.mark.parametrize(
    ("state", "which"),
    [("shelf", [0, 2, 3]), ("reserved", [1]), ("free", [0, 2]), ("returned", [3]), ("", [0, 1, 2, 3])],
)
def test_what_is_reserved_now_is_listed_as_that_and_not_as_free(four, client_as, state, which):
    listed = client_as().get(reverse("stock:parts"), {"state": state}).context["page"]
    assert {row.pk for row in listed} == {four[n].pk for n in which}


def test_the_list_says_for_whom_it_is_kept(four, client_as):
    _, kept, over, _ = four
    kept.refresh_from_db()
    for address in (reverse("stock:parts"), kept.donor.get_absolute_url(), reverse("stock:find") + "?what=parts"):
        page = client_as().get(address).content.decode()
        assert f"reserved for {kept.reserved_for}" in page
    assert "reserved for" not in client_as().get(over.donor.get_absolute_url()).content.decode()


def test_the_front_counts_what_is_free_for_anybody_and_what_is_kept(four):
    heads = next(row for row in parts_there(None).kinds if row.part == "head stack")
    assert (heads.free, heads.reserved, heads.assigned, heads.spent) == (3, 1, 0, 0)


def test_free_heads_are_those_that_are_free_for_anybody(four, client_as):
    page = client_as().get(reverse("stock:find"), {"q": "free heads"})
    assert {row.pk for row in page.context["page"]} == {four[n].pk for n in (0, 2, 3)}


def test_a_part_that_serves_who_has_left_is_said_on_the_front_until_it_is_judged(make, noon, client_as):
    part, item, by, client = make.part(), make.item(), make.everyone(), client_as()
    made = actions.assign_donor(part=part, patient=item, by=by, happened=noon)
    front = reverse("docket:stockroom")
    assert "a patient that has left" not in client.get(front).content.decode()
    Item.objects.filter(pk=item.pk).update(stage=Stage.HANDED_OVER)
    assert "1 serves a patient that has left</a>: say what came of it." in client.get(front).content.decode()
    assert [*client.get(reverse("stock:parts"), {"state": "left"}).context["page"]] == [part]
    actions.judge_part(assignment=made, outcome="worked", because="Read.", by=by, happened=noon)
    assert "a patient that has left" not in client.get(front).content.decode()


def test_a_scrapped_donor_is_asked_for_no_further_part(make, noon, client_as):
    part, by = make.part(), make.everyone()
    assert "List a part" in client_as().get(part.donor.get_absolute_url()).content.decode()
    actions.scrap_donor(donor=part.donor, by=by, happened=noon, because="Crashed.")
    assert "List a part" not in client_as().get(part.donor.get_absolute_url()).content.decode()
