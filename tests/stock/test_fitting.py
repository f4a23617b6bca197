"""Which destination may take a patient's data, and whether it is large enough. All codes are invented."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcases.stock.fitting import Need, Room, State, best, fits, holds_files
from labcases.stock.models import Destination

CASE, OTHER = "26-00041", "26-00017"
SECTORS = 1_953_525_168
NEED = Need(SECTORS, 512, CASE)


def room(state: State = State.WIPED, sectors: int | None = SECTORS, sector_bytes: int = 512, **more: object) -> Room:
    return Room("S-7", sectors, sector_bytes, state, **({"healthy": True} | more))


# --- may it be used


@pytest.mark.parametrize("state", [State.NEW, State.WIPED, State.POOL])
def test_what_is_clean_may_be_used_for_any_case(state):
    assert fits(NEED, room(state)).fits


def test_new_and_sealed_counts_as_wiped():
    assert "It is new and sealed, which counts as wiped." in fits(NEED, room(State.NEW)).reasons


@pytest.mark.parametrize("state", [State.ASSIGNED, State.HOLDS, State.KEPT, State.NOT_VERIFIED])
def test_the_same_case_may_use_its_own_again_and_another_may_not(state):
    assert fits(NEED, room(state, held_for=CASE)).fits
    assert not fits(NEED, room(state, held_for=OTHER)).fits


@pytest.mark.parametrize("state", [State.HOLDS, State.KEPT, State.NOT_VERIFIED])
def test_using_it_again_warns_of_what_is_overwritten(state):
    assert fits(NEED, room(state, held_for=CASE)).warnings == (
        "It holds data of this case, which a new copy would overwrite.",
    )


def test_whose_data_it_holds_is_said():
    answer = fits(NEED, room(State.HOLDS, held_for=OTHER))
    assert answer.headline == "It holds data of case 26-00017, and no verified wipe is on record."


@pytest.mark.parametrize("state", [State.ASSIGNED, State.HOLDS, State.KEPT, State.NOT_VERIFIED])
def test_what_is_taken_by_a_case_not_on_record_is_not_free(state):
    assert "a case that is not on record" in fits(NEED, room(state)).headline


@pytest.mark.parametrize("state", [State.RETIRED, State.WIPING])
@pytest.mark.parametrize("case", [CASE, OTHER, None])
def test_retired_and_being_wiped_serve_nobody(state, case):
    assert not fits(NEED, room(state, held_for=case)).fits


def test_what_is_clean_but_set_aside_for_another_case_is_refused():
    assert fits(NEED, room(held_for=OTHER)).headline == "It is wiped and verified, and set aside for case 26-00017."


def test_a_customers_own_medium_serves_that_case_only_and_with_consent():
    assert not fits(NEED, room(owned_by=OTHER, consent=True)).fits
    assert "no written consent" in fits(NEED, room(owned_by=CASE)).headline
    assert fits(NEED, room(State.HOLDS, held_for=CASE, owned_by=CASE, consent=True)).fits


def test_a_failed_health_check_refuses_and_a_missing_one_warns():
    assert fits(NEED, room(healthy=False)).headline == "It failed its last health check."
    assert fits(NEED, room(healthy=None)).warnings == ("Its health has not been checked.",)


# --- is it large enough


def test_one_sector_short_is_too_small():
    answer = fits(NEED, room(sectors=SECTORS - 1))
    assert answer.headline.startswith("Too small: 1,953,525,168 sectors of 512 bytes are needed")
    assert answer.spare_bytes == -512


def test_the_same_number_of_larger_sectors_is_larger():
    answer = fits(NEED, room(sectors=SECTORS, sector_bytes=4096))
    assert answer.fits
    assert answer.translation == (512, 4096)


@pytest.mark.parametrize("there", [512, 520, 528, 4096, 4160])
@pytest.mark.parametrize("here", [512, 520, 528, 4096, 4160])
def test_a_translation_is_recorded_and_warned_of_and_never_refused(here, there):
    need = Need(1000, here, CASE)
    answer = fits(need, room(sectors=-(-1000 * here // there), sector_bytes=there))
    assert answer.fits
    assert answer.translation == (None if here == there else (here, there))
    assert len(answer.warnings) == (here != there)


def test_bytes_that_do_not_fill_a_sector_still_need_one():
    need = Need(3, 520, CASE)  # 1,560 bytes: three sectors of 512 hold 1,536
    assert not fits(need, room(sectors=3)).fits
    assert fits(need, room(sectors=4)).fits


def test_the_plan_may_need_less_than_the_whole_and_is_said_to():
    need = Need(SECTORS, 512, CASE, planned_bytes=512 * 1000)
    answer = fits(need, room(sectors=1000))
    assert answer.fits
    assert answer.warnings[-1] == "It holds what the plan reads (512,000 bytes), not the whole patient."


def test_a_copy_on_a_medium_must_reach_the_last_sector_of_the_plan_and_a_file_need_not():
    need = Need(SECTORS, 512, CASE, planned_bytes=512_000, planned_end=5000)
    assert not fits(need, room(sectors=4999)).fits
    assert fits(need, room(sectors=5000)).fits
    assert fits(need, room(sectors=1000, files=True)).fits


def test_image_files_need_no_translation():
    answer = fits(NEED, room(sectors=SECTORS, sector_bytes=4096, files=True))
    assert (answer.translation, answer.warnings) == (None, ())


def test_files_are_compared_in_bytes():
    answer = fits(NEED, room(sectors=10, files=True))
    assert (
        answer.headline == "Too small: 1,000,204,886,016 bytes are needed, there are 5,120 (1,000,204,880,896 too few)."
    )


def test_a_size_that_is_not_known_is_said_and_not_guessed():
    assert fits(NEED, room(sectors=None)).headline == "Its own size is not known: read it first."
    assert "patient's size is not known" in fits(Need(None, 512, CASE), room()).headline
    assert fits(Need(None, 512, CASE, planned_bytes=512_000), room()).fits


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Need(-1, 512, CASE), "patient's sectors must be a whole number of 1 or more, not -1"),
        (lambda: Need(1.5, 512, CASE), "not 1.5"),
        (lambda: Need(10, 0, CASE), "sector size"),
        (lambda: Need(10, 512, ""), "belongs to a case"),
        (lambda: Need(10, 512, CASE, planned_bytes=5121), "The plan reads 5,121 bytes, and the patient has 5,120"),
        (lambda: Need(10, 512, CASE, planned_end=11), "up to sector 11"),
        (lambda: room(sectors=-5), "destination's sectors"),
        (lambda: room(sector_bytes=True), "sector size"),
        (lambda: room("asleep"), "asleep"),
    ],
)
def test_sizes_that_cannot_be_are_refused_in_words(wrong, words):
    with pytest.raises(ValueError, match=r".") as refusal:
        wrong()
    assert words in str(refusal.value)


def test_an_answer_can_be_kept_as_json():
    record = fits(NEED, room(sectors=SECTORS, sector_bytes=4096)).as_record()
    assert json.loads(json.dumps(record)) == record
    assert record["translation"] == [512, 4096]


# --- the order


def named(key: str, sectors: int, state: State = State.WIPED, **more: object) -> Room:
    return Room(key, sectors, more.pop("sector_bytes", 512), state, healthy=True, **more)


def test_the_smallest_that_fits_comes_first_and_what_does_not_fit_is_left_out():
    rooms = [named("large", 4 * SECTORS), named("small", SECTORS - 1), named("right", SECTORS)]
    assert [answer.key for answer in best(NEED, rooms)] == ["right", "large"]


def test_size_is_compared_in_bytes_across_sector_sizes():
    rooms = [named("4096", SECTORS, sector_bytes=4096), named("512", 2 * SECTORS)]
    assert [answer.key for answer in best(NEED, rooms)] == ["512", "4096"]


def test_of_the_same_size_the_one_without_a_translation_comes_first():
    rooms = [named("4096", SECTORS // 8, sector_bytes=4096), named("512", SECTORS)]
    assert [answer.key for answer in best(NEED, rooms)] == ["512", "4096"]


def test_what_would_be_overwritten_comes_after_what_is_clean():
    rooms = [named("own", SECTORS, State.HOLDS, held_for=CASE), named("clean", 4 * SECTORS)]
    assert [answer.key for answer in best(NEED, rooms)] == ["clean", "own"]


# --- what holds for any of them

CASES = st.sampled_from([CASE, OTHER, None])
ROOMS = st.builds(
    Room,
    key=st.integers(),
    sectors=st.one_of(st.none(), st.integers(0, 3000), st.just(30_000), st.just(30_000)),
    sector_bytes=st.sampled_from([512, 520, 528, 4096, 4160]),
    state=st.sampled_from(State),
    held_for=CASES,
    owned_by=st.sampled_from([None, None, CASE, OTHER]),
    consent=st.booleans(),
    files=st.booleans(),
    healthy=st.sampled_from([None, True, True, False]),
)
NEEDS = st.builds(Need, st.integers(1, 3000), st.sampled_from([512, 520, 4096]), st.just(CASE))


@settings(max_examples=400)
@given(NEEDS, ROOMS)
def test_nothing_that_is_too_small_or_anothers_ever_fits(need, room):
    answer = fits(need, room)
    if answer.fits:
        assert room.bytes >= need.bytes
        assert room.state is not State.RETIRED
        assert room.state is State.POOL or room.held_for in (None, need.case)
        assert room.held_for == need.case or room.state in (State.POOL, State.NEW, State.WIPED)
        assert room.owned_by in (None, need.case)
    assert answer.reasons
    assert all(sentence.endswith(".") or sentence.endswith(").") for sentence in answer.reasons)


@given(NEEDS, ROOMS, st.integers(1, 1000))
def test_a_larger_room_never_fits_worse(need, room, more):
    if room.sectors is None or not fits(need, room).fits:
        return
    larger = Room(**{name: getattr(room, name) for name in Room.__slots__} | {"sectors": room.sectors + more})
    assert fits(need, larger).fits


@given(NEEDS, st.lists(ROOMS, max_size=8))
def test_the_best_are_just_those_that_fit(need, rooms):
    answers = best(need, rooms)
    assert sorted(a.key for a in answers) == sorted(r.key for r in rooms if fits(need, r).fits)


# --- handed out, and files on a delivery medium ---


def test_what_was_handed_out_is_never_offered_again():
    gone = Room("M-1", 1000, 512, State.GONE, held_for="26-00040")
    need = Need(sectors=10, sector_bytes=512, case="26-00040")
    assert fits(need, gone).headline == "It was handed out with what case 26-00040 recovered."
    assert best(need, [gone]) == []


def test_fitting_knows_every_state_that_stock_keeps():
    for state in Destination.State.values:
        assert State(state).value == state


def test_files_may_go_on_less_than_the_patient_has_and_that_is_said():
    need = Need(sectors=1000, sector_bytes=512, case="26-00041")
    answer = holds_files(need, Room("M-2", 100, 512, State.NEW))
    assert answer.fits
    assert answer.warnings == ("The patient has 512,000 bytes: see that what is recovered fits.",)


def test_files_do_not_go_where_another_customers_data_lies_however_large():
    need = Need(sectors=10, sector_bytes=512, case="26-00041")
    held = Room("M-3", 10**9, 512, State.HOLDS, held_for="26-00040")
    assert not holds_files(need, held).fits
    assert [answer.key for answer in best(need, [held, Room("M-4", 20, 512, State.NEW)], asked=holds_files)] == ["M-4"]
