"""Stocktakes: what is expected, what is counted by whom, what differs and how it is answered."""

from __future__ import annotations

import html

import pytest
from django.urls import reverse

from labcases.core import codes
from labcases.custody.models import Event, Thing
from labcases.lab.roles import Role
from labcases.stock.takes.actions import (
    NoCode,
    NotSettled,
    TakenAlready,
    TakeOver,
    answer,
    begin_take,
    count,
    drop_take,
    sign_off,
    unanswered,
)
from labcases.stock.takes.models import TakeLine


@pytest.fixture
def by(make):
    make.profile()
    return make.everyone()


@pytest.fixture
def shelves(make):
    return make.place(name="Shelf A"), make.place(name="Shelf B")


@pytest.fixture
def media(make, shelves):
    """Two on the first shelf, one on the second, one elsewhere."""
    first, second = shelves
    return [make.destination(at=place) for place in (first, first, second, make.place(name="Safe"))]


@pytest.fixture
def take(media, shelves, by, noon):
    return begin_take(places=shelves, by=by, happened=noon, words="Yearly")


@pytest.fixture
def scan(take, shelves, by, noon):
    def run(read, place=None, **about):
        about = {"by": by, "happened": noon} | about
        return count(take=take, read=str(read), place=place or shelves[0], **about)

    return run


def line_of(medium):
    return TakeLine.objects.with_context().get(code=medium.thing.code)


def place_of(medium):
    return Thing.objects.get(pk=medium.thing_id).place


# --- beginning and counting ---


def test_what_the_book_says_lies_there_is_expected(take, media):
    assert set(take.lines.values_list("code", flat=True)) == {medium.thing.code for medium in media[:3]}
    assert take.lines.counts()["expected"] == 3


def test_parts_on_their_donor_count_with_it(make, by, noon):
    shelf = make.place()
    donor = make.donor(parts=["head stack", "controller board"], at=shelf)
    made = begin_take(places=[shelf], by=by, happened=noon)
    assert [line.thing for line in made.lines.all()] == [donor.thing]


@pytest.mark.parametrize(
    ("which", "shelf", "outcome"),
    [(0, 0, "found"), (0, 1, "misplaced"), (2, 0, "misplaced"), (3, 0, "unexpected")],
)
def test_each_scan_has_its_outcome(scan, media, shelves, which, shelf, outcome):
    counted = scan(media[which], shelves[shelf])
    assert (counted.outcome, counted.fresh) == (outcome, True)


@pytest.mark.parametrize("read", ["LC{}", "{}", "lc {}"])
def test_a_code_counts_in_any_spelling(scan, media, read):
    assert scan(read.format(media[0].thing.code)).outcome == "found"


def test_a_serial_that_one_thing_has_counts_it(scan, media):
    assert scan(media[0].serial).outcome == "found"


def test_a_code_that_no_thing_has_is_unknown(scan):
    nobody = codes.with_check(codes.stock_body("W", 99_999))
    assert scan(nobody).outcome == "unknown"
    assert scan("4006381333931").outcome == "unknown"  # some other label


def test_a_mistyped_code_is_no_difference_of_the_stock(scan, take, media):
    wrong = str(media[0])[:-1] + ("A" if str(media[0])[-1] != "A" else "B")
    with pytest.raises(NoCode, match="check character"):
        scan(wrong)
    assert not take.lines.exclude(counted=None).exists()


def test_a_piece_of_a_code_is_no_unknown_code(scan, take):
    with pytest.raises(NoCode, match="too short"):
        scan("007A")
    assert not take.lines.filter(outcome="unknown").exists()


def test_the_label_of_a_shelf_changes_the_place(scan, shelves, make):
    assert scan(codes.printed(shelves[1].code)).place == shelves[1]
    other = scan(codes.printed(make.place().code))
    assert other.place is None
    assert "no place of this stocktake" in other.sentence


def test_counted_twice_it_counts_once_and_says_who(scan, media, take, by):
    scan(media[0])
    again = scan(media[0])
    assert not again.fresh
    assert by.name in again.sentence
    assert take.lines.counts()["found"] == 1


