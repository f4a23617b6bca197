#!/usr/bin/env python3
"""Set-up and every command. Starts on Python alone: what else is needed is installed into .venv first."""

from __future__ import annotations

import sys

OLDEST = (3, 11)


def main() -> int:
    """Run one command; the exit code says how it went."""
    if sys.version_info < OLDEST:
        found = ".".join(str(part) for part in sys.version_info[:3])
        sys.stderr.write("Labcases needs Python 3.11 or newer; this is %s (%s).\n" % (found, sys.executable))  # noqa: UP031
        return 1
    from labcases.ops import bootstrap  # its syntax is too new for the Pythons refused above

    return bootstrap.run(sys.argv)


if __name__ == "__main__":
    sys.exit(main())
