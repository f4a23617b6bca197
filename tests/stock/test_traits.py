"""What is known of patients and donors reaches the matching, however it was typed."""

from __future__ import annotations

from dataclasses import fields
from datetime import date

import pytest
from django.urls import reverse

from labcases.cases.models import Item
from labcases.media import inside
from labcases.media.traits import Traits
from labcases.stock.models import Donor

EVERYTHING = {
    "kind": "disk25",
    "maker": "Pelorus",
    "model": "PL500-2M",
    "serial": "PX2M000001",
    "firmware": "M1.07",
    "interface": "SATA",
    "sectors": 976_773_168,
    "sector_bytes": 512,
    "heads": 3,
    "head_map": "0 1 3",
    "platters": 2,
    "preamplifier": "PA7",
    "board_number": "PB-2210",
    "board_revision": "C",
    "main_chip": "QX88",
    "motor": "MT-4",
    "base_casting": "BC-1",
    "plant": "K",
    "made": date(2021, 3, 4),
    "head_offsets": "1.5 -2 0",
    "flash_controller": "FC-9",
    "flash_ids": "98 3A; 98 3B",
    "channels": 4,
    "bridge_number": "BR-3",
    "encryption_generation": "G2",
    "codes": {"HEAD CODE": "4K7"},
}


@pytest.mark.parametrize("model", [Donor, Item])
def test_every_attribute_that_matching_knows_is_filled(model, make):
    family = make.family("Minnow", aliases=[("", "PL500")])
    found = model(family=family, **EVERYTHING).traits()
    empty = [f.name for f in fields(Traits) if getattr(found, f.name) in (None, ())]
    assert empty == ["heads_alive"]  # only a part that was tested says which of its heads are alive
    assert (found.head_map, found.head_offsets) == ((0, 1, 3), (1.5, -2.0, 0.0))
    assert found.code("HEAD CODE") == "4K7"


def test_a_part_says_which_of_its_heads_are_alive(make):
    part = make.part(head_map="0 1 2 3")
    part.heads_alive = "0 1 3"
    assert part.traits().heads_alive == (0, 1, 3)


@pytest.mark.parametrize(("sectors", "heads"), [(976_773_168, 2), (1_953_525_168, 4), (1_000, 3), (None, 3)])
def test_heads_that_nobody_counted_are_those_of_the_family_at_that_size(make, sectors, heads):
    from labcases.stock.sizes import Size

    family = make.family("Minnow", heads=3, sizes=[Size(500, 2, 1), Size(1000, 4, 2)])
    assert Donor(family=family, sectors=sectors, sector_bytes=512).traits().heads == heads


def test_what_was_counted_goes_before_what_the_family_has(make):
    family = make.family("Minnow", heads=4)
    assert Donor(family=family, head_map="0 1").traits().heads == 2
    assert Donor(family=family, heads=3).traits().heads == 3


@pytest.mark.parametrize(
    ("read", "typed", "kept"),
    [
        (inside.heads_said, "0-3", "0 1 2 3"),
        (inside.heads_said, " 3, 1;0 1", "0 1 3"),
        (inside.heads_said, "", ""),
        (inside.offsets_said, "1.50, -2 ;0", "1.5 -2 0"),
        (inside.offsets_said, "−4", "-4"),
        (inside.ids_said, "98 3A,  98  3B\n", "98 3A; 98 3B"),
        (inside.codes_said, "head  code : 4K7\n\nsite: N", {"HEAD CODE": "4K7", "SITE": "N"}),
    ],
)
def test_what_is_typed_is_kept_in_one_way(read, typed, kept):
    assert read(typed) == kept


@pytest.mark.parametrize(
    ("read", "typed"),
    [
        (inside.heads_said, "0 64"),
        (inside.heads_said, "3-1"),
        (inside.heads_said, "٣"),
        (inside.offsets_said, "1 nan"),
        (inside.offsets_said, "1e9"),
        (inside.offsets_said, " ".join("1" * 65)),
        (inside.ids_said, ";".join(f"{n}" for n in range(65))),
        (inside.codes_said, "no colon"),
        (inside.codes_said, "A: 1\na: 2"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(read, typed):
    with pytest.raises(inside.NotReadable, match=r"\.$"):
        read(typed)


def test_a_donor_comes_in_with_what_is_inside(make, client_as):
    client = client_as()
    said = {"kind": "disk25", "sector_bytes": "512", "source": "bought", "parts": ["head stack"], "head_map": "0-2"}
    said |= {"main_chip": "QX88", "codes": "head code: 4K7", "flash_ids": "98 3A, 98 3B"}
    assert client.post(reverse("stock:add-donor"), said).status_code == 303
    donor = Donor.objects.get()
    assert (donor.head_map, donor.main_chip, donor.codes) == ("0 1 2", "QX88", {"HEAD CODE": "4K7"})
    page = client.get(donor.get_absolute_url()).content.decode()
    assert all(words in page for words in ("QX88", "HEAD CODE", "98 3A; 98 3B"))


def test_the_day_book_says_what_was_put_right_inside_a_patient(make, client_as):
    item, client = make.item(), client_as()
    address = reverse("cases:edit-item", args=[str(item.case), item.number])
    said = {"kind": "disk25", "maker": "Pelorus", "model": "PL500-2M", "serial": item.serial, "sectors": item.sectors}
    said |= {"head_map": "0 1", "codes": "site: N", "motor": "MT-4", "sector_bytes": "512"}
    assert client.post(address, said).status_code == 303
    item.refresh_from_db()
    assert (item.head_map, item.codes, item.motor) == ("0 1", {"SITE": "N"}, "MT-4")


def test_the_database_folds_what_is_compared(make):
    donor = make.donor(board_number="PB-22 10/A", main_chip="")
    donor.refresh_from_db()
    assert (donor.board_number_key, donor.main_chip_key) == ("pb2210a", "")
