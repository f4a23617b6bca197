"""The stockroom's pages, seen by an engineer (who keeps and assigns), the counter and an auditor (who look)."""

from __future__ import annotations

import csv
from io import StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.stock.models import Destination, DestinationAssignment, Donor, DonorPart, PartAssignment

LOOKERS = [Role.COUNTER, Role.AUDITOR]


@pytest.fixture
def stocked(make):
    """A patient, a part and a destination that fit it."""
    make.profile()
    make.family("Pelorus Minnow", aliases=[("Pelorus", "PL500")])
    return make.item(), make.part(), make.destination()


def page(client, name, /, *args, status=200, **query):
    answer = client.get(reverse(f"stock:{name}", args=[str(arg) for arg in args]), query)
    assert answer.status_code == status, answer.content.decode()
    return answer.content.decode()


def press(client, name, /, *args, query="", **sent):
    return client.post(reverse(f"stock:{name}", args=[str(arg) for arg in args]) + query, sent)


# --- everybody looks ---


@pytest.mark.parametrize("role", [Role.ENGINEER, *LOOKERS])
def test_everybody_sees_the_stock_and_the_matches(stocked, client_as, role):
    item, part, medium = stocked
    client = client_as(role)
    for name, args in (
        ("parts", []), ("destinations", []), ("families", []), ("donor", [part.donor]), ("destination", [medium]),
        ("assign", [item]), ("assign-donor", [item]), ("assign-destination", [item]), ("labels", []),
    ):  # fmt: skip
        page(client, name, *args)
    assert client.get(reverse("docket:stockroom")).status_code == 200


@pytest.mark.parametrize("role", LOOKERS)
def test_who_only_looks_gets_no_button_and_no_way_in(stocked, client_as, role):
    item, part, medium = stocked
    client = client_as(role)
    assert "Assign D-" not in page(client, "assign-donor", item)
    assert press(client, "assign-donor", item, chosen=str(part)).status_code == 403
    assert press(client, "assign-destination", item, chosen=str(medium)).status_code == 403
    for name, args in (("add-donor", []), ("add-destination", []), ("wipe", [medium]), ("list-part", [part.donor])):
        page(client, name, *args, status=403)
    assert DonorPart.objects.get(pk=part.pk).state == "free"


def test_a_manager_assigns_but_does_not_judge_after_use(stocked, make, client_as):
    item, part, _ = stocked
    client = client_as(Role.MANAGER)
    assert press(client, "assign-donor", item, chosen=str(part)).status_code == 303
    page(client, "judge-part", part, status=403)


# --- into stock ---


def test_a_donor_and_its_parts_come_in_by_one_form(make, client_as):
    make.profile()
    shelf = make.place(name="Shelf A1")
    sent = {
        "kind": "disk25", "maker": "Pelorus", "model": "PL500-2M", "serial": "PD2M-77", "gigabytes": "500",
        "sector_bytes": "512", "heads": "2", "source": "bought", "cost": "35.00", "place": shelf.pk,
        "parts": ["head stack", "controller board"],
    }  # fmt: skip
    answer = press(client_as(Role.ENGINEER), "add-donor", **sent)
    assert answer.status_code == 303, answer.content.decode()
    donor = Donor.objects.get()
    # SFF-8447: 97,696,368 + 1,953,504 × (500 - 50) sectors
    assert (donor.sectors, donor.cost, donor.currency) == (976_773_168, 3_500, "EUR")
    assert [part.part for part in donor.parts.all()] == ["head stack", "controller board"]
    assert donor.thing.place == shelf


def test_a_serial_we_know_is_said_loudly_and_kept_only_on_purpose(make, client_as):
    make.profile()
    make.donor(serial="PD2M-0077")
    client = client_as(Role.ENGINEER)
    sent = {"kind": "disk25", "serial": "pd2m 0077", "sector_bytes": "512", "source": "given", "parts": "motor"}
    refused = press(client, "add-donor", **sent)
    assert refused.status_code == 422
    assert "This serial is one of our own stock" in refused.content.decode()
    assert press(client, "add-donor", **sent, anyway="on").status_code == 303
    assert Donor.objects.count() == 2


