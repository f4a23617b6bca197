"""What a fresh clone decides before Django exists."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from labcases.ops import bootstrap, packages
from labcases.ops.packages import SystemPackage

ROOT = Path(bootstrap.ROOT)


@pytest.mark.parametrize(
    ("typed", "command"),
    [
        (["manage.py", "move-database"], "move_database"),
        (["manage.py", "move_database"], "move_database"),
        (["manage.py"], ""),
        (["manage.py", "--help"], ""),
    ],
)
def test_a_command_may_be_typed_with_hyphens_or_underscores(typed, command):
    assert bootstrap.command_of(typed) == command


def test_only_the_test_command_installs_what_tests_need():
    assert bootstrap.requirements_for("demo") == ("requirements.txt",)
    assert bootstrap.requirements_for("test") == ("requirements.txt", "tests/requirements.txt")


def test_an_untouched_clone_installs_nothing_the_second_time(tmp_path):
    (tmp_path / "requirements.txt").write_text("thing==1\n")
    wanted = bootstrap.fingerprints(tmp_path, ["requirements.txt"])
    stamp = bootstrap.merged_stamp("", wanted)
    assert bootstrap.outdated(wanted, "") == ["requirements.txt"]
    assert bootstrap.outdated(wanted, stamp) == []


def test_changed_pins_are_installed_again(tmp_path):
    (tmp_path / "requirements.txt").write_text("thing==1\n")
    stamp = bootstrap.merged_stamp("", bootstrap.fingerprints(tmp_path, ["requirements.txt"]))
    (tmp_path / "requirements.txt").write_text("thing==2\n")
    assert bootstrap.outdated(bootstrap.fingerprints(tmp_path, ["requirements.txt"]), stamp) == ["requirements.txt"]


def test_a_python_without_ensurepip_is_told_which_package_to_install():
    assert "apt-get install -y python3-venv" in bootstrap.lacks_venv(lambda name: name != "ensurepip")
    assert bootstrap.lacks_venv(lambda name: True) == ""


def test_a_library_that_does_not_load_is_missing():
    absent = SystemPackage("libnowhere0", "nothing", library="libnowhere.so.0")
    present = SystemPackage("libc6", "everything", library="libc.so.6")
    assert packages.missing([absent, present]) == [absent]


def test_the_line_to_run_names_each_missing_package():
    line = packages.install_line(packages.FOR_PAPERS)
    assert line.startswith("apt-get install")
    assert all(package.name in line for package in packages.FOR_PAPERS)


def test_what_is_missing_is_printed_where_it_may_not_be_installed(monkeypatch, capsys, tmp_path):
    absent = SystemPackage("libnowhere0", "lays out nothing", library="libnowhere.so.0")
    monkeypatch.setattr(bootstrap, "system_packages_for", lambda command: (absent,))
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: None)
    bootstrap.ensure_system_packages("demo")
    said = capsys.readouterr().out
    assert "libnowhere0: lays out nothing" in said
    assert "apt-get install -y --no-install-recommends libnowhere0" in said


def test_set_up_starts_on_the_standard_library_alone():
    code = "import sys, labcases.ops.bootstrap as b, labcases.ops.launch, labcases.ops.suite; print(*sys.modules)"
    run = subprocess.run([sys.executable, "-S", "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    ours_or_standard = sys.stdlib_module_names | {"labcases"}
    strangers = {name.partition(".")[0] for name in run.stdout.split()} - ours_or_standard
    assert not {name for name in strangers if not name.startswith("_")}


def test_an_old_python_is_told_so():
    code = (
        "import sys, runpy; sys.version_info = (3, 9, 2); sys.argv = ['manage.py', 'demo'];"
        "runpy.run_path('manage.py', run_name='__main__')"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 1
    assert "needs Python 3.11 or newer; this is 3.9.2" in run.stderr


def test_help_needs_nothing_installed():
    run = subprocess.run([sys.executable, "-S", "manage.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "demo [--fresh]" in run.stdout
