"""From the wish to the shelf: what is to be bought, how far it has come, and what new stock may do for it."""

from __future__ import annotations

import subprocess
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labcases.cases.models import Item
from labcases.core.models import Batch
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event, Thing
from labcases.lab.roles import Role
from labcases.paper.actions import reprint
from labcases.paper.models import Paper
from labcases.stock import actions
from labcases.stock.actions.buying import offer_batch
from labcases.stock.models import DonorPart, Need
from labcases.stock.papers import print_purchase_list
from labcases.stock.queries.buying import costs_of, needs_met_by


@pytest.fixture
def need(make, noon):
    item = make.item(board_number="PB-2210")
    return actions.raise_need(patient=item, part="controller board", by=make.everyone(), happened=noon)


@pytest.fixture
def by(make):
    return make.everyone()


def queries_of(work):
    with CaptureQueriesContext(connection) as ran:
        work()
    return len(ran)


def words_of(pdf):
    return subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True
    ).stdout.decode()


def order(need, by, noon, **about):
    said = {"supplier": "Harbour Surplus", "price": 4_500, "promised": date(2026, 3, 9)} | about
    return actions.order_need(need=need, by=by, happened=noon, **said)


def test_a_need_says_what_the_part_must_be(need):
    said = {line["attribute"]: (line["level"], line["value"]) for line in need.attributes}
    assert said["board_number"] == ("must", "PB-2210")
    assert "main_chip" not in said  # not known of the patient


def test_heads_that_are_only_counted_are_on_the_list_as_a_count(make, noon, by):
    item = make.item()
    item.heads = 4
    item.save(update_fields=["heads"])
    need = actions.raise_need(patient=item, part="head stack", by=by, happened=noon)
    assert ("Heads", "must", "4 heads") in [(one["label"], one["level"], one["value"]) for one in need.attributes]


def test_one_kind_is_to_be_bought_once_for_a_patient(make, noon, need, by):
    with pytest.raises(actions.NotNow, match="is on the list to buy already"):
        actions.raise_need(patient=need.item, part="controller board", by=by, happened=noon)
    actions.raise_need(patient=need.item, part="motor", by=by, happened=noon)


def test_it_is_ordered_arrives_is_wrong_and_is_ordered_again(noon, need, by):
    order(need, by, noon)
    actions.receive_need(need=need, by=by, happened=noon)
    actions.wrong_inside(need=need, by=by, happened=noon, because="Another board revision.")
    order(need, by, noon, supplier="Mole Parts")
    assert (need.state, need.supplier, need.arrived) == ("ordered", "Mole Parts", None)


@pytest.mark.parametrize("verb", [actions.receive_need, actions.wrong_inside, actions.send_back])
def test_no_step_is_taken_before_its_time(noon, need, by, verb):
    about = {} if verb is actions.receive_need else {"because": "x"}
    with pytest.raises(actions.NotNow, match="is to buy"):
        verb(need=need, by=by, happened=noon, **about)


def test_the_second_of_two_who_note_the_order_is_told(noon, need, by):
    order(Need.objects.get(), by, noon)
    with pytest.raises(actions.NotNow, match="is ordered"):
        order(need, by, noon)


def test_the_case_pays_what_was_bought_and_not_what_went_back(noon, need, by):
    order(need, by, noon, non_refundable=True)
    (cost,) = costs_of(need.item.case)
    assert (cost.words, cost.amount, cost.non_refundable) == ("controller board for item 1", 4_500, True)
    actions.receive_need(need=need, by=by, happened=noon)
    actions.send_back(need=need, by=by, happened=noon, because="Wrong inside.")
    assert costs_of(need.item.case) == []


@pytest.fixture
def twice(noon, need, by):
    """Ordered, wrong inside, and ordered once more elsewhere."""
    order(need, by, noon, non_refundable=True)
    actions.receive_need(need=need, by=by, happened=noon)
    actions.wrong_inside(need=need, by=by, happened=noon, because="Another board revision.")
    return order(need, by, noon, supplier="Mole Parts", price=6_000)


