"""Lines of custody of what came in with a table: each begins with how it came, and is closed when that is undone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse

from labcases.custody.actions import move
from labcases.custody.breaks.actions import recheck_lines
from labcases.custody.firsts.beginning import BROUGHT_IN
from labcases.custody.models import Event, Thing
from labcases.custody.proofs.queries import verify_ledger
from labcases.custody.queries import line_of
from labcases.custody.verify import BESIDE_KEY
from labcases.imports import actions, tasks
from labcases.imports.ledger import actions as ledger
from labcases.imports.models import Import
from labcases.lab.models import Actor
from labcases.lab.roles import Role
from labcases.stock.models import Donor
from tests.builders import NOON, Make

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]

DONORS = "Kind,Maker,Model,Serial,Parts\n2.5 disk,Pelorus,PL500,A1B2C3,heads\n2.5 disk,Pelorus,PL500,A1B2C4,heads\n"
RECORDS = (
    "Case number,Client,Phone,Date in,Type,Serial number\n417/19,Orrin Vale,0118 496 0743,2019-03-04,disk25,A1B2C3\n"
)


@pytest.fixture
def by(make: Make) -> Actor:
    make.profile(country="GB")
    return make.actor(Role.MANAGER)


@pytest.fixture
def begun(by: Actor, tmp_path: Path) -> Any:
    """A table that is about to be taken in."""

    def begun(text: str = DONORS, kind: str = "donors") -> Import:
        file = tmp_path / "table.csv"
        file.write_text(text)
        table = actions.start(kind=kind, file=file, name="table.csv", by=by, happened=NOON)
        actions.check(table=table, mapping=table.mapping, by=by)
        worked(table)
        return actions.take_in(table=table, skip_refused=True, by=by, happened=NOON)

    return begun


@pytest.fixture
def just_shown(begun: Any) -> Import:
    """Everybody sees it, and nothing of it is in the ledger yet."""
    table: Import = begun()
    while not Donor.objects.exists():
        actions.step(table)
    return table


def worked(table: Import) -> Import:
    tasks.go_on(seconds=60)
    table.refresh_from_db()
    return table


def kinds_of(thing: Thing) -> list[str]:
    return list(Event.objects.filter(thing_code=thing.code).values_list("kind", flat=True))


def whole() -> bool:
    """The ledger verifies, and every line is as a walk through its events finds it."""
    check = recheck_lines()
    # A head is laid beside the key after a commit, and the transaction of a test has none.
    found = [one for one in verify_ledger().findings if one.detector != BESIDE_KEY]
    return not found and (check.put_right, check.beside) == (0, 0)


def test_every_thing_of_a_table_begins_with_its_own_event(begun: Any, by: Actor) -> None:
    table = worked(begun())
    assert {tuple(kinds_of(thing)) for thing in Thing.objects.all()} == {(BROUGHT_IN,)}
    first = line_of(Donor.objects.first().thing)[0]
    assert (first.was, first.now, first.by, first.because) == ("", by.name, by.name, str(table))
    assert whole()


def test_the_daybook_of_an_old_case_begins_and_its_line_has_no_break(begun: Any, client_as: Any) -> None:
    worked(begun(RECORDS, "records"))
    patient = Thing.objects.get(kind="patient")
    page = client_as(Role.MANAGER).get(reverse("docket:case", args=[patient.item.case])).content.decode()
    assert "Nothing has happened yet" not in page
    assert "entered from a table" in page
    assert (kinds_of(patient), patient.breaks_open, str(patient.party)) == ([BROUGHT_IN], 0, "Orrin Vale")
    assert whole()


def test_nothing_of_an_import_is_in_the_ledger_before_everybody_sees_it(begun: Any) -> None:
    table, before = begun(), Event.objects.count()
    while not Donor.objects.exists():
        assert Event.objects.count() == before
        actions.step(table)
    assert list(Event.objects.values_list("kind", flat=True))[before:] == ["imported"]


def test_an_import_that_is_stopped_leaves_no_event_of_a_thing(begun: Any, make: Make, by: Actor) -> None:
    table = begun()
    make.donor(by=by, serial="A1B2C4")  # it came by another way since the check
    Import.objects.filter(pk=table.pk).update(skip_refused=False)
    assert worked(table).state == Import.State.STOPPED
    assert not Event.objects.filter(kind=BROUGHT_IN).exists()


def test_whoever_is_quicker_than_the_ledger_writes_how_the_thing_came_first(
    just_shown: Import, make: Make, by: Actor
) -> None:
    thing = Donor.objects.first().thing
    move(thing=thing, to=make.place(name="North 3"), by=by, happened=NOON)
    assert worked(just_shown).state == Import.State.SHOWN
    assert kinds_of(thing) == [BROUGHT_IN, "moved"]
    assert [entry.now for entry in line_of(thing)] == [by.name, "North 3"]
    assert whole()


def test_a_killed_workers_lines_are_begun_once(just_shown: Import, monkeypatch: pytest.MonkeyPatch) -> None:
    """One worker wrote a chunk and died, another holds the import as it was before that chunk."""
    monkeypatch.setattr(ledger, "BEGUN_AT_ONCE", 1)
    old = Import.objects.get(pk=just_shown.pk)
    ledger.begin_chunk(Import.objects.get(pk=just_shown.pk))
    ledger.begin_chunk(old)
    assert Event.objects.filter(kind=BROUGHT_IN).count() == 1
    worked(just_shown)
    assert sorted(len(kinds_of(thing)) for thing in Thing.objects.all()) == [1, 1, 1, 1]


def test_an_import_that_was_undone_closes_each_line(begun: Any, make: Make) -> None:
    table = worked(begun())
    codes, other = list(Thing.objects.values_list("code", flat=True)), make.actor(Role.MANAGER)
    worked(actions.undo(table=table, by=other, happened=NOON, because="Wrong shelf."))
    assert not Thing._base_manager.exists()
    for code in codes:
        first, last = Event.objects.filter(thing_code=code).order_by("sequence")
        assert (first.kind, last.kind, last.corrects) == (BROUGHT_IN, "taken-back", first.sequence)
        assert last.actor_ref == other.ref
    assert whole()


def test_the_newest_movements_are_not_flooded_by_a_table(begun: Any, client_as: Any) -> None:
    worked(begun())
    page = client_as(Role.MANAGER).get(reverse("docket:custody")).content.decode()
    assert "entered from a table" not in page
