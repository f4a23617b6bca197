"""demo and serve: what they decide, and what they refuse."""

from __future__ import annotations

import socket

import pytest

from labcases.ops import launch, servers

REAL = {
    "DATABASE_URL": "postgresql://ada@db.example/lab",
    "DATABASE_URL_FILE": "/run/secrets/db",
    "EMAIL_HOST": "mail.example",
    "SITE_URL": "https://lab.example",
    "HOME": "/home/ada",
}


def test_a_demo_never_sees_a_real_labs_database_mail_or_address():
    environ = launch.demo_environment(REAL, 8003)
    assert environ == {"HOME": "/home/ada", "DEMO": "1", "SITE_URL": "http://127.0.0.1:8003"}


def test_a_real_lab_keeps_its_settings_and_gets_an_address_when_it_has_none():
    assert launch.real_environment(REAL, 9000)["SITE_URL"] == "https://lab.example"
    assert launch.real_environment({}, 9000)["SITE_URL"] == "http://127.0.0.1:9000"


def test_the_demo_lives_in_a_folder_of_its_own(tmp_path):
    assert launch.data_folder({"DATA_DIR": str(tmp_path)}) == tmp_path
    assert launch.data_folder({"DATA_DIR": str(tmp_path), "DEMO": "1"}) == tmp_path / "demo"


def test_fresh_wipes_a_folder_that_bears_the_demos_mark(tmp_path):
    (tmp_path / "demo").mkdir()
    for name in (launch.MARK, "labcases.sqlite3"):
        (tmp_path / "demo" / name).touch()
    launch.wipe_demo(tmp_path / "demo")
    assert not (tmp_path / "demo").exists()


def test_fresh_leaves_any_other_folder_alone(tmp_path):
    (tmp_path / "labcases.sqlite3").write_text("a real lab")
    with pytest.raises(launch.CannotStart, match="left alone"):
        launch.wipe_demo(tmp_path)
    assert (tmp_path / "labcases.sqlite3").read_text() == "a real lab"


def test_a_real_lab_is_not_opened_in_the_demos_folder(tmp_path, monkeypatch, capsys):
    (tmp_path / launch.MARK).touch()
    monkeypatch.setenv("DATA_DIR", str(tmp_path))
    monkeypatch.setattr(launch, "why_not", lambda host, port: "")
    assert launch.run("serve", []) == 1
    assert "is the demo's folder" in capsys.readouterr().err


def test_fresh_is_refused_while_the_demo_runs_elsewhere(tmp_path):
    folder = tmp_path / "demo"
    with (
        launch._held(folder, for_wiping=False),
        pytest.raises(launch.CannotStart, match="running in another window"),
        launch._held(folder, for_wiping=True),
    ):
        pass


def test_changed_code_is_made_ready_again(tmp_path):
    (tmp_path / "labcases").mkdir()
    (tmp_path / "requirements.txt").touch()
    before = launch.code_fingerprint(tmp_path)
    assert launch.code_fingerprint(tmp_path) == before
    (tmp_path / "labcases" / "new.py").write_text("x = 1\n")
    assert launch.code_fingerprint(tmp_path) != before


@pytest.mark.parametrize("gone", [launch.LOG_INS, launch.PREPARED, "labcases.sqlite3"])
def test_a_demo_is_ready_only_while_all_of_it_is_there(tmp_path, gone):
    for name in (launch.LOG_INS, launch.PREPARED, "labcases.sqlite3"):
        (tmp_path / name).write_text("abc")
    assert launch.is_prepared(tmp_path, "abc")
    (tmp_path / gone).unlink()
    assert not launch.is_prepared(tmp_path, "abc")


@pytest.mark.parametrize("port", ["0", "70000", "http", "-1", "80a"])
def test_a_port_that_is_none_is_refused(port, capsys):
    with pytest.raises(SystemExit):
        launch.arguments_of("demo", [f"--port={port}"])
    assert "a port is a number from 1 to 65535" in capsys.readouterr().err


def test_the_demo_is_never_offered_to_other_machines(capsys):
    with pytest.raises(SystemExit):
        launch.arguments_of("demo", ["--host", "192.0.2.1"])
    assert launch.arguments_of("demo", []).host == "127.0.0.1"


def test_a_busy_port_is_a_clear_sentence(capsys):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert launch.run("serve", ["--port", str(port)]) == 1
    assert f"Port {port} on 127.0.0.1 is taken by another program" in capsys.readouterr().err


def test_a_free_port_is_no_reason_to_stop():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
    assert servers.why_not("127.0.0.1", port) == ""


def test_a_worker_that_keeps_failing_is_started_ever_more_slowly():
    pauses, pause = [], 0.5
    for _ in range(8):
        pause = servers.pause_before_restart(2.0, pause)
        pauses.append(pause)
    assert pauses == [1, 2, 4, 8, 16, 30, 30, 30]
    assert servers.pause_before_restart(3600.0, 30) == 1
