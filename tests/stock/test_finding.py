"""Find: what is typed, what it finds, and what narrows it."""

from __future__ import annotations

import html

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labcases.lab.roles import Role
from labcases.stock.finding.asked import understand
from labcases.stock.finding.queries import MEDIA, PARTS, Counts
from labcases.stock.models import Destination, DonorPart


@pytest.mark.parametrize(
    ("text", "part", "what", "free", "size", "words"),
    [
        ("boards", "controller board", "parts", False, None, ()),
        ("free head stack PL500", "head stack", "parts", True, None, ("pl500",)),
        ("2 TB", "", "", False, 2 * 10**12, ()),
        ("clean 500gb shelf", "", "media", True, 500 * 10**9, ("shelf",)),
        ("destinations 1,5 TiB", "", "media", False, 1649267441664, ()),
        ("Žižková", "", "", False, None, ("zizkova",)),
        ("", "", "", False, None, ()),
        ("for 26-00417-X", "", "", False, None, ("for", "26-00417-x")),  # mistyped: words like any other
        ("WD-500gb-x", "", "", False, None, ("wd-500gb-x",)),  # a number within a model is no size
    ],
)
def test_what_is_typed_is_understood(text, part, what, free, size, words):
    asked = understand(text)
    assert (asked.part, asked.what, asked.free, asked.size, asked.words) == (part, what, free, size, words)


@pytest.fixture
def client(client_as, make):
    make.profile()
    return client_as(Role.ENGINEER)


def found(client, q, **query):
    answer = client.get(reverse("stock:find"), {"q": q} | query)
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


@pytest.fixture
def stock(make):
    """Two donors with parts, and two media, that differ in all that one looks for."""
    make.family("Pelorus Minnow", aliases=[("Pelorus", "PL500")])
    shelf = make.place(name="Regal Žižka 3")
    small = make.donor(parts=["head stack", "controller board"], at=shelf)
    large = make.donor(parts=["head stack"], maker="Corvane", model="CT-4000/B", serial="CC77", sectors=7_814_037_168)
    clean = make.destination(at=shelf)
    held = make.destination(model="CT2000-NAS", sectors=3_907_029_168)
    return small, large, clean, held


def parts_of(donor):
    return [str(part) for part in donor.parts.all()]


@pytest.mark.parametrize(
    ("q", "small", "large"),
    [
        ("500-2", True, False),
        ("pl500", True, False),
        ("ct4000b", False, True),
        ("4000/b", False, True),
        ("corvane", False, True),
        ("minnow", True, False),
        ("zizka", True, False),
        ("Žižka", True, False),
        ("4 tb", False, True),
        ("heads 500 GB", True, False),
        ("cc77", False, True),
        ("nothing-of-it", False, False),
        ("100%", False, False),
        ("_", False, False),
    ],
)
def test_parts_are_found_by_what_is_known_of_them(client, stock, q, small, large):
    shown = found(client, q, what="parts")
    assert (parts_of(stock[0])[0] in shown, parts_of(stock[1])[0] in shown) == (small, large)


def test_a_part_and_its_donor_are_found_by_their_codes(client, stock):
    part = parts_of(stock[0])[1]
    assert part in found(client, part)
    assert part in found(client, str(stock[0]))


def test_only_the_named_part_is_found(client, stock):
    shown, parts = found(client, "boards"), stock[0].parts
    assert str(parts.get(part="controller board")) in shown
    assert str(parts.get(part="head stack")) not in shown


@pytest.mark.parametrize(
    ("q", "clean", "held"), [("ct1000", True, False), ("2 tb clean", False, True), ("zizka", True, False)]
)
def test_media_are_found(client, stock, q, clean, held):
    shown = found(client, q, what="media")
    assert (str(stock[2]) in shown, str(stock[3]) in shown) == (clean, held)


