"""Storage pools: room is reserved for each image and never more than there is; destroying a key erases."""

from __future__ import annotations

import html

import pytest
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.urls import reverse

from labcases.cases import facts as cases_facts
from labcases.cases.models import Case
from labcases.cases.queries import facts_for
from labcases.cases.secrecy.actions import HeldByLaw
from labcases.cases.secrecy.models import CaseSecret
from labcases.custody.actions import record, recorded
from labcases.custody.models import Event
from labcases.lab.roles import Role
from labcases.paper.models import Paper
from labcases.stock.actions import DoesNotFit, NotNow, assign_destination
from labcases.stock.measures import bytes_said
from labcases.stock.pools.actions import assign_pool, erase_images, keep_pool, release_image, resize_image
from labcases.stock.pools.models import Pool, PoolImage
from labcases.stock.pools.queries import certificate

SIZE = 976_773_168 * 512  # bytes of the patient of make.item
HOW = {"encrypted_with": "container tool 3.1", "seen_how": "opening was tried and failed", "because": "end of keeping"}


@pytest.fixture
def by(make):
    make.profile()
    return make.everyone()


@pytest.fixture
def pool(by, noon):
    """Room for two patients and a half."""
    return keep_pool(name="Long shelf", capacity=SIZE * 5 // 2, by=by, happened=noon)


@pytest.fixture
def place(pool, by, noon):
    def run(item, **about):
        return assign_pool(pool=pool, patient=item, **{"by": by, "happened": noon} | about)

    return run


def reserved(pool):
    """What the pool says is reserved, which has to be the sum over its open images."""
    said = Pool.objects.get(pk=pool.pk).reserved
    assert said == (PoolImage.objects.open().filter(pool=pool).aggregate(sum=Sum("size"))["sum"] or 0)
    return said


def test_room_is_reserved_until_there_is_none(pool, place, make):
    place(make.item()), place(make.item())
    assert reserved(pool) == 2 * SIZE
    with pytest.raises(DoesNotFit, match="Too small"):
        place(make.item())
    assert reserved(pool) == 2 * SIZE


def test_the_database_reserves_no_more_than_there_is(pool):
    with pytest.raises(IntegrityError), transaction.atomic():
        Pool.objects.filter(pk=pool.pk).update(reserved=pool.capacity + 1)


def test_a_patient_has_room_on_a_pool_once(place, make):
    item = make.item()
    place(item)
    with pytest.raises(IntegrityError), transaction.atomic():
        place(item)


def test_room_counts_as_a_destination(place, make):
    item = make.item()
    assert facts_for([item])[item.pk].destinations == 0
    place(item)
    assert facts_for([item])[item.pk].destinations == 1


def test_more_and_less_room_is_reserved_within_what_is_free(pool, place, make, by, noon):
    image = place(make.item())
    resize_image(image=image, size=2 * SIZE, by=by, happened=noon)
    assert reserved(pool) == 2 * SIZE
    with pytest.raises(DoesNotFit, match="bytes free"):
        resize_image(image=image, size=3 * SIZE, by=by, happened=noon)
    resize_image(image=image, size=SIZE // 2, by=by, happened=noon)
    assert reserved(pool) == SIZE // 2


def test_released_room_is_free_once(pool, place, make, by, noon):
    image = place(make.item())
    release_image(image=image, by=by, happened=noon)
    assert reserved(pool) == 0
    with pytest.raises(NotNow, match="ended already"):
        release_image(image=image, by=by, happened=noon)
    assert reserved(pool) == 0


def test_room_of_an_image_that_was_written_is_not_given_back_unerased(pool, place, make, by, noon):
    item = make.item()
    image = place(item)
    recorded(record)("cloned", thing=item.thing, by=by, happened=noon, case=item.case.code, because="all heads")
    with pytest.raises(NotNow, match="was copied while"):
        release_image(image=image, by=by, happened=noon)
    assert reserved(pool) == SIZE
    assign_destination(destination=make.destination(), patient=item, by=by, happened=noon)
    release_image(image=image, by=by, happened=noon)  # the copy went to the medium
    assert reserved(pool) == 0


def test_a_pool_cannot_hold_less_than_is_reserved(pool, place, make, by, noon):
    place(make.item())
    with pytest.raises(NotNow, match="cannot hold less"):
        keep_pool(pool=pool, name="Long shelf", capacity=SIZE - 1, by=by, happened=noon)


def test_what_is_out_of_use_takes_nothing_more(pool, place, make, by, noon):
    keep_pool(pool=pool, name="Long shelf", capacity=pool.capacity, in_use=False, by=by, happened=noon)
    with pytest.raises(NotNow, match="out of use"):
        place(make.item())


# --- the key ---


def test_images_of_one_case_share_a_key_and_those_of_another_have_their_own(place, make, by, noon):
    case = make.case(items=2)
    first, second = (place(item) for item in case.items.all())
    keep_pool(name="Other shelf", capacity=9 * SIZE, by=by, happened=noon)
    other = assign_pool(pool=Pool.objects.get(name="Other shelf"), patient=make.item(), by=by, happened=noon)
    assert first.key == second.key != other.key


def test_destroying_the_key_erases_every_image_of_the_case_and_frees_its_room(pool, place, make, by, noon):
    case = make.case(items=2)
    for item in case.items.all():
        place(item)
    erased = erase_images(case=case, by=by, happened=noon, **HOW)
    assert [image.end for image in erased] == ["erased", "erased"]
    key = CaseSecret.objects.get(pk=erased[0].key_id)
    assert (key.sealed, key.erased) == (None, noon)
    assert reserved(pool) == 0
    assert Event.objects.filter(kind="image-erased").count() == 2


def test_what_was_never_encrypted_is_not_erased_by_destroying_a_key(place, make, by, noon):
    item = make.item()
    image = place(item)
    with pytest.raises(NotNow, match="Say what had closed"):
        erase_images(case=item.case, by=by, happened=noon, **HOW | {"encrypted_with": ""})
    assert CaseSecret.objects.get(pk=image.key_id).sealed


def test_what_the_law_holds_is_not_erased(pool, place, make, by, noon):
    item = make.item()
    place(item)
    Case.objects.filter(pk=item.case_id).update(legal_hold=True)
    with pytest.raises(HeldByLaw):
        erase_images(case=item.case, by=by, happened=noon, **HOW)
    assert reserved(pool) == SIZE


def test_after_an_erasure_the_case_gets_a_new_key(place, make, by, noon):
    item = make.item()
    first = place(item)
    erase_images(case=item.case, by=by, happened=noon, **HOW)
    assert place(item).key_id != first.key_id


@pytest.mark.parametrize("change", [{"end": "erased"}, {"end": "released"}, {"size": 0}])
def test_the_database_keeps_no_image_that_contradicts_itself(place, make, change):
    image = place(make.item())
    with pytest.raises(IntegrityError), transaction.atomic():
        PoolImage.objects.filter(pk=image.pk).update(**change)


# --- what the plan reads ---


@pytest.fixture
def planned(monkeypatch):
    """A later room that knows of a plan, as the bench does: it reads the first tenth."""

    def provider(items):
        return {item.pk: {"planned_bytes": SIZE // 10, "planned_end": 976_773_168 // 10} for item in items}

    monkeypatch.setitem(cases_facts.PROVIDERS, "plans", provider)


def test_only_what_the_plan_reads_is_reserved_when_asked_for(pool, place, make, planned):
    assert place(make.item(), planned=True).size == SIZE // 10
    assert place(make.item()).size == SIZE


def test_a_medium_that_holds_what_the_plan_reads_is_offered_when_asked_for(make, client_as, planned, pool):
    small = make.destination(sectors=976_773_168 // 5)
    item, client = make.item(), client_as(Role.ENGINEER)
    address = reverse("stock:assign-destination", args=[str(item)])
    assert f'value="{small}"' not in client.get(address).content.decode()
    shown = client.get(f"{address}?reads=plan").content.decode()
    assert f'value="{small}"' in shown
    assert "not the whole patient" in shown
    assert client.post(f"{address}?reads=plan", {"chosen": str(small)}).status_code == 303


# --- pages ---


def page(client, name, *args):
    answer = client.get(reverse(f"stock:{name}", args=[str(one) for one in args]))
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


def press(client, name, /, *args, **sent):
    answer = client.post(reverse(f"stock:{name}", args=[str(one) for one in args]), sent)
    return answer.status_code, html.unescape(answer.content.decode())


def test_a_pool_is_added_assigned_and_its_images_erased_by_pressing(make, client_as, by):
    client, item = client_as(), make.item()
    assert press(client, "add-pool", name="Long shelf", capacity="2 TB", in_use="on")[0] == 303
    pool = Pool.objects.get()
    assert press(client, "assign-destination", item, chosen=f"pool-{pool.pk}")[0] == 303
    image = PoolImage.objects.get()
    for shown in (page(client, "pool", pool.pk), page(client, "assign", item), page(client, "pools")):
        assert "Long shelf" in shown
    assert "Long shelf" in client.get(reverse("docket:case", args=[str(item.case)])).content.decode()
    assert press(client, "resize-image", image.pk, size="600 GB")[0] == 303
    assert press(client, "erase-images", item.case, **HOW)[0] == 422  # not ticked
    assert press(client, "erase-images", item.case, **HOW, sure="on")[0] == 303
    assert press(client, "image-certificate", image.pk)[0] == 303
    assert Paper.objects.get(kind="erasure-certificate").code == str(item)
    said = dict(certificate(PoolImage.objects.with_context().get(), {}).sanitisation)
    assert said["Clear, purge or destroy"] == "purge"


@pytest.mark.parametrize("chosen", ["pool-", "pool-999", "pool-x", "pool-٣", "pool-1 OR 1"])
def test_a_pool_that_is_none_is_a_sentence(make, client_as, by, chosen):
    assert press(client_as(), "assign-destination", make.item(), chosen=chosen)[0] == 422


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"capacity": "much"}, "is no size"),
        ({"capacity": "-5 TB"}, "is no size"),
        ({"capacity": "9999999 PB"}, "is no size"),
        ({"name": ""}, "Name is needed"),
        ({"name": "LONG shelf"}, "There is a pool LONG shelf already"),
    ],
)
def test_a_pool_that_cannot_be_says_why(pool, client_as, wrong, says):
    status, shown = press(client_as(Role.ENGINEER), "add-pool", **{"name": "New", "capacity": "2 TB"} | wrong)
    assert status == 422
    assert says in shown


def test_pools_and_images_come_as_csv(pool, place, make, client_as):
    item = make.item()
    place(item)
    client = client_as(Role.AUDITOR)
    for name, args, words in (("pools", [], "Long shelf"), ("pool", [pool.pk], str(item))):
        answer = client.get(reverse(f"stock:{name}", args=args) + "?format=csv")
        assert words in b"".join(answer.streaming_content).decode()


@pytest.mark.parametrize(
    ("text", "size"), [("1 kB", 1000), ("1 KiB", 1024), ("1.5TB", 15 * 10**11), ("2t", 2 * 10**12)]
)
def test_sizes_count_by_a_thousand_or_by_1024_as_their_unit_says(text, size):
    """IEC 80000-13: kB is 1000 bytes, KiB is 1024."""
    assert bytes_said(text) == size
