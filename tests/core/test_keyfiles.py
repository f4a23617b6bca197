"""Files beside the database: whole or not at all, for their owner only, by however many at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from labcases.core import keyfiles


def test_many_threads_that_write_one_file_leave_one_of_their_texts_whole(tmp_path: Path) -> None:
    texts = [str(n % 10) * 20_000 for n in range(200)]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda text: keyfiles.write(tmp_path / "head", text), texts))
    assert (tmp_path / "head").read_text() in texts
    assert [path.name for path in tmp_path.iterdir()] == ["head"]


def test_only_its_owner_reads_it(tmp_path: Path) -> None:
    keyfiles.write(tmp_path / "keys" / "key", "secret", sure=True)
    assert (tmp_path / "keys" / "key").stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "keys").stat().st_mode & 0o777 == 0o700