def test_facets_count_and_narrow(client, stock, make):
    shown = found(client, "", what="parts")
    assert "up to 500 GB" in shown
    assert parts_of(stock[1])[0] not in found(client, "", what="parts", size="500")
    assert parts_of(stock[1])[0] in found(client, "", what="parts", size="4000")
    assert parts_of(stock[1])[0] not in found(client, "", what="parts", part="controller board")


@pytest.mark.parametrize(
    "query", ["?page=zzz", "?what=odd", "?part=flux", "?family=x", "?size=17", "?shelf=-1", "?sort=odd", "?q=%00%ff"]
)
def test_the_page_stands_any_address(client, stock, query):
    assert client.get(reverse("stock:find") + query).status_code == 200


def test_heads_for_a_case_lead_to_where_they_are_matched(client, make):
    item = make.item()
    answer = client.get(reverse("stock:find"), {"q": f"free heads for {item.case}"})
    assert answer["Location"] == reverse("stock:assign-donor", args=[str(item)]) + "?part=head+stack"


def test_a_case_of_several_patients_asks_for_which(client, make):
    case = make.case(items=2)
    shown = found(client, f"boards for {case}")
    assert all(str(item) in shown for item in case.items.all())


def test_a_case_that_is_not_there_is_said(client, make):
    item = make.item()
    other = str(item.case).replace("00001", "00777")
    from labcases.core import codes

    code = codes.printed(codes.with_check(codes.fold(other)[:-1]))
    assert f"No patient has the code {code}" in found(client, f"heads for {code}").replace(
        '<span class="code">', ""
    ).replace("</span>", "")


def test_what_an_import_has_not_shown_yet_is_not_found(client, stock):
    from labcases.core.models import Batch

    thing = stock[2].thing
    type(thing)._base_manager.filter(pk=thing.pk).update(batch=Batch.objects.create())
    assert str(stock[2]) not in found(client, "ct1000", what="media")


def test_it_comes_as_csv(client, stock):
    answer = client.get(reverse("stock:find"), {"q": "minnow heads", "format": "csv"})
    lines = b"".join(answer.streaming_content).decode().splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == [str(stock[0].parts.get(part="head stack"))]


@pytest.mark.parametrize(("model", "kind"), [(DonorPart, PARTS), (Destination, MEDIA)])
def test_all_of_the_stock_is_counted_from_indexes_as_a_walk_counts_it(stock, model, kind):
    apart, walked = (Counts.of(model.objects.all(), kind, every=every) for every in (True, False))
    assert apart == walked
    assert apart.total == model.objects.count() > 1
    assert sum(apart.by["size"].values()) == apart.total


def test_words_and_a_chosen_shelf_narrow_together(client, stock):
    small, large, *_ = stock
    shelf = small.thing.place
    page = found(client, "pelorus", shelf=shelf.pk)
    assert all(code in page for code in parts_of(small))
    assert not any(code in page for code in parts_of(large))
    assert not any(code in found(client, "corvane", shelf=shelf.pk) for code in parts_of(large))


def test_it_asks_as_often_for_much_stock_as_for_little(client, make):
    asked = []
    for many in (2, 25):
        for _ in range(many):
            make.donor(parts=["head stack", "motor"]), make.destination()
        for q in ("", "pl500", "heads 500 gb minnow shelf"):
            with CaptureQueriesContext(connection) as caught:
                found(client, q)
            asked.append((q, len(caught)))
    assert asked[:3] == asked[3:]


def test_labels_of_everything_found_are_one_press_away(client, stock):
    shown = found(client, "minnow")
    address = shown.split('href="/stockroom/labels/?')[1].split('"')[0]
    form = client.get("/stockroom/labels/?" + address.replace("&amp;", "&")).content.decode()
    assert all(part in form for part in parts_of(stock[0]))
    assert parts_of(stock[1])[0] not in form


@pytest.mark.parametrize(
    "address", ["found=", "found=%25%25&things=", "found=q%3D%00", "found=size%3Dx%26family%3D%C2%B2"]
)
def test_labels_of_what_cannot_be_found_are_none(client, address):
    assert client.get("/stockroom/labels/?" + address).status_code == 200
