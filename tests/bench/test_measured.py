"""Readings with units, and what an examination puts on the list to buy."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from labcases.bench.actions import examine
from labcases.bench.measured import UNITS, all_measured, measured
from labcases.cases.actions import correct_item
from labcases.cases.models import Item
from labcases.stock.actions import reserve_part
from labcases.stock.models import Need

FOUND = {"faults": ["heads"], "found": "Head 1 weak.", "prospects": "fair"}


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("5 V to ground: 1.2 kΩ", "5 V to ground: 1.2 kΩ"),
        ("12 V: >20 Mohm", "12 V: >20 MΩ"),
        ("coil : 1,8 ohm ", "coil: 1.8 Ω"),
        ("surface: 41 °C", "surface: 41 °C"),
        ("current: -0.5 mA", "current: -0.5 mA"),
    ],
)
def test_a_reading_is_what_value_and_unit(line, said):
    assert str(measured(line)) == said


@pytest.mark.parametrize("line", ["1.2 kΩ", "5 V: about 2 Ω", "5 V: 1.2", "5 V: 1.2 cubits", ":1 V", "a: 1 V 2"])
def test_what_is_no_reading_is_said_in_a_sentence(line):
    with pytest.raises(ValueError, match="“"):
        measured(line)


def test_every_unit_is_read():
    assert [reading.unit for reading in all_measured("\n\n".join(f"x: 1 {unit}" for unit in UNITS))] == list(UNITS)


def test_a_part_that_the_stockroom_has_not_is_put_on_the_list_to_buy(make, noon):
    item, by = make.item(), make.everyone()
    examine(item=item, by=by, happened=noon, parts=["head stack"], needs_part="head stack", **FOUND)
    assert [(need.item, need.part) for need in Need.objects.all()] == [(item, "head stack")]
    examine(item=item, by=by, happened=noon, parts=["head stack"], needs_part="head stack", **FOUND)
    assert Need.objects.count() == 1


def test_a_part_that_is_free_is_not_bought(make, noon):
    make.donor(parts=["head stack"])
    examine(item=make.item(), by=make.everyone(), happened=noon, parts=["head stack"], **FOUND)
    assert not Need.objects.exists()


def test_what_differs_in_a_must_or_is_reserved_for_another_does_not_count_as_there(make, noon):
    family = make.family("Pelorus Gannet", aliases=[("Pelorus", "PL500")])
    item, by = make.item(), make.everyone()
    correct_item(item=item, changes={"preamplifier": "TA-26", "family": family}, by=by, happened=noon)
    make.donor(parts=["head stack"], preamplifier="TA-40")
    kept = make.part("head stack", preamplifier="TA-26")
    other = {"faults": ["heads"], "found": "x", "prospects": "fair", "parts": ["head stack"]}
    reserve_part(part=kept, patient=make.item(), until=timezone.now() + timedelta(days=2), by=by, happened=noon)
    examine(item=Item.objects.with_context().get(pk=item.pk), by=by, happened=noon, **other)
    assert Need.objects.get().item == item


def test_the_page_takes_readings_sounds_and_parts(make, client_as):
    item, client = make.item(), client_as()
    said = {"faults": ["heads"], "found": "x", "prospects": "fair", "readings": "5 V: 1.2 kΩ", "sounds": ["clicks"],
            "parts": ["head stack"]}  # fmt: skip
    assert client.post(f"/bench/{item}/examine/", said | {"readings": "warm"}).status_code == 422
    assert client.post(f"/bench/{item}/examine/", said).status_code == 303
    page = client.get(item.case.get_absolute_url()).content.decode()
    for words in ("5 V: 1.2 kΩ", "clicks evenly", "Needs: head stack"):
        assert words in page