def test_a_series_of_equal_media_leads_to_its_labels(make, client_as):
    make.profile()
    sent = {
        "use": "delivery",
        "state": "new and sealed",
        "kind": "stick",
        "sectors": "250,069,680",
        "sector_bytes": "512",
    }
    answer = press(client_as(Role.ENGINEER), "add-destination", **sent, how_many="3", serials="S-0001\nS-0002")
    assert answer.status_code == 303, answer.content.decode()
    assert answer.url.count("things=") == 3
    assert sorted(medium.serial for medium in Destination.objects.all()) == ["", "S-0001", "S-0002"]


def test_a_family_is_kept_with_the_names_it_is_sold_under(make, client_as):
    make.profile()
    client = client_as(Role.ENGINEER)
    sent = {"name": "Pelorus Minnow", "sold_as": "PL500\nTidewell, TW-500", "heads": "2", "quirks": "Beeps."}
    assert press(client, "add-family", **sent).status_code == 303
    assert "Tidewell TW500" in page(client, "families", q="tw500")


def test_a_further_part_and_a_test_are_noted(make, client_as):
    donor, client = make.donor(), client_as(Role.ENGINEER)
    assert press(client, "list-part", donor, part="motor").status_code == 303
    motor = donor.parts.get(part="motor")
    assert press(client, "note-test", motor, tested="turns, 3.2 Ω each way").status_code == 303
    assert "turns, 3.2 Ω each way" in page(client, "donor", donor)


# --- for a patient ---


def test_a_part_is_assigned_by_one_press_and_the_docket_says_why(stocked, client_as):
    item, part, _ = stocked
    client = client_as(Role.ENGINEER)
    assert f"Assign {part}" in page(client, "assign-donor", item)
    answer = press(client, "assign-donor", item, chosen=str(part))
    assert answer.status_code == 303
    docket = client.get(reverse("docket:case", args=[str(item.case)])).content.decode()
    assert str(part) in docket
    assert "Family is the same: Pelorus Minnow." in docket


def test_the_reason_field_shows_only_where_a_manager_may_lift_a_must(stocked, make, client_as):
    item, _, _ = stocked
    make.family("Corvane Tern", aliases=[("Corvane", "CT1000")])
    other = make.part(maker="Corvane", model="CT1000-1M")
    engineer, manager = client_as(Role.ENGINEER), client_as(Role.MANAGER)
    assert str(other) not in page(engineer, "assign-donor", item)
    assert 'name="lifted"' not in page(engineer, "assign-donor", item, excluded="on")
    assert page(manager, "assign-donor", item, excluded="on").count('name="lifted"') == 1
    refused = press(manager, "assign-donor", item, query="?excluded=on", chosen=str(other))
    assert refused.status_code == 422
    assert "Corvane Tern" in refused.content.decode()
    answer = press(manager, "assign-donor", item, chosen=str(other), lifted="Same mechanism, seen open.")
    assert answer.status_code == 303
    assert PartAssignment.objects.get().lifted == "Same mechanism, seen open."


def test_unknown_is_kept_among_the_candidates_and_different_is_not(stocked, make, client_as):
    item, same, _ = stocked
    unknown = make.part(maker="", model="", sectors=None, heads=None)
    make.family("Corvane Tern", aliases=[("Corvane", "CT1000")])
    different = make.part(maker="Corvane", model="CT1000-1M")
    shown = page(client_as(Role.ENGINEER), "assign-donor", item)
    assert shown.index(f'id="{same}"') < shown.index(f'id="{unknown}"')
    assert f'id="{different}"' not in shown
    assert "1 left out because a must differs" in shown


def test_the_match_page_says_who_holds_what_would_suit(stocked, make, client_as, noon):
    from labcases.stock import actions

    item, part, _ = stocked
    other = make.item()
    actions.assign_donor(part=part, patient=other, by=make.everyone(), happened=noon)
    shown = page(client_as(Role.ENGINEER), "assign-donor", item)
    assert "Held by others" in shown
    assert str(other) in shown


