"""From a fresh clone to a running command: .venv, its packages, the system libraries, then the command itself.

Runs on the standard library alone, outside .venv first and inside it afterwards. Every step is skipped when its
result is there already, so a second start costs a few milliseconds.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from labcases.ops import packages
from labcases.ops.packages import SystemPackage

ROOT = Path(__file__).resolve().parent.parent.parent
VENV = ROOT / ".venv"
RUNS = ("requirements.txt",)
TESTS = ("requirements.txt", "tests/requirements.txt")

HELP = """Labcases. Commands:

  demo [--fresh] [--port N] [--no-serve]   an invented lab to try things in, apart from any real one
  serve [--host H] [--port N]              a real lab: server and worker
  worker [--once]                          the worker alone, beside a server on another machine
  test [pytest arguments]                  lint, types and all tests; with arguments, those tests only
  help                                     every other command

The first run makes .venv and installs what is needed; BOOTSTRAP=no leaves this Python as it is."""


class CannotSetUp(Exception):
    """Something the machine must bring is missing; the text says what and how to get it."""


def say(line: str) -> None:
    """One line to the person at the terminal, at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


# --- decisions: plain data in and out ---------------------------------------------------------------------------


def command_of(argv: Sequence[str]) -> str:
    """The command's name, however it was typed.

    >>> command_of(["manage.py", "move-database"]), command_of(["manage.py"])
    ('move_database', '')
    """
    return argv[1].replace("-", "_") if len(argv) > 1 and not argv[1].startswith("-") else ""


def requirements_for(command: str) -> tuple[str, ...]:
    """The requirement files whose packages the command needs."""
    return TESTS if command == "test" else RUNS


def system_packages_for(command: str) -> tuple[SystemPackage, ...]:
    """The system packages worth installing before the command; other commands are left alone."""
    if command == "test":
        return packages.FOR_PAPERS + packages.FOR_TESTS
    return packages.FOR_PAPERS if command in ("demo", "serve") else ()


def fingerprints(root: Path, names: Sequence[str]) -> dict[str, str]:
    """SHA-256 of each requirement file."""
    return {name: hashlib.sha256((root / name).read_bytes()).hexdigest() for name in names}


def outdated(wanted: Mapping[str, str], stamp: str) -> list[str]:
    """The requirement files that changed since the stamp (lines ``hash name``) was written.

    >>> outdated({"requirements.txt": "ab", "tests/requirements.txt": "cd"}, "ab requirements.txt")
    ['tests/requirements.txt']
    """
    known = set(stamp.splitlines())
    return [name for name, digest in wanted.items() if f"{digest} {name}" not in known]


def merged_stamp(stamp: str, fresh: Mapping[str, str]) -> str:
    """The stamp with the lines of the freshly installed files replaced.

    >>> merged_stamp("ab requirements.txt", {"requirements.txt": "ef"})
    'ef requirements.txt\\n'
    """
    kept = {name: digest for digest, _, name in (line.partition(" ") for line in stamp.splitlines())}
    return "".join(f"{digest} {name}\n" for name, digest in {**kept, **fresh}.items())


def lacks_venv(has_module: Callable[[str], bool]) -> str:
    """A sentence naming the package to install when this Python cannot make a virtual environment, else ''."""
    if has_module("venv") and has_module("ensurepip"):
        return ""
    return (
        "This Python lacks venv. On a Debian-like system install it with\n"
        "  apt-get install -y python3-venv\n"
        "and run the same command again."
    )


# --- steps ------------------------------------------------------------------------------------------------------


def venv_python() -> Path:
    """The interpreter inside .venv."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def is_inside() -> bool:
    """True when this process runs on .venv's interpreter."""
    return Path(sys.prefix).resolve() == VENV.resolve()


