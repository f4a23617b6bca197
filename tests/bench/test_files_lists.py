"""Lists of files read, kept and judged: whatever is in them, and whatever is wrong with them."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest

from labcases.bench.coverage import Coverage
from labcases.bench.files.cells import How
from labcases.bench.files.derived import Tie, derive
from labcases.bench.files.listed import Listed, Maker
from labcases.bench.files.paths import KINDS
from labcases.bench.files.source import ListError, Source
from labcases.bench.files.states import STATES, Extents, judge

TOTAL = 10_000
COLUMNS = {"path": 0, "size": 1, "extents": 2, "check": 3}
HEAD = b"path,size,extents,check\n"


@pytest.fixture
def made(tmp_path):
    """Keep a list; gives what was made of it and the list itself."""

    def run(data: bytes, name: str = "list.csv", columns: Any = None, total: int | None = TOTAL, **how: Any):
        (tmp_path / name).write_bytes(data)
        source = Source(tmp_path / name, name)
        files, folders = tmp_path / "files", tmp_path / "folders"
        about = Maker(columns or COLUMNS, How(**how), total).make(source, files, folders)
        return about, Listed(files, folders)

    return run


def lines(listed: Listed) -> list[dict[str, Any]]:
    return listed.lines(range(listed.rows))


def test_a_list_becomes_rows_folders_and_kinds(made):
    about, listed = made(HEAD + b"a/b/one.JPG,10,0+4,ok\na/two.txt,20,4+4;100+4,\ntop,,,\n")
    assert (about.rows, about.folders, about.bytes, about.with_extents, about.notes) == (3, 3, 30, 2, [])
    assert [KINDS[row["kind"]] for row in lines(listed)] == ["pictures", "documents", "others"]
    assert (lines(listed)[1]["firsts"], lines(listed)[1]["lengths"]) == ([4, 100], [4, 4])
    tree, rank = listed.tree()
    assert [tree.path(rank[row["folder"]]) for row in lines(listed)] == [b"a/b", b"a", b""]


NASTY = b'"nul\x00in.txt",1,,\n\xed\xa0\x80/surrogate.txt,2,,\n"line\nend, comma.txt",3,,\n\xff\xfe\x80.bin,4,,\n'


@pytest.mark.parametrize("packed", [False, True])
def test_paths_are_the_bytes_they_came_as(made, packed):
    data = HEAD + NASTY
    _, listed = made(gzip.compress(data) if packed else data, "list.csv.gz" if packed else "list.csv")
    paths = [row["path"] for row in lines(listed)]
    assert paths == [b"nul\x00in.txt", b"\xed\xa0\x80/surrogate.txt", b"line\nend, comma.txt", b"\xff\xfe\x80.bin"]


def test_a_path_of_thirty_thousand_characters_and_as_many_folders_is_kept(made):
    path = b"a/" * 15_000 + b"x.txt"
    about, listed = made(HEAD + path + b",1,0+1,ok\n")
    assert (about.rows, about.folders) == (1, 15_001)
    assert lines(listed)[0]["path"] == path


def test_what_can_be_put_right_is_put_right_and_said_with_its_row(made):
    about, listed = made(HEAD + b"a,-5,0+4,ok\nb,1,9998+4,ok\n,7,,\nc,1,0+1,odd word\nd,2,5+1,\n", columns=COLUMNS)
    assert about.notes == [
        "Row 4 has no path: it is left out.",
        "Row 2 has a negative size: its size is not known.",
        "Row 5 has a word for the check that nobody gave a meaning: it is taken as not known.",
        "Row 3 has extents beyond the end of the medium: they are left aside, and its state is what the list says.",
    ]
    assert [(row["row"], row["size"]) for row in lines(listed)] == [(2, -1), (3, 1), (5, 1), (6, 2)]


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        (b"a,12x,,\n", "Row 2: the size is no whole number: “12x”."),
        (b"b,1,,\na,99999999999999999999,,\n", "Row 3: the size does not fit into 64 bits."),
        (b"a,1,0x10+4,\n", "Row 2: its extents cannot be read: “0x10+4”."),
        (b"a,1,,\na,1,-4+4,\n", "Row 3: its extents cannot be read: “-4+4”."),
        (b"a,1,4,\n", "Row 2: its extents are not pairs of numbers."),
        (b"a,1,4+9223372036854775808,\n", "Row 2: an extent in this row or after it does not fit into 64 bits."),
        (b"a,1\0x,,\n", r"Row 2: the size is no whole number: “1\x00x”."),
        (b"a,%d,,\nb,1,,\n" % (2**63 - 1), "Row 2: the sizes up to here add up to more than 64 bits hold."),
        (b"x" * 70_000 + b",1,,\n", "Row 2: the path has 70,000 bytes; 65,535 are the most."),
        (b"a,b,1,,\n", "Row 2: it has more or fewer cells than there are headers. Most often a path holds the"),
        (b"a,1,20000+1,\nb,1,30000+1,\n", "Most extents lie beyond the end of the medium, the first in row 2."),
        (b"", "No row of it has a path."),
    ],
)
def test_what_cannot_be_put_right_is_refused_with_its_row(made, rows, sentence):
    with pytest.raises(ListError) as refused:
        made(HEAD + rows)
    assert str(refused.value).startswith(sentence)


def test_an_extent_of_the_largest_numbers_is_beyond_the_end_and_wraps_nothing_around(made):
    largest = str(2**63 - 1).encode()
    about, _ = made(HEAD + b"a,1," + largest + b"+" + largest + b",\nb,1,0+1,\nc,1,1+1,\n")
    assert about.with_extents == 2
    assert "Row 2 has extents beyond the end" in about.notes[0]


@pytest.mark.parametrize("unit", ["sectors", "bytes"])
def test_an_extent_whose_last_sector_is_the_largest_number_lies_beyond_the_end(made, unit):
    """From 0 to 2^63-1 is one sector more than 64 bits count."""
    rows = b"a,1,0-%d,\nb,1,0-1023,\nc,1,4-4,\n" % (2**63 - 1)
    about, listed = made(HEAD + rows, extent="last", unit=unit)
    assert "Row 2 has extents beyond the end" in about.notes[0]
    assert lines(listed)[1]["lengths"] == [1024 if unit == "sectors" else 2]


def test_an_extent_that_ends_before_it_begins_is_refused(made):
    with pytest.raises(ListError, match="Row 3: an extent ends before it begins"):
        made(HEAD + b"a,1,0-4,\nb,1,9-3,\n", extent="end")


def test_extents_in_bytes_of_a_partition_become_sectors_of_the_medium(made):
    _, listed = made(HEAD + b"a,1,512-1024,\nb,1,100-101,\n", unit="bytes", extent="end", base=2_000)
    assert [(row["firsts"], row["lengths"]) for row in lines(listed)] == [([2_001], [1]), ([2_000], [1])]


def test_backslashes_set_folders_apart_when_told_so(made):
    _, listed = made(HEAD + b"C:\\Bilder\\x.png,1,,\n", separator="\\")
    tree, rank = listed.tree()
    assert tree.path(int(rank[lines(listed)[0]["folder"]])) == b"C:/Bilder"


def test_a_parquet_file_brings_its_lists_and_its_times(made, tmp_path):
    table = pa.table({
        "path": pa.array([b"a/\xff", b"b"]), "size": pa.array([5, None]),
        "extents": pa.array([[{"first": 3, "sectors": 2}], None]),
        "modified": pa.array([1_700_000_000_000_000, None], pa.timestamp("us")),
    })  # fmt: skip
    parquet.write_table(table, tmp_path / "x.parquet")
    columns = {"path": 0, "size": 1, "extents": 2, "modified": 3}
    _, listed = made((tmp_path / "x.parquet").read_bytes(), "list.parquet", columns)
    first, second = lines(listed)
    assert (first["path"], first["size"], first["firsts"], first["lengths"]) == (b"a/\xff", 5, [3], [2])
    assert first["modified"].isoformat() == "2023-11-14T22:13:20"
    assert (second["size"], second["firsts"], second["modified"]) == (-1, [], None)


STRANGE = {
    "path": pa.array(["a", "b"]), "size": pa.array([5.0, None]), "extents": pa.array(["0+1", None]),
    "modified": pa.array([2**50, 1], pa.timestamp("s")),
}  # fmt: skip
PLACES = {"path": 0, "size": 1, "extents": 2, "modified": 3}


def as_parquet(tmp_path: Path, **other: Any) -> bytes:
    parquet.write_table(pa.table({**STRANGE, **other}), tmp_path / "x.parquet")
    return (tmp_path / "x.parquet").read_bytes()


def test_whole_numbers_with_a_point_and_times_nobody_can_show_are_put_right(made, tmp_path):
    about, listed = made(as_parquet(tmp_path), "list.parquet", PLACES)
    assert [(row["size"], row["modified"] and row["modified"].year) for row in lines(listed)] == [(5, None), (-1, 1970)]
    assert about.notes == ["Row 1 has a time that cannot be read: it is left empty."]
    assert Source(tmp_path / "list.parquet", "list.parquet").sample()[1][:2] == ["b", ""]


@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        ({"size": [1.5, 2.0]}, "Row 1: the size is no whole number of 64 bits: “1.5”."),
        ({"size": pa.array([1, 2**64 - 1], pa.uint64())}, "Row 2: the size does not fit into 64 bits."),
        ({"path": [{"x": 1}, None]}, "A column of struct<x: int64> is not what was chosen for it."),
        ({"modified": pa.array([1, 2], pa.time32("s"))}, "A column of time32[ms] is not what was chosen for it."),
        ({"extents": pa.array([[2**64 - 1, 3], None], pa.list_(pa.uint64()))}, "Row 1: an extent in this row or after"),
        ({"extents": [[{"a": None, "b": 1}], None]}, "Row 1: an extent in this row or after it has no numbers."),
        ({"extents": [[{"a": 0.5, "b": 1.0}], None]}, "Row 1: an extent in this row or after it is no pair"),
        ({"extents": [[-1, 3], None]}, "Row 1: an extent has a negative number."),
        ({"size\0": [1, 2]}, r"A column's name holds a NUL: “size\x00”."),
    ],
)
def test_a_parquet_file_with_other_things_in_it_is_refused_in_a_sentence(made, tmp_path, other, sentence):
    with pytest.raises(ListError) as refused:
        made(as_parquet(tmp_path, **other), "list.parquet", PLACES)
    assert str(refused.value).startswith(sentence)


def test_a_parquet_file_with_two_columns_of_one_name_is_refused(tmp_path):
    parquet.write_table(pa.table([pa.array(["a"]), pa.array([1])], names=["a", "a"]), tmp_path / "x")
    with pytest.raises(ListError, match="Two columns are “a”"):
        Source(tmp_path / "x", "x")


@pytest.mark.parametrize(
    ("said", "seen"),
    [
        (b"2026-03-01T10:00:00Z", "2026-03-01T10:00:00"),
        (b"0000-01-01T00:00:00", None),
        (b"0001-01-01T00:00:00+23:00", None),
        (b"2026-03-01T10:00:00+02:00", "2026-03-01T08:00:00"),
        (b"2026-03-01 10:00:00", "2026-03-01T10:00:00"),
        (b"1700000000", "2023-11-14T22:13:20"),
        (b"yesterday", None),
    ],
)
def test_times_are_read_as_iso_8601_or_seconds(made, said, seen):
    about, listed = made(b"path,modified\nx," + said + b"\n", columns={"path": 0, "modified": 1})
    found = lines(listed)[0]["modified"]
    assert (found and found.isoformat()) == seen
    assert bool(about.notes) == (seen is None)


@pytest.mark.parametrize("letters", ["utf-16", "cp1252"])
def test_other_letters_are_read_when_chosen(tmp_path, letters):
    (tmp_path / "l.csv").write_bytes("path;size\nÜbung/é.txt;3\n".encode(letters))
    source = Source(tmp_path / "l.csv", "l.csv", letters)
    assert (source.headers, source.sample()) == (["path", "size"], [["Übung/é.txt", "3"]])


def test_a_damaged_parquet_file_and_a_broken_gzip_are_refused(tmp_path):
    for data in (b"PAR1 and no more", gzip.compress(HEAD * 9_999)[:60]):
        (tmp_path / "x").write_bytes(data)
        with pytest.raises(ListError):
            list(Source(tmp_path / "x", "x").batches([0]))


def test_rows_are_counted_over_many_batches(made):
    rows = b"".join(b"d%d/f%d.txt,%d,%d+1,\n" % (n % 50, n, n, n % TOTAL) for n in range(150_000))
    about, listed = made(HEAD + rows)
    assert (about.rows, about.folders) == (150_000, 51)
    assert [row["size"] for row in listed.lines([149_999, 0, 70_000])] == [149_999, 0, 70_000]
    with pytest.raises(ListError, match=r"Row 150002: the size is no whole number"):
        made(HEAD + rows + b"x,y,,\n")


# --- states


@pytest.mark.parametrize("seed", range(5))
def test_states_are_what_a_plain_array_of_sectors_says(seed):
    """Checked against a boolean array, sector by sector."""
    chance, size = np.random.default_rng(seed), 500
    plain = chance.random(size) < 0.6
    disk = Coverage.from_rows(size, [(int(n), 1, "read") for n in np.flatnonzero(plain)])
    sizes = chance.integers(0, 4, 60)
    firsts = chance.integers(0, size - 9, sizes.sum())
    lengths = chance.integers(1, 9, sizes.sum())
    said = judge(disk, Extents(firsts, lengths, sizes), np.zeros(60, np.uint8))
    at = 0
    for file, many in enumerate(sizes):
        sectors = [plain[f : f + n] for f, n in zip(firsts[at : at + many], lengths[at : at + many], strict=True)]
        at += many
        held = np.concatenate(sectors) if many else np.zeros(0, bool)
        expected = "unknown" if not many else "whole" if held.all() else "partial" if held.any() else "not"
        assert (STATES[said.states[file]], said.read[file], said.sectors[file]) == (expected, held.sum(), held.size)


@pytest.fixture
def found(made, tmp_path):
    def run(data: bytes, coverage: Coverage | None, *ties: Tie):
        _, listed = made(HEAD + data)
        paths = tmp_path / "states", tmp_path / "counts"
        return derive(listed, coverage, ties, *paths), *[parquet.read_table(path) for path in paths], listed

    return run


ROWS = b"Photos/a.jpg,10,0+10,ok\nPhotos/old/b.jpg,20,10+10,\nc.txt,30,,damaged\nPhotos/d.txt,40,0+5,bad\n"
HALF = Coverage.from_rows(TOTAL, [(0, 15, "read")])


def test_counts_by_folder_hold_all_that_lies_under_it(found):
    _, states, folders, _ = found(ROWS, HALF)
    assert states["from_list"].to_pylist() == [False, False, True, False]
    assert [STATES[code] for code in states["state"].to_pylist()] == ["whole", "partial", "partial", "whole"]
    assert folders["whole"].to_pylist() == [2, 2, 0]  # the root, Photos, Photos/old
    assert folders["partial"].to_pylist() == [2, 1, 1]
    assert (folders["bytes"].to_pylist(), folders["own"].to_pylist()) == ([100, 70, 20], [1, 2, 1])


def test_a_file_read_whole_whose_check_failed_makes_no_wanted_line_whole(found):
    derived, *_ = found(
        ROWS, HALF, Tie(7, folder=1), Tie(8, pattern="d.TXT"), Tie(9, pattern="*.jp?g"), Tie(9, folder=2)
    )
    assert derived.by_wanted[7].answer == "partial"
    assert derived.by_wanted[8].answer == "partial"
    assert derived.by_wanted[8].in_words == "1 of 1 file whole, 1 of the whole ones did not pass their own check"
    assert (derived.by_wanted[9].total, derived.kinds_wanted[7]) == (1, ["documents", "pictures"])


def test_an_area_means_the_files_that_lie_on_its_sectors(found):
    area = (np.array([12, 500]), np.array([1, 9]))
    derived, *_ = found(ROWS, HALF, Tie(1, area=area))
    assert derived.by_wanted[1].files == (0, 0, 1, 0)


def test_without_a_coverage_the_list_alone_speaks(found):
    derived, states, *_ = found(ROWS, None)
    assert [STATES[code] for code in states["state"].to_pylist()] == ["whole", "unknown", "partial", "not"]
    assert derived.from_list == 3


def test_names_that_are_no_letters_are_found_too(found):
    derived, *_ = found(b"\xff/A.JPG,1,,ok\n\xed\xa0\x80.png,1,,\n", None, Tie(1, pattern="*.jpg"), Tie(2, pattern="."))
    assert (derived.by_wanted[1].total, derived.by_wanted[2].total) == (1, 2)


def test_lists_are_written_the_same_for_the_same_content(made, tmp_path):
    made(HEAD + ROWS)
    first = Path(tmp_path / "files").read_bytes()
    made(HEAD + ROWS)
    assert (tmp_path / "files").read_bytes() == first
