"""What stands in the way of a start is said in words that name the way round it."""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Iterator

import pytest
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from deploy import bootstrap, first_start, machine, options
from deploy.bootstrap import PROJECT
from deploy.console import CannotStart
from deploy.oldest_python import complaint


@pytest.fixture
def taken() -> Iterator[int]:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def up(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, PROJECT / "deploy" / "up", *map(str, arguments)],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )


@pytest.mark.parametrize("version", [(2, 7, 18), (3, 6, 15), (3, 10, 13)])
def test_a_python_too_old(version):
    words = complaint(version)
    assert ".".join(map(str, version)) in words
    assert "python3.11 deploy/up" in words


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 13, 2), (4, 0, 0)])
def test_a_python_new_enough(version):
    assert complaint(version) == ""


def test_a_port_taken(taken, tmp_path):
    refused = up("--port", taken, "--data", tmp_path)
    assert refused.returncode == 1
    assert f"Port {taken} is taken" in refused.stderr
    assert "--port N" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_an_address_this_machine_has_not(tmp_path):
    refused = up("--host", "192.0.2.1", "--data", tmp_path)
    assert refused.returncode == 1
    assert "no address 192.0.2.1" in refused.stderr


def test_a_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("in the way")
    refused = up("--data", tmp_path / "file" / "shop")
    assert refused.returncode == 1
    assert "Cannot write in" in refused.stderr
    assert "--data DIR" in refused.stderr
    assert (tmp_path / "file").read_text() == "in the way"


def test_the_data_folder_is_made_for_its_owner(tmp_path):
    machine.claim_folder(tmp_path / "new" / "shop")
    assert (tmp_path / "new" / "shop").is_dir()
    assert not list((tmp_path / "new" / "shop").iterdir())


def test_no_virtual_environments(monkeypatch, tmp_path):
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "STAMP", tmp_path / ".venv" / "installed.json")
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(CannotStart, match="apt install python3-venv"):
        bootstrap.environment("requirements.txt")


@pytest.mark.django_db
def test_a_database_of_a_newer_version():
    MigrationRecorder(connection).record_applied("qc", "9999_of_next_year")
    with pytest.raises(CannotStart, match="qc 9999_of_next_year is not known here") as refusal:
        first_start.migrate()
    assert "--data DIR" in str(refusal.value)


@pytest.mark.django_db
def test_a_database_of_this_version(capsys):
    first_start.migrate()
    assert "ready" in capsys.readouterr().out


def test_a_file_that_is_no_database(tmp_path):
    (tmp_path / "squish.sqlite3").write_bytes(b"turned to swarf " * 400)
    with machine.open_port("127.0.0.1", 0) as free:
        port = free.getsockname()[1]
    refused = subprocess.run(
        [sys.executable, "-m", "deploy.launch", f"--data={tmp_path}", f"--port={port}"],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert refused.returncode == 1
    assert "cannot be read: file is not a database" in refused.stderr
    assert "backup" in refused.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--port", "0"], "want a port from 1 to 65535"),
        (["--port", "eighty"], "want a port from 1 to 65535"),
        (["--host", "localhost", "--lan"], "not allowed with"),
        (["--lead", "ines"], "give --empty too"),
    ],
)
def test_choices_that_make_no_sense(arguments, words, capsys):
    with pytest.raises(SystemExit) as refusal:
        options.parse(arguments)
    assert refusal.value.code == 2
    assert words in capsys.readouterr().err


def test_nobody_to_ask_for_the_first_lead(monkeypatch):
    monkeypatch.delenv("SQUISH_LEAD_PASSWORD", raising=False)
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    with pytest.raises(CannotStart, match="--lead NAME"):
        first_start.add_first_lead(None)