def test_what_came_wrong_and_was_paid_still_counts_beside_the_new_order(noon, twice, by):
    (earlier,) = twice.earlier.all()
    assert (earlier.supplier, earlier.because, twice.because) == ("Harbour Surplus", "Another board revision.", "")
    assert [(cost.amount, cost.non_refundable) for cost in costs_of(twice.item.case)] == [(6_000, False), (4_500, True)]
    actions.send_earlier_back(order=earlier, by=by, happened=noon, because="Refunded.")
    assert [cost.amount for cost in costs_of(twice.item.case)] == [6_000]
    with pytest.raises(actions.NotNow, match="went back already"):
        actions.send_earlier_back(order=earlier, by=by, happened=noon, because="Refunded.")


def test_the_page_of_a_need_tells_of_the_earlier_order_and_lets_it_go_back(twice, client_as):
    client, (earlier,) = client_as(), twice.earlier.all()
    address = reverse("stock:send-earlier-back", args=[earlier.pk])
    page = client.get(twice.get_absolute_url()).content.decode()
    assert "Ordered before: Harbour Surplus" in page
    assert address in page
    assert client.get(address).status_code == 200
    assert client.post(address, {"because": "Refunded."}).status_code == 303
    assert "Went back" in client.get(twice.get_absolute_url()).content.decode()


def test_what_is_dropped_counts_where_the_customer_pays_it_anyway(noon, need, by):
    order(need, by, noon, non_refundable=True)
    actions.drop_need(need=need, by=by, happened=noon, because="The customer declined.")
    assert [cost.amount for cost in costs_of(need.item.case)] == [4_500]


def test_what_arrived_is_taken_into_stock_with_what_the_order_says(noon, need, by, client_as):
    order(need, by, noon)
    client = client_as()
    form = client.get(reverse("stock:add-donor"), {"need": need.pk}).context["form"]
    assert (form["supplier"].value(), form["cost"].value()) == ("Harbour Surplus", "45.00")
    assert form["parts"].value() == ["controller board"]
    for odd in ("x", "9" * 30, "777"):
        assert client.get(reverse("stock:add-donor"), {"need": odd}).status_code == 200


def test_new_stock_is_offered_the_moment_it_is_entered(make, need):
    fits, other = make.part("controller board", board_number="PB2210"), make.part("controller board", board_number="X1")
    need.refresh_from_db()
    assert need.offered == fits
    assert needs_met_by([other]) == []


def test_of_several_new_parts_the_best_is_offered(make, noon, need, by):
    bare, good = make.part("controller board"), make.part("controller board", board_number="PB-2210")
    met = actions.offer_to_needs(parts=[bare, good], by=by, happened=noon)
    assert [one.part for one in met] == [good, bare]
    need.refresh_from_db()
    assert need.offered == good


def test_a_part_listed_later_is_offered_too(make, noon, need, by):
    donor = make.donor(parts=["motor"], board_number="PB-2210")
    part = actions.list_part(donor=donor, part="controller board", by=by, happened=noon)
    need.refresh_from_db()
    assert need.offered == part


def test_assigning_meets_the_need(make, noon, need, by):
    part = make.part("controller board", board_number="PB-2210")
    actions.assign_donor(part=part, patient=need.item, by=by, happened=noon)
    need.refresh_from_db()
    assert (need.state, need.met_by) == ("met", part)


def test_a_donor_that_is_corrected_is_held_against_the_list_once_more(make, noon, need, by):
    part = make.part("controller board", board_number="X1")
    assert (need.refresh_from_db(), need.offered) == (None, None)
    donor = part.donor
    seen = Thing.objects.get(pk=donor.thing_id).last_event
    actions.change_donor(donor=donor, seen=seen, by=by, happened=noon, board_number="PB-2210")
    need.refresh_from_db()
    assert need.may_do == part


def test_a_part_that_comes_back_unused_is_held_against_the_list(make, noon, by):
    part = make.part("controller board", board_number="PB-2210")
    made = actions.assign_donor(part=part, patient=make.item(board_number="PB-2210"), by=by, happened=noon)
    need = actions.raise_need(patient=make.item(board_number="PB-2210"), part="controller board", by=by, happened=noon)
    actions.release_part(assignment=made, by=by, happened=noon, because="Not needed.")
    need.refresh_from_db()
    assert need.may_do == part


