"""A throw-away PostgreSQL cluster: made in a temporary folder, reached by its socket only, gone afterwards."""

from __future__ import annotations

import contextlib
import glob
import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

# Nothing here outlives the tests, so nothing is worth waiting for the disk.
FAST = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=60"


def newest(paths: list[str]) -> str:
    """The path with the highest version number in it, or ''.

    >>> newest(["/usr/lib/postgresql/9.6/bin/initdb", "/usr/lib/postgresql/15/bin/initdb"])
    '/usr/lib/postgresql/15/bin/initdb'
    """
    return max(paths, key=lambda path: [int(n) for n in re.findall(r"\d+", path)], default="")


def programs() -> Path | None:
    """The folder of PostgreSQL's server programs, or None where they are not installed."""
    found = newest(glob.glob("/usr/lib/postgresql/*/bin/initdb")) or shutil.which("initdb")
    return Path(found).parent if found else None


def _owner() -> str | None:
    """PostgreSQL refuses to run as root: the user to run it as, or None for ourselves."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return None
    import pwd

    known = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in known else "nobody"


def _call(owner: str | None, folder: Path, *words: str | Path) -> None:
    done = subprocess.run(  # noqa: S603
        words,
        cwd=folder,
        user=owner,
        extra_groups=[] if owner else None,
        env={"PATH": os.environ.get("PATH", os.defpath), "LC_ALL": "C.UTF-8"},
        stdin=subprocess.DEVNULL,
        stdout=(folder / "log").open("a"),
        stderr=subprocess.STDOUT,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"{words[0]} failed:\n{(folder / 'log').read_text()[-2000:]}")


@contextlib.contextmanager
def throwaway(bin_folder: Path) -> Iterator[str]:
    """Start a cluster, give its address (``postgresql://lab@%2Ffolder/postgres``), and remove it at the end."""
    owner = _owner()
    folder = Path(tempfile.mkdtemp(prefix="lab-pg-"))  # short: a socket's path has room for about 100 characters
    try:
        (folder / "log").touch()
        if owner:
            shutil.chown(folder, owner)
        data = folder / "data"
        _call(owner, folder, bin_folder / "initdb", "-D", data, "-U", "lab", "-A", "trust", "-E", "UTF8", "--no-sync")
        ctl = (bin_folder / "pg_ctl", "-D", data, "-w", "-s")
        options = f"{FAST} -c listen_addresses='' -k {folder}"
        try:
            _call(owner, folder, *ctl, "-l", folder / "server-log", "-o", options, "start")
            yield f"postgresql://lab@{quote(str(folder), safe='')}/postgres"
        finally:
            _call(owner, folder, *ctl, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
