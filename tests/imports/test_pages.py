"""The whole way of a table through its pages."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labcases.custody.firsts.queries import since_they_came
from labcases.custody.models import Event, Thing
from labcases.imports import forms, tasks
from labcases.imports.models import Import
from labcases.lab.roles import Role
from labcases.stock.models import Donor
from tests.builders import Make

pytestmark = pytest.mark.django_db
TABLE = b"Art;Modell;Seriennr;Teile\nstick;QX4;QX10001;chip\ndrum;QX4;QX10002;chip\n"


@pytest.fixture
def client(make: Make, client_as: Any) -> Any:
    make.profile()
    return client_as(Role.MANAGER)


def send(client: Any, data: bytes = TABLE, name: str = "shelf.csv", kind: str = "donors") -> Any:
    return client.post(reverse("imports:new", args=[kind]), {"file": SimpleUploadedFile(name, data)})


def checked(client: Any) -> Import:
    send(client)
    table = Import.objects.get()
    client.post(reverse("imports:columns", args=[table.pk]), {"kind": "0", "model": "1", "serial": "2", "parts": "3"})
    tasks.go_on(seconds=60)
    table.refresh_from_db()
    return table


def test_a_table_goes_from_the_file_to_the_shelf_and_back(client: Any) -> None:
    table = checked(client)
    page = client.get(table.get_absolute_url()).content.decode()
    assert "Take in 1 new row" in page
    assert "Kind (column A): “drum” is not known here." in page
    client.post(reverse("imports:take-in", args=[table.pk]), {"refused": "skip"})
    assert 'class="going"' in client.get(table.get_absolute_url()).content.decode()
    assert "HX-Refresh" not in client.get(reverse("imports:going", args=[table.pk])).headers
    tasks.go_on(seconds=60)
    assert client.get(reverse("imports:going", args=[table.pk])).headers["HX-Refresh"] == "true"
    assert Donor.objects.get().serial == "QX10001"
    client.post(reverse("imports:undo", args=[table.pk]), {"because": "Wrong shelf."})
    tasks.go_on(seconds=60)
    assert not Donor.objects.exists()
    assert "undone" in client.get(table.get_absolute_url()).content.decode()


def test_the_columns_of_a_layout_are_remembered(client: Any) -> None:
    checked(client)
    send(client, TABLE.replace(b"QX1", b"QX2"))
    assert Import.objects.first().mapping == {"kind": 0, "model": 1, "serial": 2, "parts": 3}


def test_one_column_cannot_be_two_fields(client: Any) -> None:
    send(client)
    address = reverse("imports:columns", args=[Import.objects.get().pk])
    answer = client.post(address, {"model": "1", "serial": "1"})
    assert (answer.status_code, "This column is Model already." in answer.content.decode()) == (422, True)


def test_all_or_none_with_refused_rows_says_so_on_the_page(client: Any) -> None:
    answer = client.post(reverse("imports:take-in", args=[checked(client).pk]), {"refused": "none"})
    assert "1 row of it is refused" in answer.content.decode()


@pytest.mark.parametrize(
    ("data", "name", "said"),
    [(b"", "x.csv", "The file is empty"), (b"PK\x03\x04", "x.xlsx", "no XLSX workbook"), (b"a\0b", "x.csv", "NUL")],
)
def test_a_file_that_is_no_table_is_a_sentence_on_the_form(client: Any, data: bytes, name: str, said: str) -> None:
    answer = send(client, data, name)
    assert (answer.status_code, said in answer.content.decode()) == (422, True) or said in answer.content.decode()
    assert not Import.objects.exists()


def test_a_file_that_is_too_large_is_refused(client: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(forms, "MOST_BYTES", 10)
    assert "The file is larger than" in send(client).content.decode()


def test_another_row_can_be_read_as_the_headers(client: Any) -> None:
    send(client, b"North,South\n" + TABLE.replace(b";", b","))
    table = Import.objects.get()
    client.post(reverse("imports:read-again", args=[table.pk]), {"header_row": "2"})
    table.refresh_from_db()
    assert table.headers == ["Art", "Modell", "Seriennr", "Teile"]


def test_rows_are_narrowed_by_their_fate_and_exported(client: Any) -> None:
    address = checked(client).get_absolute_url() + "?fate=refused"
    assert '<th scope="row">2</th>' not in client.get(address).content.decode()
    lines = b"".join(client.get(address + "&format=csv").streaming_content).decode().splitlines()
    assert [line.split(",")[:2] for line in lines] == [["row", "fate"], ["3", "refused"]]


def test_refused_rows_go_out_as_they_came_with_the_reason(client: Any) -> None:
    lines = b"".join(client.get(reverse("imports:refused", args=[checked(client).pk])).streaming_content).decode()
    head, row = lines.splitlines()
    assert head == "row,refused because,Art,Modell,Seriennr,Teile"
    assert row.endswith("drum,QX4,QX10002,chip")


def test_labels_for_all_of_it_come_in_one_press_and_use_nothing(client: Any) -> None:
    table = checked(client)
    client.post(reverse("imports:take-in", args=[table.pk]), {"refused": "skip"})
    tasks.go_on(seconds=60)
    answer = client.post(reverse("imports:labels", args=[table.pk]), {"size": next(iter(forms.SIZES))})
    assert answer.content.startswith(b"%PDF")
    assert Event.objects.filter(kind="import-labelled").count() == 1
    assert not since_they_came(Thing.objects.filter(kind="donor")).exists()


def test_a_table_that_is_left_alone_does_nothing(client: Any) -> None:
    table = checked(client)
    client.post(reverse("imports:leave", args=[table.pk]))
    table.refresh_from_db()
    assert (table.state, Donor.objects.exists()) == (Import.State.LEFT, False)


def test_a_page_of_rows_asks_no_more_for_more_rows(client: Any, django_assert_max_num_queries: Any) -> None:
    table = checked(client)
    rows = [table.rows.model(table=table, number=n, fate="new") for n in range(10, 500)]
    with django_assert_max_num_queries(20):
        client.get(table.get_absolute_url())
    table.rows.model.objects.bulk_create(rows)
    with django_assert_max_num_queries(20):
        client.get(table.get_absolute_url())