def test_what_was_offered_and_is_gone_or_kept_for_another_is_offered_no_more(make, noon, need, by):
    part = make.part("controller board", board_number="PB-2210")
    need.refresh_from_db()
    assert need.may_do == part
    until = timezone.now() + timedelta(days=1)
    other = make.item(board_number="PB-2210")
    actions.reserve_part(part=part, patient=other, until=until, by=by, happened=noon)
    assert Need.objects.get().may_do is None
    actions.assign_donor(part=part, patient=other, by=by, happened=noon)
    assert Need.objects.get().may_do is None


def test_who_adds_a_donor_sees_at_once_whom_it_may_serve(make, need, client_as):
    part = make.part("controller board", board_number="PB-2210")
    page = client_as().get(part.donor.get_absolute_url()).content.decode()
    assert f'<span class="code">{part}</span> may do for' in page


def test_what_came_in_with_a_table_is_offered_and_may_go_again(make, need):
    batch = Batch.objects.create(shown=timezone.now())
    part = make.part("controller board", board_number="PB-2210")
    Need.objects.update(offered=None)
    Thing.objects.filter(pk=part.thing_id).update(batch=batch)
    offer_batch(batch.pk)
    need.refresh_from_db()
    assert need.offered == part
    DonorPart.objects.filter(pk=part.pk).delete()
    need.refresh_from_db()
    assert need.offered is None


def test_the_quote_page_says_what_was_bought(noon, need, by, client_as):
    order(need, by, noon, non_refundable=True)
    page = client_as().get(reverse("office:quote", args=[str(need.item.case)])).content.decode()
    assert "Bought for it: controller board for item 1" in page
    assert "a fee that is not given back" in page


def test_what_is_no_longer_needed_leaves_the_list(noon, need, by):
    actions.drop_need(need=need, by=by, happened=noon, because="The customer declined.")
    assert not Need.objects.still_open().exists()


def test_the_counter_orders_nothing(make, noon, need):
    with pytest.raises(NotAllowed):
        order(need, make.actor(Role.COUNTER), noon)


def test_holding_new_stock_against_needs_costs_the_same_for_few_or_many(make, noon, by):
    def more(number):
        for _ in range(number):
            item = make.item(board_number="PB-2210")
            actions.raise_need(patient=item, part="controller board", by=by, happened=noon)

    more(2)
    make.part("controller board", board_number="PB-2210")
    parts = DonorPart.objects.select_related("donor", "thing")
    few = queries_of(lambda: needs_met_by(list(parts.all())))
    more(4)
    for _ in range(3):
        make.part("controller board", board_number="PB-2210")
    assert queries_of(lambda: needs_met_by(list(parts.all()))) == few


# --- pages ----------------------------------------------------------------------------------------------------------


def test_from_the_match_page_to_the_shelf(make, client_as):
    item, client = make.item(board_number="PB-2210"), client_as()
    match = client.get(reverse("stock:assign-donor", args=[str(item)]) + "?part=controller board").content.decode()
    address = reverse("stock:raise-need", args=[str(item)])
    assert f"{address}?part=controller%20board" in match
    assert client.get(f"{address}?part=controller board").context["form"]["part"].value() == "controller board"
    assert client.post(address, {"part": "controller board", "note": "Before Friday."}).status_code == 303
    need = Need.objects.get()
    for name, said in [
        ("order-need", {"supplier": "Harbour Surplus", "price": "45.00", "promised": "2020-03-09"}),
        ("receive-need", {}),
        ("wrong-inside", {"because": "Other heads."}),
        ("send-back", {"because": "Refunded."}),
    ]:
        page = client.get(need.get_absolute_url()).content.decode()
        assert reverse(f"stock:{name}", args=[need.pk]) in page
        assert client.get(reverse(f"stock:{name}", args=[need.pk])).status_code == 200
        assert client.post(reverse(f"stock:{name}", args=[need.pk]), said).status_code == 303
    need.refresh_from_db()
    assert (need.state, need.price) == ("returned", 4_500)
    assert client.get(need.get_absolute_url()).status_code == 200


def test_the_docket_says_what_is_bought_and_kept_for_each_patient(make, noon, need, by, client_as):
    order(need, by, noon)
    part, until = make.part("motor"), timezone.now() + timedelta(days=1)
    actions.reserve_part(part=part, patient=need.item, until=until, by=by, happened=noon)
    page = client_as().get(reverse("docket:case", args=[str(need.item.case)])).content.decode()
    for said in ("on the list to buy: ", "Harbour Surplus, ", "45.00", f"{part}</a>: reserved for it until"):
        assert said in page


