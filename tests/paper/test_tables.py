from __future__ import annotations

import subprocess
from pathlib import Path

from labcases.paper import papers
from labcases.paper.tables import LIMIT, capped
from tests.paper.sample import Sample


def test_a_short_table_is_whole_and_says_nothing() -> None:
    table = capped(range(LIMIT))
    assert (len(table.rows), table.sentence) == (LIMIT, "")


def test_a_long_table_stops_and_says_where_the_rest_is() -> None:
    table = capped(range(LIMIT + 1), rest="sectors.csv, attached to this file")
    assert (len(table.rows), table.total) == (LIMIT, LIMIT + 1)
    assert table.sentence.endswith(
        "Rows 1 to 1,000 of 1,001 are printed here; all of them are in sectors.csv, attached to this file."
    )


def test_the_sentence_stands_under_the_printed_table(tmp_path: Path) -> None:
    table = capped([(f"Folder {n}", n) for n in range(9)], 4, rest="wanted.csv")
    (tmp_path / "paper.pdf").write_bytes(papers.render(**Sample({"table": table}).call))
    text = subprocess.run(
        ["pdftotext", str(tmp_path / "paper.pdf"), "-"], capture_output=True, check=True
    ).stdout.decode()
    assert "Folder 3" in text
    assert "Folder 4" not in text
    assert "Rows 1 to 4 of 9 are printed here; all of them are in wanted.csv." in text