def test_the_smallest_destination_that_fits_comes_first_with_why_not_for_the_rest(stocked, make, client_as):
    item, _, right = stocked
    large, small = make.destination(sectors=item.sectors * 4), make.destination(sectors=item.sectors - 1)
    shown = page(client_as(Role.ENGINEER), "assign-destination", item)
    assert shown.index(f">{right}<") < shown.index(f">{large}<") < shown.index("Why not") < shown.index(f">{small}<")
    assert "(1 too few)" in shown


def test_a_destination_is_assigned_by_one_press(stocked, client_as):
    item, _, medium = stocked
    assert press(client_as(Role.ENGINEER), "assign-destination", item, chosen=str(medium)).status_code == 303
    assert Destination.objects.get(pk=medium.pk).held_for == item.case


def test_whose_data_a_medium_holds_stands_on_every_page_until_its_wipe(stocked, make, client_as):
    item, _, medium = stocked
    client, says = client_as(Role.ENGINEER), f"Holds data of case {item.case}"
    press(client, "assign-destination", item, chosen=str(medium))
    assert press(client, "release-destination", medium, written="yes").status_code == 303
    docket = client.get(reverse("docket:case", args=[str(item.case)])).content.decode()
    for shown in (page(client, "destinations"), page(client, "destination", medium), docket):
        assert says in shown
    assert says in page(client, "assign-destination", item)  # the same case may have it again, and is told
    sent = {"method": "clear", "tool": "overwrite 1.2", "verified": "full"}
    assert press(client, "wipe", medium, **sent).status_code == 303
    for shown in (page(client, "destinations"), page(client, "destination", medium)):
        assert says not in shown
    assert str(item.case) in page(client, "destination", medium)  # the wipe still says whose it was


def test_a_part_is_judged_after_use_where_its_donor_shows_it(stocked, client_as):
    item, part, _ = stocked
    client = client_as(Role.ENGINEER)
    press(client, "assign-donor", item, chosen=str(part))
    sent = {"outcome": "failed", "because": "Clicked at once.", "afterwards": "spoiled"}
    assert press(client, "judge-part", part, **sent).status_code == 303
    assert "Clicked at once." in page(client, "donor", part.donor)
    assert DonorPart.objects.get(pk=part.pk).state == "spoiled"


@pytest.mark.parametrize(
    ("part", "said"), [("head stack", "Heads often serve once"), ("controller board", "own ROM must move across")]
)
def test_the_match_page_says_what_to_mind_with_this_kind_of_part(stocked, client_as, part, said):
    assert said in page(client_as(Role.ENGINEER), "assign-donor", stocked[0], part=part)


# --- lists ---


def test_parts_are_narrowed_by_what_the_address_says(stocked, make, client_as):
    _, heads, _ = stocked
    board, client = make.part("controller board", maker="Corvane", model="CT1"), client_as(Role.AUDITOR)
    assert str(board) not in page(client, "parts", part="head stack")
    assert str(heads) in page(client, "parts", q="minnow", state="free", family=heads.donor.family_id)
    assert str(heads) not in page(client, "parts", q="corvane")
    assert str(heads) in page(client, "parts", q=heads.donor.serial.lower())


def test_media_are_narrowed_by_sectors_whatever_their_sector_size(make, client_as):
    make.profile()
    small, large = make.destination(sectors=1000), make.destination(sectors=1000, sector_bytes=4096)
    shown = page(client_as(Role.AUDITOR), "destinations", least="8,000", state="clean")
    assert str(large) in shown
    assert str(small) not in shown


@pytest.mark.parametrize("name", ["parts", "destinations", "families"])
def test_a_list_leaves_as_csv_row_by_row(stocked, client_as, name):
    answer = client_as(Role.AUDITOR).get(reverse(f"stock:{name}"), {"format": "csv"})
    rows = list(csv.reader(StringIO(b"".join(answer.streaming_content).decode())))
    assert len(rows) == 2
    assert len(rows[0]) == len(rows[1])


