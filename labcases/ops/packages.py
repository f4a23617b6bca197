"""System packages of Debian that pip cannot bring, each with a word on what it is for.

Whether one is there is asked of the machine, not of the package manager, so that the answer is right on any
system: by loading the library or by finding the program.
"""

from __future__ import annotations

import ctypes
import glob
import shutil
from collections.abc import Iterable
from typing import NamedTuple


class SystemPackage(NamedTuple):
    """A Debian package, and what shows that it is there: a library, a program or a pattern of paths."""

    name: str
    why: str
    library: str = ""
    program: str = ""
    pattern: str = ""

    def is_there(self) -> bool:
        """True when the library loads, the program is found, or the pattern has a match."""
        if self.library:
            return _loads(self.library)
        if self.program:
            return shutil.which(self.program, path=PROGRAM_PATH) is not None
        return bool(glob.glob(self.pattern))


# An ordinary user's PATH leaves out the folders of the disk tools.
PROGRAM_PATH = "/usr/local/bin:/usr/bin:/bin:/usr/local/sbin:/usr/sbin:/sbin"

FOR_PAPERS = (
    SystemPackage("libpango-1.0-0", "lays out text on papers", library="libpango-1.0.so.0"),
    SystemPackage("libpangoft2-1.0-0", "fonts on papers", library="libpangoft2-1.0.so.0"),
    SystemPackage("libharfbuzz-subset0", "small font files inside papers", library="libharfbuzz-subset.so.0"),
)

FOR_TESTS = (
    SystemPackage("chromium", "the browser of the walks", program="chromium"),
    SystemPackage("postgresql", "the second database engine", pattern="/usr/lib/postgresql/*/bin/initdb"),
    SystemPackage("poppler-utils", "reads our PDFs from outside", program="pdftoppm"),
    SystemPackage("qpdf", "checks the structure of our PDFs", program="qpdf"),
    SystemPackage("hdparm", "reads identify pages as we do", program="hdparm"),
    SystemPackage("fdisk", "writes partition tables we then read", program="sfdisk"),
    SystemPackage("gdisk", "writes GPT tables we then read", program="sgdisk"),
    SystemPackage("libimage-exiftool-perl", "sees what a photo still tells of itself", program="exiftool"),
)


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def missing(packages: Iterable[SystemPackage]) -> list[SystemPackage]:
    """Those that are not on this machine."""
    return [package for package in packages if not package.is_there()]


def install_line(packages: Iterable[SystemPackage]) -> str:
    """The exact line that installs them."""
    names = " ".join(package.name for package in packages)
    return f"apt-get install -y --no-install-recommends {names}"