def test_carried_over_and_read_again_it_lies_where_it_was_read_last(scan, media, shelves):
    scan(media[0], shelves[1])
    assert scan(media[0], shelves[0]).outcome == "found"
    assert line_of(media[0]).outcome == "found"


def test_two_stocktakes_never_count_one_shelf(take, shelves, by, noon):
    with pytest.raises(TakenAlready, match="Yearly counts one"):
        begin_take(places=shelves[:1], by=by, happened=noon)


# --- answers ---


def test_found_elsewhere_it_lies_there_by_a_real_event(scan, media, take, shelves, by, noon):
    scan(media[0], shelves[1])
    assert answer(take=take, lines=[line_of(media[0])], how="here", by=by, happened=noon) == 1
    assert place_of(media[0]) == shelves[1]
    assert Event.objects.filter(kind="found", thing_code=media[0].thing.code).count() == 1


def test_carried_back_it_stays_in_the_book_where_it_was(scan, media, take, shelves, by, noon):
    scan(media[3])
    answer(take=take, lines=[line_of(media[3])], how="back", by=by, happened=noon)
    assert place_of(media[3]).name == "Safe"


def test_what_is_missing_is_on_record_of_its_thing(media, take, by, noon):
    answer(take=take, lines=[line_of(media[0])], how="missing", by=by, happened=noon)
    assert Event.objects.get(kind="not-found").thing_code == media[0].thing.code


def test_what_is_missing_lies_nowhere_in_the_book(media, take, by, noon):
    answer(take=take, lines=[line_of(media[0])], how="missing", by=by, happened=noon)
    thing = Thing.objects.get(pk=media[0].thing_id)
    assert (str(thing.whereabouts), thing.breaks_open) == ("not known", 0)
    assert not line_of(media[0]).moved_meanwhile


def test_what_was_missing_and_turns_up_goes_on_from_nowhere(scan, media, take, shelves, by, noon):
    answer(take=take, lines=[line_of(media[0])], how="missing", by=by, happened=noon)
    assert "the book says: not known" in scan(media[0], shelves[0]).sentence
    assert answer(take=take, lines=[line_of(media[0])], how="here", by=by, happened=noon) == 1
    assert place_of(media[0]) == shelves[0]
    assert Thing.objects.get(pk=media[0].thing_id).breaks_open == 0


def test_what_lay_on_another_shelf_than_the_book_said_is_a_gap_of_its_line(scan, media, take, shelves, by, noon):
    scan(media[0], shelves[1])
    answer(take=take, lines=[line_of(media[0])], how="here", by=by, happened=noon)
    assert [row.kind for row in media[0].thing.breaks.all()] == ["gap"]


def test_an_answer_counts_once(media, take, by, noon):
    for counted in (1, 0):
        assert answer(take=take, lines=[line_of(media[0])], how="missing", by=by, happened=noon) == counted
    assert Event.objects.filter(kind="not-found").count() == 1


@pytest.mark.parametrize("how", ["here", "back"])
def test_an_answer_that_does_not_go_with_a_line_is_refused_and_nothing_is_half_done(media, take, scan, by, noon, how):
    scan(media[3])
    both = [line_of(media[3]), line_of(media[0])]
    with pytest.raises(NotSettled, match="no answer to that"):
        answer(take=take, lines=both, how=how, by=by, happened=noon)
    assert not TakeLine.objects.exclude(answer="").exists()


def test_what_the_book_moved_meanwhile_needs_no_answer(media, take, scan, make, by, noon):
    from labcases.custody.actions import move

    scan(media[1]), scan(media[2], take.places.get(name="Shelf B"))
    move(thing=media[0].thing, to=make.place(name="Bench 9"), by=by, happened=noon)
    assert line_of(media[0]).moved_meanwhile == "Bench 9"
    assert unanswered(take) == []


# --- signing off ---


def test_it_is_signed_off_when_everything_is_answered_and_then_nothing_counts(scan, media, take, by, noon):
    for medium in media[:2]:
        scan(medium)
    with pytest.raises(NotSettled, match="1 without an answer"):
        sign_off(take=take, by=by, happened=noon)
    answer(take=take, lines=[line_of(media[2])], how="missing", by=by, happened=noon)
    assert sign_off(take=take, by=by, happened=noon).ended_by == by.staff
    with pytest.raises(TakeOver):
        scan(media[3])
    with pytest.raises(TakeOver):
        drop_take(take=take, by=by, happened=noon, because="again")


