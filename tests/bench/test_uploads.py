"""Uploads of spans: kept as they came, laid in their order, taken back as a whole, worked out again at will."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from labcases.bench.reading.actions import (
    NoSize,
    UploadedBefore,
    Withdrawn,
    derive,
    derive_waiting,
    keep_upload,
    prepare,
    tidy,
    withdraw_upload,
)
from labcases.bench.reading.models import CoverageUpload, Derivation, ItemCoverage
from labcases.bench.spantable import How, read_table
from labcases.bench.stored import unpack
from labcases.core import vault
from labcases.core.refused import NotAllowed
from labcases.custody.models import Event
from labcases.lab.roles import Role

TOTAL = 976_773_168
Rows = list[tuple[int, int, str]]


def ready(rows: Rows, source: str = "table", total: int = TOTAL) -> Any:
    columns = {
        "first": [str(row[0]) for row in rows],
        "sectors": [str(row[1]) for row in rows],
        "state": [row[2] for row in rows],
    }
    how = How(states={row[2]: row[2] for row in rows})
    return prepare(read_table(columns, how, total=total), data=repr(rows).encode(), name="spans.csv", source=source)


@pytest.fixture
def lay(make, noon):
    """Keep rows as an upload of ``item`` some minutes after noon, without working them out."""
    by = make.everyone()

    def run(item, rows: Rows, minutes: int = 0, source: str = "table", **about: Any) -> CoverageUpload:
        happened = noon + timedelta(minutes=minutes)
        return keep_upload(item=item, ready=ready(rows, source), by=by, happened=happened, **about)

    return run


def coverage_of(item):
    return unpack(vault.get(ItemCoverage.objects.get(item=item).derivation.digest))


def test_an_upload_keeps_its_bytes_and_stands_in_the_ledger(make, lay):
    item = make.item()
    upload = lay(item, [(0, 10, "read")])
    assert vault.get(upload.file) == b"[(0, 10, 'read')]"
    assert (upload.number, upload.rows, upload.size) == (1, 1, 17)
    assert Event.objects.get(kind="coverage-kept").thing_code == item.thing.code


def test_coverage_follows_from_the_uploads(make, lay):
    item = make.item()
    lay(item, [(0, 1_000, "read"), (1_000, 10, "unreadable")])
    lay(item, [(1_000, 5, "read")], minutes=5, pass_number=2)
    derive(item)
    made = ItemCoverage.objects.get(item=item).derivation
    assert (made.read, made.unreadable, made.unreached) == (1_005, 5, TOTAL - 1_010)
    assert (made.uploads, made.runs) == ("1-2", 3)
    assert coverage_of(item).spans("unreadable") == [(1_005, 5)]


def test_working_out_step_by_step_gives_what_working_out_anew_gives(make, lay):
    item, chance = make.item(), np.random.default_rng(3)
    for n in range(6):
        rows = [(int(f), int(chance.integers(1, 90)), str(s)) for f, s in zip(
            chance.integers(0, 2_000, 30), chance.choice(["read", "doubtful", "skipped", "unreadable"], 30), strict=True
        )]  # fmt: skip
        lay(item, rows, minutes=n)
        derive(item)
    step_by_step = ItemCoverage.objects.get(item=item).derivation.digest
    assert derive(item, anew=True).derivation.digest == step_by_step


def test_a_late_entry_lies_where_it_happened(make, lay):
    """What is entered second but happened first is overlaid by what is entered first."""
    item = make.item()
    lay(item, [(0, 10, "skipped")], minutes=10)
    derive(item)
    lay(item, [(0, 10, "unreadable")], minutes=1)
    derive(item)
    assert coverage_of(item).count("skipped") == 10
    assert ItemCoverage.objects.get(item=item).derivation.uploads == "2,1"


def test_an_upload_is_withdrawn_as_a_whole_and_its_bytes_stay(make, lay, noon):
    item, by = make.item(), make.everyone()
    lay(item, [(0, 10, "read")])
    wrong = lay(item, [(5, 20, "read")], minutes=1)
    derive(item)
    withdraw_upload(upload=wrong, because="the bridge had translated", by=by, happened=noon)
    derive(item)
    assert coverage_of(item).spans("read") == [(0, 10)]
    assert vault.get(wrong.file)
    assert Event.objects.filter(kind="coverage-withdrawn").count() == 1
    with pytest.raises(Withdrawn):
        withdraw_upload(upload=wrong, because="again", by=by, happened=noon)


def test_sectors_are_taken_back_with_a_reason(make, lay):
    item = make.item()
    lay(item, [(0, 100, "read")])
    lay(item, [(10, 5, "read")], minutes=1, source="hand", verb="withdraw", because="wrong head")
    derive(item)
    assert coverage_of(item).spans("read") == [(0, 10), (15, 85)]


def test_a_table_that_stands_already_is_refused(make, lay):
    item = make.item()
    first = lay(item, [(0, 10, "read")])
    with pytest.raises(UploadedBefore, match="upload 1") as refused:
        lay(item, [(0, 10, "read")], minutes=5)
    assert refused.value.upload == first
    assert CoverageUpload.objects.count() == 1


def test_what_a_bench_computer_sent_of_a_pass_and_head_stands_once(make, lay):
    """Sent again later, the first pass would lie over what the second one said since."""
    item, first = make.item(), [(0, 100, "unreadable")]
    lay(item, first, source="station")
    lay(item, [(0, 100, "doubtful")], 1, source="station", pass_number=2)
    with pytest.raises(UploadedBefore, match="upload 1"):
        lay(item, first, 2, source="station")
    derive(item)
    assert coverage_of(item).counts()["doubtful"] == 100
    assert lay(item, first, 3, source="station", pass_number=3).number == 3
    assert lay(item, first, 3, source="station", head=0).number == 4


def test_an_item_of_unknown_size_has_no_coverage(make, lay):
    with pytest.raises(NoSize):
        lay(make.item(sectors=None), [(0, 10, "read")])
    assert not ItemCoverage.objects.exists()


@pytest.mark.parametrize("role", [Role.COUNTER, Role.MANAGER, Role.AUDITOR])
def test_only_an_engineer_uploads(make, noon, role):
    with pytest.raises(NotAllowed):
        keep_upload(item=make.item(), ready=ready([(0, 1, "read")]), by=make.actor(role), happened=noon)


def test_what_lags_behind_is_caught_up_by_the_worker(make, lay):
    item = make.item()
    lay(item, [(0, 10, "read")])
    assert not ItemCoverage.objects.get(item=item).up_to_date
    assert derive_waiting() == 1
    assert ItemCoverage.objects.get(item=item).up_to_date
    assert derive_waiting() == 0


def test_an_upload_that_no_longer_fits_is_said_and_the_older_coverage_stands(make, lay):
    item = make.item()
    lay(item, [(0, 10, "read"), (900, 10, "read")])
    derive(item)
    item.sectors = 905
    item.save()
    state = derive(item)
    assert "Upload 1 does not fit the medium any more" in state.trouble
    assert state.derivation.read == 20


def test_a_lost_file_of_a_derivation_is_worked_out_again(make, lay):
    item = make.item()
    lay(item, [(0, 10, "read")])
    digest = derive(item).derivation.digest
    vault.path(digest).unlink()
    lay(item, [(20, 10, "read")], minutes=1)
    derive(item)
    assert coverage_of(item).count("read") == 20


def test_overtaken_coverages_are_cleared_away_and_the_standing_one_stays(make, lay):
    item = make.item()
    lay(item, [(0, 10, "read")])
    derive(item)
    lay(item, [(20, 10, "read")], minutes=1)
    derive(item)
    Derivation.objects.update(made="2026-01-01T00:00Z")
    assert tidy() == 1
    assert coverage_of(item).count("read") == 20
