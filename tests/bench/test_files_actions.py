"""Lists of files taken in, kept, judged again as reading goes on, and taken back."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from labcases.bench.files import actions
from labcases.bench.files.models import FileList, FileStates, TakenFiles
from labcases.bench.reading.actions import derive as derive_coverage
from labcases.bench.reading.actions import keep_upload, tie_area
from labcases.cases.intake import Told, WantedLine
from labcases.core import vault
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.roles import Role
from tests.bench.files_given import COLUMNS, CSV, read_spans


@pytest.fixture
def by(make):
    make.profile()
    return make.everyone()


@pytest.fixture
def bring(by, noon):
    """Take a list in and read it."""

    def run(item, data: bytes = CSV, **how):
        about = {"columns": COLUMNS, **how}
        found = actions.receive(
            item=item, file=vault.put(data), size=len(data), name="list.csv", how=about, by=by, happened=noon
        )
        actions.read_list(found.pk)
        found.refresh_from_db()
        return found

    return run


def wanting(make, *lines: str):
    return make.case(items=1, told=Told(stories=["wear"], story="", tried=[], wanted=[WantedLine(w) for w in lines]))


def counts(found: FileList) -> tuple[int, ...]:
    found.refresh_from_db()
    return found.current.total.files


def test_a_list_is_kept_with_its_bytes_and_stands_in_the_ledger(make, bring):
    item = make.item()
    found = bring(item)
    assert (found.state, found.number, found.rows, found.folders, found.placed) == ("kept", 1, 5, 4, 4)
    assert vault.get(found.file) == CSV
    assert counts(found) == (4, 0, 1, 0)
    kinds = Event.objects.filter(thing_code=item.thing.code).values_list("kind", flat=True)
    assert {"file-list-received", "file-list-kept"} <= set(kinds)


def test_states_follow_the_coverage(make, bring, by, noon):
    item = make.item()
    found = bring(item)
    keep_upload(item=item, ready=read_spans([(0, 110, "read")]), by=by, happened=noon)
    derive_coverage(item)
    assert list(FileList.objects.behind()) == [found]
    assert actions.derive_waiting() == 1
    assert counts(found) == (0, 1, 2, 2)
    assert actions.derive_waiting() == 0


def test_a_list_that_cannot_be_read_is_refused_as_a_whole(make, bring):
    found = bring(make.item(), CSV + b"Photos/late.jpg,12 apples,,\n")
    assert (found.state, found.listed, found.rows) == ("refused", "", 0)
    assert found.trouble == "Row 7: the size is no whole number: “12 apples”. Nothing of it was kept."
    assert not FileStates.objects.exists()


def test_what_nobody_foresaw_in_a_list_refuses_it_and_is_not_tried_for_ever(make, bring, monkeypatch, caplog):
    monkeypatch.setattr("labcases.bench.files.cells.sizes", lambda *_: 1 // 0)
    found = bring(make.item())
    assert found.state == "refused"
    assert found.trouble.startswith("It cannot be read, and nobody foresaw why")
    assert "division" in caplog.text
    assert actions.read_waiting() == 0


@pytest.mark.postgres
def test_a_list_refused_for_a_cell_with_a_nul_says_it_in_escapes(make, bring):
    found = bring(make.item(), b"path,size,extents,check\na,1\0x,,\n")
    assert found.trouble == r"Row 2: the size is no whole number: “1\x00x”. Nothing of it was kept."


def test_the_same_bytes_are_refused_until_they_are_withdrawn(make, bring, by, noon):
    item = make.item()
    found = bring(item)
    with pytest.raises(actions.FileListRefused, match="list 1"):
        bring(item)
    actions.withdraw_list(found=found, because="of the wrong partition", by=by, happened=noon)
    assert bring(item).number == 2
    with pytest.raises(actions.FileListRefused):
        actions.withdraw_list(found=found, because="again", by=by, happened=noon)


def test_a_list_whose_reader_was_killed_is_read_again(make, bring, by, noon):
    found = actions.receive(
        item=make.item(), file=vault.put(CSV), size=1, name="l.csv", how={"columns": COLUMNS}, by=by, happened=noon
    )
    FileList.objects.update(state="reading", beat=timezone.now())
    assert actions.read_waiting() == 0
    FileList.objects.update(beat=timezone.now() - timedelta(minutes=6))
    assert actions.read_waiting() == 1
    assert FileList.objects.get(pk=found.pk).state == "kept"


@pytest.mark.parametrize("role", [Role.COUNTER, Role.AUDITOR])
def test_only_an_engineer_brings_lists(make, noon, role):
    make.profile()
    with pytest.raises(NotAllowed):
        actions.receive(item=make.item(), file="0" * 64, size=1, name="x", how={}, by=make.actor(role), happened=noon)


def test_wanted_lines_are_answered_by_folder_pattern_and_area(make, bring, by, noon):
    case = wanting(make, "Photos", "Letters", "The will")
    item = case.items.get()
    found = bring(item)
    photos, letters, will = case.wanted.all()
    keep_upload(item=item, ready=read_spans([(0, 110, "read")]), by=by, happened=noon)
    derive_coverage(item)
    area = tie_area(item=item, name="will.odt", spans=[(300, 2)], by=by, happened=noon, wanted=will)
    about = {"found": found, "by": by, "happened": noon}
    actions.tie_wanted(wanted=photos, folder=2, name="Photos", **about)
    tie = actions.tie_wanted(wanted=letters, pattern="*.odt", name="*.odt", **about)
    actions.tie_wanted(wanted=will, area=area, name="will.odt", **about)
    said = actions.derive(found).wanted
    assert (said[photos.pk].files, said[photos.pk].answer) == ((0, 1, 1, 0), "partial")
    assert (said[letters.pk].files, said[letters.pk].answer) == ((0, 0, 0, 2), "not")
    assert said[will.pk].files == (0, 0, 0, 1)
    actions.drop_tie(tie=tie, by=by, happened=noon)
    assert letters.pk not in actions.derive(found).wanted


def test_a_ticked_folder_holds_all_under_it_and_forgets_what_was_said_there(make, bring, by, noon):
    found = bring(make.item())
    about = {"found": found, "by": by, "happened": noon}
    assert actions.take(taken=True, rows=[0], **about) == 1
    assert actions.take(taken=True, folders=[2], **about) == 1
    assert actions.take(taken=False, rows=[1], **about) == 2
    assert list(TakenFiles.objects.values_list("folder", "row", "taken")) == [(2, None, True), (3, 1, False)]
    assert actions.take(taken=False, folders=[0], **about) == 1


@pytest.mark.parametrize("wrong", [{"folders": [99]}, {"rows": [-1]}, {"rows": [5]}])
def test_what_is_not_in_the_list_is_not_ticked(make, bring, by, noon, wrong):
    with pytest.raises(actions.NoSuchFile):
        actions.take(found=bring(make.item()), taken=True, by=by, happened=noon, **wrong)
    assert not TakenFiles.objects.exists()


def test_a_sample_is_noted_with_its_file_and_stands_in_the_ledger(make, bring, by, noon):
    found = bring(make.item())
    made = actions.note_sample(found=found, row=0, outcome="structure", by=by, happened=noon, words="needs its program")
    assert (made.path, made.kind) == ("Photos/a.jpg", "pictures")
    assert Event.objects.filter(kind="sample-opened").count() == 1
    with pytest.raises(actions.NoSuchFile):
        actions.note_sample(found=found, row=5, outcome="opened", by=by, happened=noon)


def test_nothing_more_is_said_of_a_list_that_was_taken_back(make, bring, by, noon):
    found = bring(make.item())
    actions.withdraw_list(found=found, because="of another disk", by=by, happened=noon)
    with pytest.raises(actions.FileListRefused):
        actions.note_sample(found=found, row=0, outcome="opened", by=by, happened=noon)
    with pytest.raises(actions.FileListRefused):
        actions.take(found=found, taken=True, rows=[0], by=by, happened=noon)


def test_overtaken_states_are_cleared_away_and_the_newest_stay(make, bring, by, noon):
    case = wanting(make, "Photos")
    found = bring(case.items.get())
    actions.tie_wanted(found=found, wanted=case.wanted.get(), folder=2, name="Photos", by=by, happened=noon)
    newest = actions.derive(found)
    FileStates.objects.update(made=timezone.now() - timedelta(hours=2))
    assert actions.tidy() == 1
    assert FileStates.objects.get() == newest