def test_dropped_it_frees_its_shelves(take, shelves, by, noon):
    drop_take(take=take, by=by, happened=noon, because="wrong shelf")
    assert begin_take(places=shelves, by=by, happened=noon).lines.count() == 3


def test_who_only_counts_does_not_sign(take, make, noon):
    from labcases.core.refused import NotAllowed

    with pytest.raises(NotAllowed):
        sign_off(take=take, by=make.actor(Role.COUNTER), happened=noon)


# --- pages ---


def page(client, name, *args, query=""):
    answer_ = client.get(reverse(f"stock:{name}", args=args) + query)
    assert answer_.status_code == 200
    return html.unescape(answer_.content.decode())


def press(client, name, /, *args, **sent):
    answer_ = client.post(reverse(f"stock:{name}", args=args), sent)
    return answer_.status_code, html.unescape(answer_.content.decode())


def test_a_stocktake_from_beginning_to_signature_by_pressing(media, shelves, client_as, by):
    client = client_as()
    assert press(client, "begin-take", places=[place.pk for place in shelves], words="Yearly")[0] == 303
    pk = TakeLine.objects.first().take_id
    for medium, place in ((media[0], 0), (media[1], 0), (media[2], 0)):
        status, shown = press(client, "take", pk, read=f"LC{medium.thing.code}", place=shelves[place].pk)
        assert status == 200
    assert "belongs in Shelf B" in shown
    status, shown = press(client, "sign-take", pk)
    assert status == 422
    assert "without an answer" in shown
    assert str(media[2]) in page(client, "take-lines", pk, query="?outcome=differs")
    assert press(client, "take-lines", pk, lines=[line_of(media[2]).pk], how="here")[0] == 303
    assert press(client, "sign-take", pk, because="All there.")[0] == 303
    assert "All there." in page(client, "take", pk)
    assert "Yearly" in page(client, "takes")


def test_a_scan_gives_only_the_part_of_the_page_that_changed(take, media, shelves, client_as):
    client = client_as(Role.COUNTER)
    sent = {"read": str(media[0]), "place": shelves[0].pk}
    shown = client.post(reverse("stock:take", args=[take.pk]), sent, headers={"HX-Request": "true"}).content.decode()
    assert "found." in shown
    assert "<h1" not in shown


def test_the_shelf_that_was_scanned_stays_chosen_with_scripts_and_without(take, shelves, client_as):
    client = client_as(Role.COUNTER)
    _, shown = press(client, "take", take.pk, read=codes.printed(shelves[1].code), place=shelves[0].pk)
    assert f'<option value="{shelves[1].pk}" selected>' in shown
    assert f'data-place="{shelves[1].pk}"' in shown


@pytest.mark.parametrize("read", ["", "W-00001-A"])
def test_what_cannot_be_counted_is_a_sentence_and_stays_typed(take, shelves, client_as, read):
    status, shown = press(client_as(Role.COUNTER), "take", take.pk, read=read, place=shelves[0].pk)
    assert status == 422
    assert "data-wrongs" in shown


def test_lines_come_as_csv(take, media, scan, client_as):
    scan(media[0])
    answer_ = client_as(Role.AUDITOR).get(reverse("stock:take-lines", args=[take.pk]) + "?format=csv&outcome=found")
    lines = b"".join(answer_.streaming_content).decode().splitlines()
    assert lines[1].startswith(f"{media[0]},")
    assert ",found,Shelf A,Shelf A," in lines[1]
    assert len(lines) == 2


def test_the_page_asks_as_often_for_many_things_as_for_few(make, by, noon, client_as, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client, asked = client_as(), []
    for many in (2, 30):
        shelf = make.place()
        for _ in range(many):
            make.destination(at=shelf)
        made = begin_take(places=[shelf], by=by, happened=noon)
        for line in list(made.lines.all())[: many // 2]:
            count(take=made, read=line.code, place=shelf, by=by, happened=noon)
        with CaptureQueriesContext(connection) as caught:
            page(client, "take", made.pk), page(client, "take-lines", made.pk)
        asked.append(len(caught))
    assert asked[0] == asked[1]