@pytest.mark.parametrize("sort", ["code", "-made", "family", "nonsense", "-", "state; drop"])
def test_a_list_is_sorted_by_what_it_knows_and_stands_any_other_word(stocked, client_as, sort):
    page(client_as(Role.AUDITOR), "parts", sort=sort)


def cost(client, address):
    with CaptureQueriesContext(connection) as ran:
        answer = client.get(address)
        assert answer.status_code == 200
        if answer.streaming:
            b"".join(answer.streaming_content)
    return len(ran)


def test_lists_and_fronts_cost_the_same_for_a_few_rows_or_many(stocked, make, client_as, noon):
    from labcases.stock import actions

    item, *_ = stocked
    addresses = [reverse(f"stock:{name}") for name in ("parts", "destinations", "families")]
    addresses += [f"{address}?format=csv" for address in addresses] + [reverse("docket:stockroom")]
    addresses += [reverse(f"stock:{name}", args=[str(item)]) for name in ("assign-donor", "assign-destination")]
    client, by = client_as(Role.ENGINEER), make.everyone()

    def more(n):
        for _ in range(n):
            other = make.item()
            actions.assign_donor(part=make.part(), patient=other, by=by, happened=noon)
            actions.assign_destination(destination=make.destination(), patient=other, by=by, happened=noon)
            make.part(), make.destination(), make.family()

    more(2)
    few = [cost(client, address) for address in addresses]
    more(8)
    assert [cost(client, address) for address in addresses] == few


def test_a_docket_costs_the_same_for_one_assignment_or_several(make, client_as, noon):
    from labcases.stock import actions

    case, by = make.case(items=4), make.everyone()
    client, items = client_as(Role.ENGINEER), list(case.items.all())

    def serve(item):
        actions.assign_donor(part=make.part(), patient=item, by=by, happened=noon)
        actions.assign_destination(destination=make.destination(), patient=item, by=by, happened=noon)

    serve(items[0])
    few = cost(client, reverse("docket:case", args=[str(case)]))
    for item in items[1:]:
        serve(item)
    assert cost(client, reverse("docket:case", args=[str(case)])) == few


# --- the front, and labels ---


def test_the_front_says_what_patients_wait_for_and_what_is_short(stocked, make, client_as, noon):
    from labcases.bench.actions import examine

    item, _, _ = stocked
    examine(
        item=item, by=make.everyone(), happened=noon, faults=["heads"], found="Head 1 weak.", prospects="fair",
        needs_part="head stack",
    )  # fmt: skip
    client = client_as(Role.ENGINEER)
    assert "1 may do" in client.get(reverse("docket:stockroom")).content.decode()
    DonorPart.objects.update(state="spoiled")
    assert "short: none that may do" in client.get(reverse("docket:stockroom")).content.decode()


def test_a_medium_that_serves_who_has_left_is_said_on_the_front(stocked, make, client_as):
    item, _, medium = stocked
    client = client_as(Role.ENGINEER)
    press(client, "assign-destination", item, chosen=str(medium))
    assert "that has left" not in client.get(reverse("docket:stockroom")).content.decode()
    type(item).objects.filter(pk=item.pk).update(stage="handed over")
    assert "a patient that has left" in client.get(reverse("docket:stockroom")).content.decode()
    assert str(medium) in page(client, "destinations", state="left")


def test_labels_are_printed_for_what_was_chosen_and_that_is_on_record(stocked, client_as):
    _, part, medium = stocked
    answer = press(client_as(Role.COUNTER), "labels", things=f"{part} {medium}", size="a4-3x8", first="3")
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF-")
    assert Event.objects.filter(kind="labelled").count() == 2


def test_a_released_medium_asks_whether_anything_was_written(stocked, client_as):
    item, _, medium = stocked
    client = client_as(Role.ENGINEER)
    press(client, "assign-destination", item, chosen=str(medium))
    assert press(client, "release-destination", medium).status_code == 422
    assert DestinationAssignment.objects.get().ended is None
    assert press(client, "release-destination", medium, written="no").status_code == 303
    assert Destination.objects.get(pk=medium.pk).held_for is None
