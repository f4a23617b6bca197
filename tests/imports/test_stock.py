"""Stock out of a table: what becomes of each row, that nobody sees half of it, and that it can be taken back."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.urls import reverse

from labcases.core import vault
from labcases.core.models import Batch, ShownManager
from labcases.core.refused import Refused
from labcases.custody.actions import move
from labcases.custody.models import Event, EventText, Thing
from labcases.imports import actions, queries, tasks
from labcases.imports.models import Import, counts
from labcases.lab.models import Actor
from labcases.lab.roles import Role
from labcases.stock.actions import assign_donor, note_test
from labcases.stock.models import Destination, Donor, DonorPart, PartAssignment
from tests.builders import NOON, Make

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]

HEAD = "code,kind,maker,model,serial,sectors,parts,made,shelf,cost\n"
ROW = ",2.5 disk,Pelorus,PL500-2M,{},976773168,heads; board,2024-03-09,,12.50\n"


@pytest.fixture
def by(make: Make) -> Actor:
    make.profile()
    return make.actor(Role.MANAGER)


@pytest.fixture
def send(by: Actor, tmp_path: Path) -> Any:
    """Send a table and have it checked."""

    def send(text: str, kind: str = "donors", actor: Actor = by) -> Import:
        file = tmp_path / "table.csv"
        file.write_text(text)
        table = actions.start(kind=kind, file=file, name="table.csv", by=actor, happened=NOON)
        actions.check(table=table, mapping=table.mapping, by=actor)
        return worked(table)

    return send


def worked(table: Import) -> Import:
    """Let the worker do all there is."""
    tasks.go_on(seconds=60)
    table.refresh_from_db()
    return table


def taken_in(table: Import, *, skip: bool = False) -> Import:
    actor = Actor(table.by, Role.MANAGER)
    return worked(actions.take_in(table=table, skip_refused=skip, by=actor, happened=NOON))


def fates(table: Import) -> list[tuple[int, str]]:
    return list(table.rows.values_list("number", "fate"))


def test_donors_come_in_with_their_parts(send: Any, make: Make, by: Actor) -> None:
    shelf = make.place(name="North 3")
    family = make.family("Pelorus Minnow", aliases=[("", "PL500")])
    row = f",2.5 disk,Pelorus,PL500-2M,A1B2C3,976773168,heads; board,2024-03-09,{shelf},12.50\n"
    table = taken_in(send(HEAD + row))
    donor = Donor.objects.get()
    assert table.state == Import.State.SHOWN
    assert (donor.family, donor.made, donor.cost, donor.sectors) == (family, date(2024, 3, 9), 1250, 976_773_168)
    assert [part.part for part in donor.parts.all()] == ["head stack", "controller board"]
    assert {str(t.place) for t in Thing.objects.all()} == {"North 3"}
    assert Thing.objects.known_by_serial("a1-b2-c3").get() == donor.thing


def test_an_event_of_the_lab_names_the_import_and_its_file(send: Any) -> None:
    table = taken_in(send(HEAD + ROW.format("A1B2C3") + ROW.format("A1B2C4")))
    event = Event.objects.get(pk=table.event)
    assert (Event.objects.filter(kind="imported").count(), event.kind, event.thing_code) == (1, "imported", "")
    assert table.file in EventText.objects.get(sequence=event.sequence, field="because").text


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (",2.5 disk,Pelorus,PL,A1B2C3,-4,heads,,,\n", "Sectors (column F): “-4” is less than 1."),
        (
            ",2.5 disk,Pelorus,PL,A1B2C3,9,heads,30.2.2024,,\n",
            "Made (column H): “30.2.2024” is no day of the calendar.",
        ),
        (",washing machine,Pelorus,PL,A1B2C3,9,heads,,,\n", "Kind (column B): “washing machine” is not known here."),
        (
            ",2.5 disk,Pelorus,PL,A1B2C3,9,spindle oil,,,\n",
            "Parts it gives (column G): “spindle oil” is not known here.",
        ),
        (",2.5 disk,Pelorus,PL,A1B2C3,9,heads,,Attic,\n", "Shelf: “Attic” is no place of the lab that is in use."),
        (",2.5 disk,Pelorus,PL,A1B2C3,9,heads,,,free\n", "Cost: “free”"),
        (",2.5 disk,Pelorus,PL,A1B2C3,9,heads,,,-4\n", "Cost: a cost is not less than nothing."),
        ("D-00001-Z,2.5 disk,Pelorus,PL,A1B2C3,9,heads,,,\n", "Code: The check character"),
        ("D-00001-H,2.5 disk,Pelorus,PL,A1B2C3,9,heads,,,\n", "Code: there is no D-00001-H"),
        (",,Pelorus,PL,A1B2C3,9,heads,,,\n", "Kind: say what kind of medium it is."),
        (",2.5 disk,Pelorus,PL,A1B2C3,9,,,,\n", "Parts it gives: name at least one"),
        (",2.5 disk,Pelorus,PL,1.2E+12,9,heads,,,\n", "Serial (column E): “1.2E+12” was shortened"),
    ],
)
def test_a_row_that_cannot_be_is_refused_with_its_column(send: Any, row: str, said: str) -> None:
    table = send(HEAD + row)
    assert fates(table) == [(2, "refused")]
    assert said in table.rows.get().because


def test_a_serial_twice_in_the_table_is_refused_the_second_time(send: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(actions, "JUDGED_AT_ONCE", 2)  # the twin stands in the next lot
    table = send(HEAD + ROW.format("A1B2C3") + ROW.format("D4E5F6") + ROW.format("a1-b2-c3"))
    assert fates(table) == [(2, "new"), (3, "new"), (4, "refused")]
    assert "stands in row 2 already" in table.rows.get(number=4).because


def test_a_serial_of_a_patient_is_refused(send: Any, make: Make) -> None:
    item = make.item(serial="A1B2C3")
    table = send(HEAD + ROW.format("A1B2C3"))
    assert table.rows.get().because == f"Serial: “A1B2C3” is that of {item.thing}, patient."


def test_known_donors_are_the_same_or_changed(send: Any, make: Make, by: Actor) -> None:
    one = make.donor(by=by, kind="disk25", maker="Pelorus", model="PL500-2M", serial="A1B2C3", sectors=976_773_168)
    table = send(HEAD + f"{one},,,PL1000,,,,,,\n" + ",,Pelorus,,A1B2C3,,,,,\n" + f"{one},,Kestrel,,,,,,,\n")
    assert fates(table) == [(2, "changes"), (3, "same"), (4, "refused")]
    assert table.rows.get(number=2).because == f"{one}: model PL500-2M → PL1000"
    taken_in(table, skip=True)
    assert Donor.objects.get().model == "PL1000"
    assert Event.objects.filter(kind="stock-changed", thing_code=one.thing.code).count() == 1


def test_refused_rows_stop_an_import_of_all_or_none(send: Any, by: Actor) -> None:
    table = send(HEAD + ROW.format("A1B2C3") + ROW.format("D4E5F6").replace("Pelorus", "#REF!"))
    with pytest.raises(Refused, match="1 row of it is refused"):
        actions.take_in(table=table, skip_refused=False, by=by, happened=NOON)
    taken_in(table, skip=True)
    assert [donor.serial for donor in Donor.objects.all()] == ["A1B2C3"]


def test_refused_rows_can_be_fetched_put_right_and_sent_again(send: Any) -> None:
    table = send(HEAD + ROW.format("A1B2C3").replace("12.50", "=1+1"))
    row, because, *cells = next(queries.refused_rows(table))
    assert (row, because.split(":")[0], cells[-1]) == ("2", "Cost", "=1+1")


def test_all_or_none_is_kept_when_the_lab_has_gone_on_since_the_check(send: Any, make: Make, by: Actor) -> None:
    known = make.donor(by=by, serial="K1K2K3", model="PL500-2M")
    table = send(HEAD + ROW.format("A1B2C3") + f"{known},,,PL1000,,,,,,\n" + ROW.format("D4E5F6"))
    make.item(serial="D4E5F6")  # comes over the counter before it is taken in
    taken_in(table)
    assert (table.refresh_from_db(), table.state) == (None, Import.State.STOPPED)
    assert "Row 4: Serial: “D4E5F6” is that of" in table.said
    assert [donor.model for donor in Donor.objects.all()] == ["PL500-2M"]
    assert not Batch.objects.exists()
    assert Thing._base_manager.filter(kind="donor").count() == 1


def test_a_change_that_comes_too_late_puts_the_earlier_ones_back(send: Any, make: Make, by: Actor) -> None:
    one, two = (make.donor(by=by, serial=serial, model="PL500-2M") for serial in ("K1K2K3", "L1L2L3"))
    table = send(HEAD + f"{one},,,PL1000,,,,,,\n" + f"{two},,,PL1000,,,,,,\n")
    move(thing=two.thing, to=make.place(), by=by, happened=NOON)
    taken_in(table)
    table.refresh_from_db()
    assert table.state == Import.State.STOPPED
    assert {donor.model for donor in Donor.objects.all()} == {"PL500-2M"}


def test_media_come_in_as_what_they_are_for(send: Any) -> None:
    head = "use,kind,maker,model,serial,capacity (gb),state\n"
    rows = "destination,3.5 disk,Kestrel,KS4,W1W2W3,4000,wiped\ndelivery medium,stick,Kestrel,Stub,,64,new\n"
    taken_in(send(head + rows, "media"))
    media = {medium.use: medium for medium in Destination.objects.all()}
    assert (media["clone"].thing.code[0], media["delivery"].thing.code[0]) == ("W", "M")
    assert media["clone"].sectors == 7_814_037_168  # SFF-8447 for 4,000 GB
    assert media["clone"].state == "wiped and verified"


# --- nobody sees half of it -----------------------------------------------------------------------------------------


@pytest.fixture
def half(send: Any, by: Actor, monkeypatch: pytest.MonkeyPatch) -> Import:
    """An import of which the first chunk is written and the second is not."""
    monkeypatch.setattr(actions, "CHUNK", 2)
    table = send(HEAD + "".join(ROW.format(f"HID{n}DEN").replace("Pelorus", "Zirrhose") for n in range(3)))
    actions.take_in(table=table, skip_refused=False, by=by, happened=NOON)
    actions.step(table)
    table.refresh_from_db()
    return table


def test_what_is_half_in_is_there_for_nobody(half: Import) -> None:
    assert Donor._base_manager.count() == 2
    assert not Donor.objects.exists()
    assert not DonorPart.objects.free().exists()
    assert not Thing.objects.filter(kind__in=["donor", "part"]).exists()
    assert not Thing.objects.known_by_serial("HID0DEN").exists()


LOOKED = [
    ("stock:parts", "?q=zirrhose"),
    ("stock:parts", "?format=csv"),
    ("stock:destinations", "?format=csv"),
    ("custody:things", "?q=zirrhose"),
    ("custody:things", ""),
    ("docket:find", "?q=zirrhose"),
    ("docket:find", "?q=HID0DEN"),
    ("docket:stockroom", ""),
    ("docket:custody", ""),
]


def body(response: Any) -> str:
    return (b"".join(response.streaming_content) if response.streaming else response.content).decode()


@pytest.mark.parametrize(("name", "asked"), LOOKED)
def test_no_list_search_or_scan_shows_what_is_half_in(half: Import, client_as: Any, name: str, asked: str) -> None:
    client = client_as(Role.MANAGER)
    assert not {"Zirrhose", "HID0DEN"} & set(
        body(client.get(reverse(name) + asked, follow=True)).replace(",", " ").split()
    )
    worked(half)
    if name != "docket:stockroom" and "destinations" not in name and name != "docket:custody":
        assert "Zirrhose" in body(client.get(reverse(name) + asked, follow=True))


def test_the_code_of_what_is_half_in_opens_nothing(half: Import, client_as: Any) -> None:
    client, code = client_as(Role.MANAGER), Thing._base_manager.filter(kind="donor").first()
    for address in (reverse("stock:donor", args=[code]), reverse("custody:thing", args=[code])):
        assert client.get(address).status_code == 404
    worked(half)
    assert client.get(reverse("stock:donor", args=[code])).status_code == 200


def test_what_is_half_in_is_no_candidate(half: Import, make: Make, client_as: Any) -> None:
    item = make.item(kind="disk25", maker="Zirrhose", model="PL500-2M")
    asked = reverse("stock:assign-donor", args=[item]) + "?part=head+stack&excluded=on"
    client, codes = client_as(Role.MANAGER), [str(part) for part in DonorPart._base_manager.all()]
    assert not [code for code in codes if code in body(client.get(asked))]
    worked(half)
    assert [code for code in codes if code in body(client.get(asked))]


def test_a_part_that_is_half_in_cannot_be_assigned(half: Import, make: Make) -> None:
    part = DonorPart._base_manager.first()
    assert part
    with pytest.raises((Refused, DonorPart.DoesNotExist)):
        assign_donor(part=part, patient=make.item(), by=make.everyone(), happened=NOON)
    assert not PartAssignment.objects.exists()


def test_one_update_shows_everything(half: Import, django_assert_max_num_queries: Any) -> None:
    actions.step(half)
    assert not Donor.objects.exists()
    actions.step(half)
    half.refresh_from_db()
    assert (half.state, Donor.objects.count()) == (Import.State.ENTERING, 3)


def test_a_chunk_that_is_begun_twice_counts_once(half: Import) -> None:
    """A worker that was killed after its chunk was written, or a second one beside it: each holds an old copy."""
    old = Import.objects.get(pk=half.pk)
    actions._apply_chunk(half)
    actions._apply_chunk(old)
    assert Donor._base_manager.count() == 3
    assert worked(half).state == Import.State.SHOWN


def test_a_check_that_was_cut_off_goes_on_where_it_stood(by: Actor, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(actions, "JUDGED_AT_ONCE", 2)
    file = tmp_path / "table.csv"
    file.write_text(HEAD + "".join(ROW.format(f"A1B2C{n}") for n in range(5)))
    table = actions.start(kind="donors", file=file, name="table.csv", by=by, happened=NOON)
    actions.check(table=table, mapping=table.mapping, by=by)
    for _ in range(2):  # the rows are read, the first lot is judged
        actions.step(table)
    old = Import.objects.get(pk=table.pk)
    actions._check_chunk(Import.objects.get(pk=table.pk))
    actions._check_chunk(old)
    assert worked(table).state == Import.State.CHECKED
    assert counts(table)["new"] == 5


# --- and back -------------------------------------------------------------------------------------------------------


def test_an_import_is_undone_with_what_it_changed(send: Any, make: Make, by: Actor) -> None:
    known = make.donor(by=by, serial="K1K2K3", model="PL500-2M", made=date(2023, 5, 1))
    table = taken_in(send(HEAD + ROW.format("A1B2C3") + f"{known},,,PL1000,,,,2024-03-09,,\n"))
    actions.undo(table=table, by=by, happened=NOON, because="Wrong shelf.")
    assert Donor.objects.count() == 1  # at once, before anything is cleared away
    worked(table)
    known.refresh_from_db()
    assert (table.state, known.model, known.made) == (Import.State.UNDONE, "PL500-2M", date(2023, 5, 1))
    assert Donor._base_manager.count() == 1
    undone = Event.objects.get(kind="import-undone")
    assert undone.corrects == table.event
    assert not Batch.objects.exists()


@pytest.mark.parametrize("use", ["moved", "assigned", "tested"])
def test_what_was_used_stands_against_undoing_and_is_named(send: Any, make: Make, by: Actor, use: str) -> None:
    table = taken_in(send(HEAD + ROW.format("A1B2C3")))
    part = DonorPart.objects.get(part="head stack")
    if use == "moved":
        move(thing=part.thing, to=make.place(), by=by, happened=NOON)
    elif use == "tested":
        note_test(part=part, tested="turns", by=by, happened=NOON)
    else:
        about = {"kind": "disk25", "model": "PL500-2M"}
        assign_donor(part=part, patient=make.item(**about), by=make.everyone(), happened=NOON, lifted="Only one.")
    with pytest.raises(Refused, match="was used since") as refused:
        actions.undo(table=table, by=by, happened=NOON, because="Wrong shelf.")
    assert str(part) in " ".join(refused.value.sentences())
    assert DonorPart.objects.count() == 2


def test_a_change_that_was_changed_again_stands_against_undoing(send: Any, make: Make, by: Actor) -> None:
    known = make.donor(by=by, serial="K1K2K3", model="PL500-2M")
    table = taken_in(send(HEAD + f"{known},,,PL1000,,,,,,\n"))
    move(thing=known.thing, to=make.place(), by=by, happened=NOON)
    with pytest.raises(Refused) as refused:
        actions.undo(table=table, by=by, happened=NOON, because="Wrong shelf.")
    assert f"Row 2 changed {known}" in " ".join(refused.value.sentences())


def test_codes_of_an_undone_import_are_not_given_again(send: Any, by: Actor) -> None:
    table = taken_in(send(HEAD + ROW.format("A1B2C3")))
    first = str(Donor.objects.get())
    worked(actions.undo(table=table, by=by, happened=NOON, because="Wrong shelf."))
    taken_in(send(HEAD + ROW.format("A1B2C3")))
    assert str(Donor.objects.get()) != first


def test_files_are_forgotten_when_the_import_is_old(send: Any) -> None:
    table = taken_in(send(HEAD + ROW.format("A1B2C3")))
    file = vault.path(table.file)
    assert file.exists()
    assert actions.sweep(NOON.replace(year=2099)) == 1
    table.refresh_from_db()
    assert (file.exists(), table.file, table.lines) == (False, "", "")


def test_only_who_keeps_the_stockroom_may_bring_stock(send: Any, make: Make, client_as: Any) -> None:
    with pytest.raises(Refused, match="do not let you"):
        send(HEAD + ROW.format("A1B2C3"), actor=make.actor(Role.COUNTER))
    table = send(HEAD + ROW.format("A1B2C3"))
    assert client_as(Role.COUNTER).get(table.get_absolute_url()).status_code == 404


# --- the guard itself -----------------------------------------------------------------------------------------------

CAN_COME_IN = [
    model
    for model in apps.get_models()
    if any(f.one_to_one and f.related_model is Thing for f in model._meta.concrete_fields)
    or any(f.related_model is Batch and not f.one_to_one for f in model._meta.concrete_fields)
]
NEVER_FROM_A_TABLE = {"cases.accessory"}


@pytest.mark.parametrize("model", CAN_COME_IN, ids=lambda model: model._meta.label_lower)
def test_what_can_come_in_with_a_batch_is_asked_for_through_a_manager_that_hides(model: Any) -> None:
    if model._meta.label_lower not in NEVER_FROM_A_TABLE:
        assert isinstance(model._default_manager, ShownManager)


def test_the_guard_sees_what_can_come_in() -> None:
    assert {Thing, Donor, DonorPart, Destination} <= set(CAN_COME_IN)
    assert len(CAN_COME_IN) >= 8
