"""Arrays: parity arithmetic, whether what is left is enough, findings on the copies."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from labcases.bench.arrays.actions import Found, NoSuchArray, NothingHeld, check_array, find_array
from labcases.bench.arrays.enough import Member, enough
from labcases.bench.arrays.holding import NotComparable, held
from labcases.bench.arrays.models import ArrayFinding
from labcases.bench.arrays.parity import NotEnough, inverse, parities, restore, times
from labcases.custody.models import Event
from labcases.lab.roles import Role


def members(count: int, *, stale: tuple[int, ...] = (), gone: tuple[int, ...] = ()) -> list[Member]:
    return [Member(place, stale=place in stale) for place in range(count) if place not in gone]


def shift_and_reduce(a: int, b: int) -> int:
    """Multiplication in the field by its definition: carry-less product, reduced by x^8 + x^4 + x^3 + x^2 + 1."""
    product = 0
    for bit in range(8):
        product ^= (a << bit) if b >> bit & 1 else 0
    for bit in range(14, 7, -1):
        product ^= 0x11D << (bit - 8) if product >> bit & 1 else 0
    return product


def test_products_are_those_of_the_published_field() -> None:
    """GF(2^8) with 0x11D, generator 2 (H. P. Anvin, "The mathematics of RAID-6"), worked out by its definition."""
    pairs = itertools.product(range(256), repeat=2)
    assert all(times(a, b) == shift_and_reduce(a, b) for a, b in pairs)
    assert all(times(a, inverse(a)) == 1 for a in range(1, 256))


def test_two_makes_every_element_but_zero() -> None:
    seen, value = set(), 1
    for _ in range(255):
        seen.add(value)
        value = times(value, 2)
    assert (len(seen), value) == (255, 1)


def test_parities_of_a_small_image_made_by_hand() -> None:
    """Three blocks of one byte: P = 01+02+04 = 07; Q = 01 + 2*02 + 4*04 = 01+04+10 = 15 (hexadecimal)."""
    assert parities([b"\x01", b"\x02", b"\x04"]) == (b"\x07", b"\x15")


@pytest.mark.parametrize("missing", [(), (0,), (4,), (0, 1), (1, 3), (3, 4)])
def test_whatever_two_blocks_are_missing_come_back(missing: tuple[int, ...]) -> None:
    data = [np.random.default_rng(n).bytes(64) for n in range(5)]
    p, q = parities(data)
    left = [None if at in missing else block for at, block in enumerate(data)]
    assert restore(left, p, q) == data


@pytest.mark.parametrize("which", ["p", "q"])
def test_one_block_comes_back_from_either_parity_alone(which: str) -> None:
    data = [np.random.default_rng(n).bytes(16) for n in range(4)]
    p, q = parities(data)
    kept = {"p": (p, None), "q": (None, q)}[which]
    assert restore([*data[:2], None, data[3]], *kept) == data


def test_more_missing_than_parities_is_refused() -> None:
    with pytest.raises(NotEnough, match="2 data blocks are missing, and 1 parities are there"):
        restore([None, None, b"x"], b"y")


@pytest.mark.parametrize(
    ("level", "count", "found", "whole"),
    [
        ("0", 2, members(2), True),
        ("0", 2, members(2, gone=(1,)), False),
        ("1", 2, members(2, gone=(0,)), True),
        ("1", 2, members(2, gone=(0,), stale=(1,)), False),
        ("5", 4, members(4, gone=(2,)), True),
        ("5", 4, members(4, gone=(2,), stale=(0,)), False),
        ("6", 5, members(5, gone=(2,), stale=(0,)), True),
        ("6", 5, members(5, gone=(1, 2, 3)), False),
        ("10", 4, members(4, gone=(0, 2)), True),
        ("10", 4, members(4, gone=(0, 1)), False),
        ("linear", 3, members(3, gone=(1,)), False),
    ],
)
def test_a_level_gives_back_what_it_can(level: str, count: int, found: list[Member], whole: bool) -> None:
    assert enough(level, count, found).whole is whole


@pytest.mark.parametrize(
    ("level", "count", "found", "sentence"),
    [
        ("5", 2, members(2), "This level needs 3 members at least; 2 are stated."),
        ("5", 3, [Member(0), Member(0)], "Two members are given place 0."),
        ("5", 3, [Member(3)], "Place 3 is beyond the last: places count from 0 to 2."),
        ("10", 5, members(5), "5 members cannot hold 2 copies of everything side by side."),
    ],
)
def test_what_cannot_be_an_array_is_said(level: str, count: int, found: list[Member], sentence: str) -> None:
    judged = enough(level, count, found)
    assert sentence in judged.mistakes
    assert not judged.whole


def test_a_finding_is_written_down_with_its_members_and_its_verdict(make, client_as):
    make.profile()
    case = make.case(items=3)
    client, items = client_as(Role.ENGINEER), list(case.items.all())
    said = {"level": "5", "members": "4", "copies": "2", "stripe_sectors": "128", "parity": "left"}
    for place, item in enumerate(items):
        said |= {f"place-{item.pk}": str(place), f"state-{item.pk}": "good"}
    assert client.post(f"/bench/{case}/array/", said).status_code == 303
    page = client.get(f"/bench/{case}/array/").content.decode()
    assert "Enough: 1 of 4 members is missing, and single parity gives back 1." in page
    assert ArrayFinding.objects.get().found.count() == 3
    assert Event.objects.filter(kind="array-found", case_code=case.code).count() == 1


def test_a_further_finding_starts_with_what_was_found_last(make, noon, client_as):
    case, by = make.case(items=2), make.actor(Role.ENGINEER)
    first, second = case.items.all()
    found = [Found(1, first, "A", 2048, stale=True)]
    find_array(case=case, level="1", members=2, found=found, by=by, happened=noon)
    form = client_as(Role.ENGINEER).get(f"/bench/{case}/array/").context["form"]
    told = {name: form[name].value() for name in ("level", "members", f"place-{first.pk}", f"state-{first.pk}")}
    assert list(told.values()) == ["1", 2, 1, "stale"]
    assert (form[f"offset-{first.pk}"].value(), form[f"place-{second.pk}"].value()) == (2048, None)


def test_two_members_in_one_place_are_refused(make, noon):
    case = make.case(items=2)
    with pytest.raises(NoSuchArray) as refused:
        find_array(
            case=case, level="1", members=2, found=[Found(0), Found(0)], by=make.actor(Role.ENGINEER), happened=noon
        )
    assert "Two members are given place 0." in refused.value.why


# --- held against the copies ------------------------------------------------------------------------------------------


def rotated(data: list[bytes], stripes: int, unit: int, parities_of: int) -> list[bytes]:
    """Members of an array by the usual rotation (left-symmetric; common practice, no source): parity moves one place
    down each stripe, the data goes on behind it. Worked out block by block, with sums written out here."""
    count = len(data) + parities_of
    places: list[list[bytes]] = [[b""] * stripes for _ in range(count)]
    for stripe in range(stripes):
        blocks = [piece[stripe * unit : (stripe + 1) * unit] for piece in data]
        p = (count - 1 - stripe) % count
        last = p + parities_of - 1
        sums = [bytes(np.bitwise_xor.reduce([np.frombuffer(block, np.uint8) for block in blocks]))]
        if parities_of == 2:
            q = bytearray(unit)
            for power, block in enumerate(blocks):
                factor = 1
                for _ in range(power):
                    factor = shift_and_reduce(factor, 2)
                q = bytearray(a ^ shift_and_reduce(factor, b) for a, b in zip(q, block, strict=True))
            sums.append(bytes(q))
        for at, block in enumerate(sums):
            places[(p + at) % count][stripe] = block
        for at, block in enumerate(blocks, 1):
            places[(last + at) % count][stripe] = block
    return [b"".join(blocks) for blocks in places]


@pytest.mark.parametrize(("level", "parities_of"), [("5", 1), ("6", 2)])
def test_members_that_belong_together_hold_wherever_their_parity_lies(level: str, parities_of: int) -> None:
    data = [np.random.default_rng(n).bytes(6 * 16) for n in range(3)]
    members_of_it = rotated(data, 6, 16, parities_of)
    assert held(level, members_of_it, stripe_bytes=16).whole
    members_of_it[1] = np.random.default_rng(9).bytes(6 * 16)  # a stale member
    assert not held(level, members_of_it, stripe_bytes=16).whole


def test_where_the_parities_of_a_stripe_lie_is_said() -> None:
    data = [np.random.default_rng(n).bytes(16) for n in range(3)]
    sentence = held("6", rotated(data, 1, 16, 2), stripe_bytes=16).sentence
    assert sentence == (
        "It holds: in each of 1 stripe two members are parities of the others: in the first that holds, P on place 4 "
        "and Q on place 0."
    )


def test_mirrors_hold_where_their_copies_are_alike() -> None:
    assert held("1", [b"abcd", b"abcd"]).whole
    assert held("10", [b"abcd", b"abcd", b"efgh", b"efgX"]).agreeing == 3
    assert not held("10", [b"abcd", b"efgh", b"abcd", b"efgh"]).whole  # the order is another


@pytest.mark.parametrize(
    ("level", "pieces", "said"),
    [
        ("0", [b"a", b"b"], "keeps nothing twice"),
        ("5", [b"a", b"bb"], "equal length"),
        ("6", [b"aaa"] * 4, "whole stripe units"),
    ],
)
def test_pieces_that_cannot_be_held_together_are_refused(level: str, pieces: list[bytes], said: str) -> None:
    with pytest.raises(NotComparable, match=said):
        held(level, pieces, stripe_bytes=2)


def test_a_finding_is_held_against_pieces_of_the_copies_on_record(make, noon, client_as):
    make.profile()
    case, by = make.case(items=3), make.actor(Role.ENGINEER)
    found = [Found(place, item) for place, item in enumerate(case.items.all())]
    finding = find_array(case=case, level="5", members=3, found=found, by=by, happened=noon)
    client, page = client_as(Role.ENGINEER), f"/bench/{case}/array/"
    address = f"{page}{finding.pk}/check/"
    assert address in client.get(page).content.decode()
    first, second = b"\x01\x80", b"\x02\x81"
    pieces = dict(enumerate((first, second, bytes(a ^ b for a, b in zip(first, second, strict=True)))))
    sent = {f"piece-{place}": SimpleUploadedFile("piece.bin", piece) for place, piece in pieces.items()}
    assert client.post(address, sent | {"where": "the first bytes"}).status_code == 303
    assert "It holds: on all 2 bytes the members add up to nothing." in client.get(page).content.decode()
    assert Event.objects.filter(kind="array-checked", case_code=case.code).count() == 1
    with pytest.raises(NothingHeld, match="place 2 is missing"):
        check_array(finding=finding, pieces={0: first, 1: second}, by=by, happened=noon)