@contextlib.contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two commands started together on a fresh clone must not both build .venv."""
    try:
        import fcntl
    except ImportError:  # Windows: no lock, and none needed for the usual single start
        yield
        return
    folder = os.open(ROOT, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def _python_works() -> bool:
    """False when .venv is missing, half made, or was made by a Python that is gone or too old."""
    question = "import sys, pip; sys.exit(sys.version_info < (3, 11))"
    try:
        answer = subprocess.run([venv_python(), "-c", question], capture_output=True, check=False)  # noqa: S603
    except OSError:
        return False
    return answer.returncode == 0


def _make_venv() -> None:
    if sentence := lacks_venv(lambda name: importlib.util.find_spec(name) is not None):
        raise CannotSetUp(sentence)
    say("Making .venv …")
    made = subprocess.run([sys.executable, "-m", "venv", "--clear", str(VENV)], check=False)  # noqa: S603
    if made.returncode:
        raise CannotSetUp("Python could not make .venv; what it said stands above.")


def _pip_install(names: Sequence[str]) -> None:
    say(f"Installing the packages of {' and '.join(names)} into .venv; the first time this takes about a minute …")
    files = [part for name in names for part in ("-r", str(ROOT / name))]
    pip = [str(venv_python()), "-m", "pip", "install", "-qq", "--no-input", "--disable-pip-version-check", *files]
    if subprocess.run(pip, check=False).returncode:  # noqa: S603
        raise CannotSetUp(
            "pip could not install them; its reason stands above. Mend it and run the same command again."
        )


def ensure_python_packages(command: str) -> None:
    """Make .venv and install into it, where the requirement files ask for more than the stamp says is there."""
    wanted = fingerprints(ROOT, requirements_for(command))
    stamp = VENV / ".requirements"

    def to_install() -> list[str]:
        return outdated(wanted, stamp.read_text() if stamp.exists() else "")

    if venv_python().exists() and not to_install():
        return
    with _one_at_a_time():
        names = to_install()  # asked again: another command may have done it while we waited
        if venv_python().exists() and not names:
            return
        if not _python_works():
            _make_venv()
            names = list(wanted)
        _pip_install(names)
        old = stamp.read_text() if stamp.exists() else ""
        stamp.write_text(merged_stamp(old, {name: wanted[name] for name in names}))


def _apt_get(names: Sequence[str]) -> bool:
    environ = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "-y", "-q", "--no-install-recommends", *names]
    for steps in ([install], [["apt-get", "update", "-q"], install]):
        done = [subprocess.run(step, env=environ, capture_output=True, check=False) for step in steps]  # noqa: S603
        if done[-1].returncode == 0:
            return True
    return False


def ensure_system_packages(command: str) -> None:
    """Install what is missing where we may; otherwise print the exact line and go on."""
    lacking = packages.missing(system_packages_for(command))
    if not lacking:
        return
    line = packages.install_line(lacking)
    words = "; ".join(f"{package.name}: {package.why}" for package in lacking)
    tried = VENV / ".system-packages-tried"
    may = hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None
    if may and not (tried.exists() and tried.read_text() == line):
        say(f"Installing system packages ({words}) …")
        tried.write_text(line)  # a machine without a network is not made to wait at every start
        if _apt_get([package.name for package in lacking]):
            return
    say(f"Not on this machine ({words}). To install, as root:\n  {line}")


def _become_venv(argv: Sequence[str]) -> int:
    """Go on inside .venv: the same process where the system can, a child where it cannot."""
    call = [str(venv_python()), *argv]
    if os.name == "nt":
        return subprocess.run(call, check=False).returncode  # noqa: S603
    sys.stdout.flush()
    os.execv(call[0], call)  # noqa: S606


def run(argv: Sequence[str]) -> int:
    """Set up what the command needs, then run it; returns the exit code."""
    command = command_of(argv)
    if not command and set(argv[1:]) <= {"-h", "--help"}:
        say(HELP)
        return 0
    if os.environ.get("BOOTSTRAP", "yes").lower() not in ("no", "0", "false", "off"):
        try:
            ensure_python_packages(command)
            ensure_system_packages(command)
        except CannotSetUp as reason:
            sys.stderr.write(f"{reason}\n")
            return 1
        if not is_inside():
            return _become_venv([str(ROOT / "manage.py"), *argv[1:]])
    return _dispatch(command, list(argv))


def _dispatch(command: str, argv: list[str]) -> int:
    if command not in ("test", "makemigrations"):
        os.umask(0o077)  # what a lab stores is for its own user only
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcases.settings")
    if command == "test":
        from labcases.ops import suite

        return suite.run(argv[2:])
    if command in ("demo", "serve"):
        from labcases.ops import launch

        return launch.run(command, argv[2:])
    from django.core.management import execute_from_command_line

    execute_from_command_line([argv[0], *([command, *argv[2:]] if command else argv[1:])])
    return 0
