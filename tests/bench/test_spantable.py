"""Tables of spans in anybody's words: what is repaired by rule, what is refused, and the row that is named."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pytest

from labcases.bench.coverage import CODES, Coverage
from labcases.bench.spans import BadSpan
from labcases.bench.spantable import MEANS, How, Said, fold, read_table, words_in

TOTAL = 1_000
STATES = {"ok": "read", "bad": "unreadable", "?": ""}


def said(first: list[str], second: list[str], state: list[str] | None = None, **about: object) -> Said:
    how = How(**{"states": STATES} | about)  # type: ignore[arg-type]
    columns = {"first": first, how.extent: second} | ({"state": state} if state else {})
    return read_table(columns, how, total=TOTAL)


def spans(table: Said) -> list[tuple[int, int]]:
    return list(zip(table.firsts.tolist(), table.sectors.tolist(), strict=True))


@pytest.mark.parametrize(
    ("first", "second", "about", "expected"),
    [
        ("10", "5", {}, (10, 5)),
        ("10", "14", {"extent": "last"}, (10, 5)),
        ("10", "15", {"extent": "end"}, (10, 5)),
        ("0xA", "0x5", {}, (10, 5)),
        ("A", "5", {"hexadecimal": True}, (10, 5)),
        ("0x0A", "05h", {"hexadecimal": True}, (10, 5)),
        ("5120", "2560", {"unit": "bytes"}, (10, 5)),
        ("5,120", "2'560", {"unit": "bytes"}, (10, 5)),
        (" 10 ", "5.0", {}, (10, 5)),
        ("0x1400", "7679", {"unit": "bytes", "extent": "last"}, (10, 5)),
    ],
)
def test_a_span_is_the_same_however_it_is_written(first, second, about, expected) -> None:
    assert spans(said([first], [second], **about)) == [expected]


@pytest.mark.parametrize(
    ("first", "second", "about", "sentence"),
    [
        ("-1", "5", {}, "Row 2: the beginning is -1; it cannot be negative."),
        ("1", "-5", {}, "Row 2: the length is -5; it cannot be negative."),
        ("990", "11", {}, "Row 2: 11 sectors from sector 990 run past the end; the medium has 1,000 sectors."),
        ("9223372036854775808", "1", {}, "Row 2: the beginning does not fit into 64 bits."),
        ("-9223372036854775808", "1", {}, "it cannot be negative."),
        ("9223372036854775807", "9223372036854775807", {}, "Row 2: the end does not fit into 64 bits."),
        ("9" * 5_000, "1", {}, "Row 2: the beginning does not fit into 64 bits."),
        ("0x" + "F" * 17, "1", {}, "Row 2: the beginning does not fit into 64 bits."),
        ("5", "4", {"extent": "end"}, "Row 2: it ends at 4, before it begins at 5."),
        ("", "4", {}, "Row 2: the beginning is missing."),
        ("12", "x", {}, "Row 2: the length is no whole number: “x”."),
        ("1.5", "4", {}, "Row 2: the beginning is no whole number: “1.5”."),
        ("1E+3", "4", {}, "Row 2: the beginning is no whole number: “1E+3”."),
        ("G1", "4", {"hexadecimal": True}, "Row 2: the beginning is no hexadecimal number: “G1”."),
    ],
)
def test_what_cannot_be_is_refused_with_its_row(first, second, about, sentence) -> None:
    with pytest.raises(BadSpan, match="Row 2") as refused:
        said(["0", first], ["1", second], **about)
    assert sentence in str(refused.value)
    assert refused.value.row == 2


def test_a_row_is_named_as_the_spreadsheet_shows_it() -> None:
    with pytest.raises(BadSpan, match=r"Row 41: the beginning"):
        read_table({"first": ["1", "x"], "sectors": ["1", "1"]}, How(), total=TOTAL, rows=[7, 41])


def test_a_state_that_nobody_explained_is_refused_with_its_first_row() -> None:
    with pytest.raises(BadSpan, match="Row 3: nobody said what the state “fuzzy” means"):
        said(["0", "1", "2", "3"], ["1"] * 4, ["ok", "bad", "Fuzzy", "fuzzy"])


def test_rows_whose_word_says_nothing_are_left_aside_and_said() -> None:
    table = said(["0", "1", "2"], ["1"] * 3, ["ok", "?", "?"])
    assert spans(table) == [(0, 1)]
    assert table.notes == ("2 rows, the first is row 2, hold no state and left aside.",)


def test_disorder_doubles_and_overlaps_are_put_right_by_rule_and_said() -> None:
    table = said(["50", "0", "0", "40"], ["10", "20", "20", "15"], ["ok", "ok", "ok", "bad"])
    assert table.notes == (
        "Row 2 begins before the row above it; the rows were put in order.",
        "2 rows lie over another, the first is row 3; where they do, the strongest word stands.",
    )
    disk = Coverage.from_rows(TOTAL, [table.firsts, table.sectors, table.codes])
    assert (disk.spans("read"), disk.spans("unreadable")) == ([(0, 20), (50, 10)], [(40, 10)])


@pytest.mark.parametrize(("state", "expected"), [("ok", (1, 1)), ("bad", (0, 3))])
def test_a_sector_read_in_part_does_not_count_as_read(state, expected) -> None:
    """Bytes 500 to 1300: sector 1 whole, sectors 0 and 2 in part."""
    table = said(["500"], ["800"], [state], unit="bytes")
    assert spans(table) == [expected]
    assert "part of a sector" in table.notes[0]


def test_bytes_within_one_sector_are_no_sector_read() -> None:
    assert spans(said(["100"], ["50"], ["ok"], unit="bytes")) == [(1, 0)]


def test_a_table_without_a_column_of_states_has_one_state_throughout() -> None:
    assert set(said(["0", "5"], ["1", "1"], everything="skipped").codes.tolist()) == {CODES["skipped"]}


@pytest.mark.parametrize("words", [["Read", "read "], ["NOT READ", "not-read", "not_read"]])
def test_a_word_is_one_word_however_it_is_typed(words) -> None:
    assert len(words_in(words)) == 1
    assert fold(words[0]) in MEANS


def test_delays_are_kept_beside_their_spans() -> None:
    table = read_table({"first": ["0", "1"], "sectors": ["1", "1"], "delay": ["12,5", ""]}, How(), total=9)
    assert table.delays is not None
    assert table.delays[0] == 12.5
    assert np.isnan(table.delays[1])


@pytest.mark.parametrize("delay", ["slow", "-1", "nan", "inf"])
def test_a_delay_that_is_no_time_is_refused(delay) -> None:
    with pytest.raises(BadSpan, match="Row 1: the delay"):
        read_table({"first": ["0"], "sectors": ["1"], "delay": [delay]}, How(), total=9)


def test_columns_of_a_million_rows_give_what_rows_give() -> None:
    texts = [str(n * 2) for n in range(1_000)]
    slow = read_table({"first": texts, "sectors": ["1"] * 1_000}, How(), total=2_000)
    quick = read_table({"first": pa.array(texts), "sectors": pa.array(["1"] * 1_000)}, How(), total=2_000)
    assert np.array_equal(slow.firsts, quick.firsts)
    assert np.array_equal(slow.codes, quick.codes)


def test_an_empty_table_says_nothing() -> None:
    assert read_table({"first": [], "sectors": [], "state": []}, How(), total=9).firsts.size == 0
