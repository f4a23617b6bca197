"""Cases of former books: customers are not doubled, cases get codes and keep their old numbers."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse

from labcases.cases.actions import log_drive
from labcases.cases.models import Case, Item, StageStamp
from labcases.core.refused import Refused
from labcases.custody.models import Thing
from labcases.imports import actions, tasks
from labcases.imports.models import Import
from labcases.lab.models import Actor
from labcases.lab.roles import Role
from labcases.people.models import Party
from labcases.people.queries import matching
from tests.builders import NOON, Make

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]

HEAD = "Case number,Client,Phone,E-mail,Date in,Date out,Type,Maker,Model,Serial number,Fault,Result\n"
WHO = "417/19,Orrin Vale,0118 496 0743,vale@example.com"
ONE = f"{WHO},2019-03-04,2019-03-20,disk25,Pelorus,PL500,A1B2C3,Fell.,All files.\n"


@pytest.fixture
def by(make: Make) -> Actor:
    make.profile(country="GB")
    return make.actor(Role.MANAGER)


@pytest.fixture
def send(by: Actor, tmp_path: Path) -> Any:
    def send(text: str) -> Import:
        file = tmp_path / "books.csv"
        file.write_text(HEAD + text)
        table = actions.start(kind="records", file=file, name="books.csv", by=by, happened=NOON)
        actions.check(table=table, mapping=table.mapping, by=by)
        return worked(table)

    return send


@pytest.fixture
def take(send: Any, by: Actor) -> Any:
    def take(text: str) -> Import:
        return worked(actions.take_in(table=send(text), skip_refused=True, by=by, happened=NOON))

    return take


def worked(table: Import) -> Import:
    tasks.go_on(seconds=60)
    table.refresh_from_db()
    return table


def test_an_old_case_gets_a_code_and_keeps_its_number(take: Any) -> None:
    take(ONE)
    case, item = Case.objects.get(), Item.objects.get()
    assert str(case).startswith("19-00001-")
    assert case.old_record.number == "417/19"
    assert case.closed is not None
    assert (case.happened.date(), case.closed.date()) == (date(2019, 3, 4), date(2019, 3, 20))
    assert (item.stage, item.serial, str(item.thing.party)) == ("closed", "A1B2C3", "Orrin Vale")
    assert [stamp.stage for stamp in StageStamp.objects.all()] == ["received", "closed"]
    assert (case.story, item.note) == ("Fell.", "What came of it: All files.")


def test_rows_of_one_number_are_one_case(take: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(actions, "CHUNK", 2)  # the third row comes with the next chunk
    take(ONE + ONE.replace("A1B2C3", "D4E5F6") + ONE.replace("A1B2C3", "G7H8I9").replace("417/19", "417-19"))
    assert [item.number for item in Case.objects.get().items.all()] == [1, 2, 3]
    assert Party.objects.count() == 1


@pytest.mark.parametrize("told", [{"phone": "+441184960743"}, {"email": "vale@example.com", "phone": ""}])
def test_a_customer_who_is_known_is_not_doubled(take: Any, make: Make, told: dict[str, str]) -> None:
    known = make.party(**{"name": "O. Vale", "email": "", **told})
    take(ONE)
    assert Case.objects.get().owner == known
    assert Party.objects.count() == 1


def test_of_two_with_one_phone_the_one_of_that_name_is_meant(take: Any, make: Make) -> None:
    make.party(name="Ada Vale", phone="+441184960743")
    known = make.party(name="Orrin Vale", phone="+441184960743")
    take(ONE)
    assert Case.objects.get().owner == known


def test_a_new_customer_of_several_cases_comes_in_once_and_is_found(take: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(actions, "CHUNK", 1)
    take(ONE + ONE.replace("417/19", "418/19").replace("A1B2C3", "D4E5F6"))
    assert (Party.objects.count(), Case.objects.count()) == (1, 2)
    assert [found.party.name for found in matching("vale", country="GB")] == ["Orrin Vale"]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (ONE.replace("417/19", ""), "Old number (column A): is needed"),
        (ONE.replace("Orrin Vale", ""), "Customer: say a name or a company."),
        (ONE.replace("0118 496 0743", "12"), "Phone: “12”"),
        (ONE.replace("vale@example.com", "vale at home"), "E-mail: “vale at home” is no address."),
        (ONE.replace("0118 496 0743", "").replace("vale@example.com", ""), "a phone number, an e-mail address or"),
        (ONE.replace("2019-03-20", "2019-03-01"), "Closed: 2019-03-01 lies before 2019-03-04"),
        (ONE.replace("2019-03-04", "4/3/2019"), "Came in (column E): “4/3/2019” can be read as two dates"),
        (ONE.replace("disk25", "gramophone"), "Kind (column G): “gramophone” is not known here"),
    ],
)
def test_a_row_that_cannot_be_is_refused(send: Any, row: str, said: str) -> None:
    table = send(row)
    assert table.rows.get().fate == "refused"
    assert said in table.rows.get().because


def test_a_case_that_came_in_before_is_the_same(take: Any, send: Any) -> None:
    take(ONE)
    table = send(ONE + ONE.replace("417/19", "418/19"))
    assert list(table.rows.values_list("number", "fate")) == [(2, "same"), (3, "new")]


def test_half_an_import_of_records_is_there_for_nobody(send: Any, by: Actor, client_as: Any) -> None:
    table = send(ONE)
    actions.take_in(table=table, skip_refused=False, by=by, happened=NOON)
    actions.step(table)
    assert Case._base_manager.count() == Item._base_manager.count() == Party._base_manager.count() == 1
    assert not Case.objects.exists()
    assert not Item.objects.exists()
    assert matching("vale", country="GB") == []
    client = client_as(Role.MANAGER)
    for asked in ("417/19", "vale", "0743", "A1B2C3"):
        assert "Orrin" not in client.get(reverse("docket:find"), {"q": asked}, follow=True).content.decode()
        assert "Orrin" not in client.get(reverse("people:search"), {"q": asked}).content.decode()
    assert client.get(reverse("docket:case", args=[Case._base_manager.get()])).status_code == 404
    worked(table)
    assert "Orrin" in client.get(reverse("docket:find"), {"q": "417/19"}, follow=True).content.decode()


def test_the_docket_of_an_old_record_says_so(take: Any, client_as: Any) -> None:
    take(ONE)
    page = client_as(Role.COUNTER).get(reverse("docket:case", args=[Case.objects.get()])).content.decode()
    assert "Old record" in page
    assert "417/19" in page


def test_records_are_undone_whole(take: Any, by: Actor) -> None:
    table = take(ONE + ONE.replace("417/19", "418/19"))
    worked(actions.undo(table=table, by=by, happened=NOON, because="Wrong book."))
    assert not any(model._base_manager.exists() for model in (Case, Item, Party, Thing, StageStamp))
    assert table.state == Import.State.UNDONE


def test_a_customer_who_came_again_stands_against_undoing(take: Any, make: Make, by: Actor) -> None:
    table = take(ONE)
    make.terms()
    again = log_drive(owner=Party.objects.get(), items=[make.new_item()], by=make.everyone(), happened=NOON)
    with pytest.raises(Refused) as refused:
        actions.undo(table=table, by=by, happened=NOON, because="Wrong book.")
    assert f"Orrin Vale came again with case {again}." in refused.value.sentences()


def test_only_who_keeps_the_lab_brings_records(client_as: Any, make: Make) -> None:
    make.profile()
    address = reverse("imports:new", args=["records"])
    assert client_as(Role.COUNTER).get(address).status_code == 403
    assert client_as(Role.MANAGER).get(address).status_code == 200
