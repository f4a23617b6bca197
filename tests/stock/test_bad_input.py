"""What people type, paste and press wrongly in the stockroom: a sentence, nothing lost, nothing half-done."""

from __future__ import annotations

import html

import pytest
from django.urls import reverse

from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.stock.models import Destination, Donor, DonorPart, Family, PartAssignment

MEDIUM = {"use": "clone", "state": "new and sealed", "kind": "disk35", "sectors": "1000", "sector_bytes": "512"}
DONOR = {"kind": "disk25", "sector_bytes": "512", "source": "bought", "parts": "head stack"}
KEY = "8a8a8a8a-0000-4000-8000-000000000001"


@pytest.fixture
def client(make, client_as):
    make.profile()
    return client_as(Role.ENGINEER)


def press(client, name, /, *args, **sent):
    answer = client.post(reverse(f"stock:{name}", args=[str(arg) for arg in args]), sent)
    return answer.status_code, html.unescape(answer.content.decode())


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"sectors": "-5"}, "at least one sector"),
        ({"sectors": "0"}, "at least one sector"),
        ({"sectors": "many"}, "Write a whole number."),
        ({"sectors": "9" * 30}, "less than or equal to"),
        ({"sectors": ""}, "Say how many sectors it has"),
        ({"sectors": "1000", "gigabytes": "500"}, "either the sectors or the printed gigabytes"),
        ({"sectors": "", "gigabytes": "500", "sector_bytes": "520"}, "sectors of 512 or 4096 bytes"),
        ({"sector_bytes": "513"}, "513 is not one of the available choices"),
        ({"kind": "zeppelin"}, "zeppelin is not one of the available choices"),
        ({"state": "holds customer data"}, "is not one of the available choices"),
        ({"how_many": "100000"}, "less than or equal to 200"),
        ({"how_many": "1", "serials": "A-0001\nB-0002"}, "2 serials are listed"),
        ({"serials": "A-0001\na0001"}, "a0001 is listed twice"),
        ({"serials": "9" * 101}, "longer than a serial"),
        ({"maker": "x" * 101}, "at most 100 characters"),
        ({"cost": "-3"}, "cannot be less than nothing"),
        ({"cost": "12.345"}, "decimals"),
        ({"own_of": "26-00417-A"}, "check character"),
        ({"own_of": "26-00417-D"}, "There is no case 26-00417-D."),
        ({"happened": "2099-01-01T10:00"}, "lies in the future"),
        ({"place": "999"}, "Select a valid choice"),
    ],
)
def test_a_wrong_medium_is_answered_with_a_sentence_and_keeps_what_was_typed(client, wrong, says):
    status, shown = press(client, "add-destination", **MEDIUM | {"note": "From the blue box."} | wrong)
    assert status == 422
    assert says in shown
    assert "From the blue box." in shown
    assert not Destination.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"parts": []}, "stock counts parts"),
        ({"parts": "flux"}, "flux is not one of the available choices"),
        ({"heads": "-1"}, "greater than or equal to 0"),
        ({"heads": "4000"}, "less than or equal to 99"),
        ({"made": "30.02.2026"}, "Write the day as 2024-03-09"),
        ({"made": "2099-01-01"}, "2099-01-01 is no day on which it can have been made."),
        ({"made": "0024-03-09"}, "0024-03-09 is no day on which it can have been made."),
        ({"serial": "9" * 101}, "at most 100 characters"),
        ({"family": "77"}, "Select a valid choice"),
    ],
)
def test_a_wrong_donor_is_answered_with_a_sentence(client, wrong, says):
    status, shown = press(client, "add-donor", **DONOR | {"maker": "Pelorus"} | wrong)
    assert status == 422
    assert says in shown
    assert 'value="Pelorus"' in shown
    assert not Donor.objects.exists()


def test_other_alphabets_stay_and_control_characters_go(client):
    status, _ = press(client, "add-donor", **DONOR | {"maker": "Пелорус\x00 \u202eमत्स्य", "serial": "ΑΒ\x07-12"})
    assert status == 303
    donor = Donor.objects.get()
    assert (donor.maker, donor.serial) == ("Пелорус मत्स्य", "ΑΒ -12")


def test_a_double_press_adds_one_donor(client):
    sent = DONOR | {"once": KEY}
    assert [press(client, "add-donor", **sent)[0] for _ in range(2)] == [303, 303]
    assert Donor.objects.count() == 1
    status, shown = press(client, "add-donor", **sent | {"maker": "Corvane"})
    assert status == 422
    assert "already sent, with other content" in shown


def test_a_double_press_assigns_once(client, make):
    item, part = make.item(), make.part()
    sent = {"chosen": str(part), "once": KEY}
    assert [press(client, "assign-donor", item, **sent)[0] for _ in range(2)] == [303, 303]
    assert PartAssignment.objects.count() == 1


def test_who_was_slower_gets_the_sentence_and_the_other_candidates(client, make):
    first, second, part = make.item(), make.item(), make.part()
    other = make.part()
    assert press(client, "assign-donor", first, chosen=str(part))[0] == 303
    status, shown = press(client, "assign-donor", second, chosen=str(part))
    assert status == 422
    assert f"{part} is taken by" in shown
    assert f"Assign {other}" in shown