def test_what_is_late_says_so(noon, need, by, client_as):
    order(need, by, noon, promised=date(2020, 1, 1))
    client = client_as()
    for place in (reverse("stock:to-buy"), reverse("docket:stockroom"), need.get_absolute_url()):
        assert ", late" in client.get(place).content.decode()


def test_the_purchase_list_is_a_paper_of_what_is_not_bought_yet(noon, need, by, client_as):
    client, place = client_as(), reverse("stock:purchase-list")
    page = client.get(place).content.decode()
    assert "PB-2210" in page
    assert "Print the purchase list" in page
    answer = client.post(place)
    paper = Paper.objects.get(kind="purchase-list")
    assert (answer.status_code, answer.headers["Location"]) == (303, paper.get_absolute_url())
    said = words_of(client.get(paper.get_absolute_url()).content)
    assert "PB-2210" in said
    assert str(need.item) in said
    assert need.item.case.owner.name not in said  # it is shown to those who sell
    assert paper.get_absolute_url() in client.get(place).content.decode()
    order(need, by, noon)
    assert "PB-2210" not in client.get(place).content.decode()


def test_the_same_list_is_the_same_paper_and_another_is_another(make, noon, need, by):
    first = print_purchase_list(by=by, issued=noon)
    assert print_purchase_list(by=by, issued=timezone.now()) == first
    actions.raise_need(patient=need.item, part="motor", by=by, happened=noon)
    assert print_purchase_list(by=by, issued=timezone.now()) != first
    assert Event.objects.filter(kind="paper-printed").count() == 2


def test_the_list_says_under_which_names_the_family_is_sold(make, noon, by, client_as):
    family = make.family("Pelorus Minnow")
    family.aliases.create(maker="Kestrel", model_start="KS5")
    item = make.item()
    Item.objects.filter(pk=item.pk).update(family=family)
    actions.raise_need(patient=Item.objects.get(pk=item.pk), part="head stack", by=by, happened=noon)
    assert "Kestrel KS5…" in client_as().get(reverse("stock:purchase-list")).content.decode()
    said = words_of(reprint(print_purchase_list(by=by, issued=noon)))
    assert "Kestrel KS5…" in said


def test_an_empty_list_is_not_printed_and_says_so(make, client_as):
    make.everyone()
    answer = client_as().post(reverse("stock:purchase-list"))
    assert answer.status_code == 422
    assert "Nothing is to be bought." in answer.content.decode()
    assert not Paper.objects.exists()


def test_only_who_buys_prints_the_list(need, client_as):
    counter = client_as(Role.COUNTER)
    assert "Print the purchase list" not in counter.get(reverse("stock:purchase-list")).content.decode()
    assert counter.post(reverse("stock:purchase-list")).status_code == 403


def test_what_becomes_known_of_the_patient_is_on_the_list_until_it_is_ordered(noon, need, by, client_as):
    Item.objects.filter(pk=need.item_id).update(main_chip="QX88")
    for place in (reverse("stock:purchase-list"), reverse("stock:to-buy"), need.get_absolute_url()):
        assert "QX88" in client_as().get(place).content.decode()
    order(Need.objects.get(), by, noon)
    Item.objects.filter(pk=need.item_id).update(main_chip="RX90")
    page = client_as().get(need.get_absolute_url()).content.decode()
    assert ("QX88" in page, "RX90" in page) == (True, False)


@pytest.mark.parametrize(("sought", "found"), [("", 1), ("?state=met", 0), ("?q=before friday", 0), ("?part=motor", 0)])
def test_the_list_is_narrowed_by_its_address(need, client_as, sought, found):
    assert len(client_as().get(reverse("stock:to-buy") + sought).context["rows"]) == found


def test_the_list_goes_out_as_a_file(need, client_as):
    answer = client_as().get(reverse("stock:to-buy") + "?format=csv")
    assert "Board number PB-2210" in b"".join(answer.streaming_content).decode()


def test_an_order_without_a_place_is_asked_again(need, client_as):
    answer = client_as().post(reverse("stock:order-need", args=[need.pk]), {"price": "12"})
    assert answer.status_code == 422
    assert "Say where it is ordered." in answer.content.decode()