@pytest.mark.parametrize("chosen", ["", "x", "D-00001-P1-A", "26-00417-D", "D-99999-P1-X", "💥", "D" * 300])
def test_a_code_that_is_no_part_of_ours_is_a_sentence_on_the_page(client, make, chosen):
    item, part = make.item(), make.part()
    for name in ("assign-donor", "assign-destination"):
        status, shown = press(client, name, item, chosen=chosen)
        assert status == 422
        assert "data-wrongs" in shown
    assert DonorPart.objects.get(pk=part.pk).state == "free"


@pytest.mark.parametrize("code", ["D-00001-A", "W-99999-X", "nonsense", "26-00417-D", "%F0%9F%92%A5"])
@pytest.mark.parametrize("name", ["donor", "destination", "wipe", "retire", "release-part", "judge-part", "assign"])
def test_an_address_with_a_wrong_code_is_not_found_in_a_sentence(client, name, code):
    answer = client.get(f"/stockroom/{PATHS[name].format(code)}")
    assert answer.status_code == 404


PATHS = {
    "donor": "donors/{}/",
    "destination": "media/{}/",
    "wipe": "media/{}/wipe/",
    "retire": "media/{}/retire/",
    "release-part": "parts/{}/release/",
    "judge-part": "parts/{}/judge/",
    "assign": "for/{}/",
}


def test_a_stale_page_of_corrections_is_refused_and_keeps_what_was_typed(client, make):
    donor = make.donor()
    stale = {**DONOR, "seen": donor.thing.last_event, "firmware": "M1.07"}
    assert press(client, "change-donor", donor, **stale)[0] == 303
    status, shown = press(client, "change-donor", donor, **stale | {"firmware": "M9.99"})
    assert status == 422
    assert "after this page was opened" in shown
    assert 'value="M9.99"' in shown
    assert Donor.objects.get().firmware == "M1.07"


def test_a_stale_page_of_release_is_refused(client, make):
    item, part = make.item(), make.part()
    press(client, "assign-donor", item, chosen=str(part))
    assert press(client, "release-part", part, because="Not needed.")[0] == 303
    status, shown = press(client, "release-part", part, because="Not needed, really.")
    assert status == 422
    assert "ended already" in shown
    assert "Not needed, really." in shown


def test_what_serves_nobody_is_neither_released_nor_judged(client, make):
    part, medium = make.part(), make.destination()
    for name, thing in (("release-part", part), ("judge-part", part), ("release-destination", medium)):
        status, shown = press(client, name, thing)
        assert status == 409
        assert "serves nobody" in shown


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"tool": ""}, "needed"),
        ({"method": "sprinkle"}, "sprinkle is not one of the available choices"),
        ({"method": "destroy"}, "Nothing can be read back"),
        ({"verified": "seen"}, "verified by reading"),
    ],
)
def test_a_wipe_that_says_too_little_is_not_on_record(client, make, wrong, says):
    medium = make.destination()
    sent = {"method": "clear", "tool": "overwrite 1.2", "verified": "full"} | wrong
    status, shown = press(client, "wipe", medium, **sent)
    assert status == 422
    assert says in shown
    assert not Event.objects.filter(kind="wiped").exists()


@pytest.mark.parametrize(
    ("sold_as", "says"),
    [("PL", "too short"), ("x" * 5000, "at most 4000"), ("Pelorus, PL500", "belongs to the family Minnow already")],
)
def test_a_family_with_names_that_cannot_be_is_refused(client, make, sold_as, says):
    make.family("Minnow", aliases=[("Pelorus", "PL500")])
    status, shown = press(client, "add-family", name="Grayling", sold_as=sold_as)
    assert status == 422
    assert says in shown
    assert Family.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"things": ""}, "needed"),
        ({"things": "W-00001-A nonsense"}, "nonsense"),
        ({"size": "wallpaper"}, "not one of the available choices"),
        ({"first": "25"}, "There are 24 places"),
        ({"first": "0"}, "greater than or equal to 1"),
    ],
)
def test_labels_that_cannot_be_printed_say_why(client, make, wrong, says):
    sent = {"things": str(make.destination()), "size": "a4-3x8", "first": "1"} | wrong
    status, shown = press(client, "labels", **sent)
    assert status == 422
    assert says in shown


@pytest.mark.parametrize("name", ["parts", "destinations", "families"])
@pytest.mark.parametrize(
    "query", ["?page=-1", "?page=zzz", "?q=%00%01", "?q=" + "x" * 500, "?family=x&shelf=9", "?least=-3", "?state=odd"]
)
def test_a_list_stands_any_address(client, make, name, query):
    make.part(), make.destination()
    assert client.get(reverse(f"stock:{name}") + query).status_code == 200


@pytest.mark.parametrize("query", ["?part=flux", "?shown=-1", "?shown=99999999", "?shown=²", "?use=odd"])
def test_the_match_pages_stand_any_address(client, make, query):
    item = make.item()
    for name in ("assign-donor", "assign-destination"):
        assert client.get(reverse(f"stock:{name}", args=[str(item)]) + query).status_code == 200


def test_a_patient_whose_size_is_not_known_says_so(client, make):
    shown = client.get(reverse("stock:assign-destination", args=[str(make.item(sectors=None))])).content.decode()
    assert "size is not known" in html.unescape(shown)
