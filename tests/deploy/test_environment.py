"""The environment is made once, and looked at no more than it must be after that."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys

import pytest

from deploy import bootstrap
from deploy.console import CannotStart


@pytest.fixture
def project(monkeypatch, tmp_path):
    """A project whose list of packages is empty, so that nothing is fetched."""
    (tmp_path / "deploy").mkdir()
    (tmp_path / "deploy" / "requirements.txt").write_text("# nothing\n")
    monkeypatch.setattr(bootstrap, "PROJECT", tmp_path)
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "STAMP", tmp_path / ".venv" / "installed.json")
    return tmp_path


@pytest.fixture
def pips(monkeypatch):
    """How many times pip was run."""
    runs = []
    install = bootstrap._install
    monkeypatch.setattr(bootstrap, "_install", lambda lock: (runs.append(lock), install(lock)))
    return runs


def test_made_once_and_again_only_when_the_list_changes(project, pips):
    python = bootstrap.environment("requirements.txt")
    assert subprocess.run([python, "-c", "import pip"], check=False).returncode == 0
    bootstrap.environment("requirements.txt")
    assert len(pips) == 1
    (project / "deploy" / "requirements.txt").write_text("# nothing still\n")
    bootstrap.environment("requirements.txt")
    assert len(pips) == 2
    bootstrap.environment("requirements.txt")
    assert len(pips) == 2


def test_an_environment_whose_python_is_gone_is_made_again(project, pips):
    python = bootstrap.environment("requirements.txt")
    python.unlink()
    assert bootstrap.environment("requirements.txt") == python
    assert subprocess.run([python, "-c", ""], check=False).returncode == 0
    assert len(pips) == 2


def test_a_failed_install_says_what_pip_said_and_is_tried_again(project):
    lock = project / "deploy" / "requirements.txt"
    lock.write_text("./no-such-folder\n")
    with pytest.raises(CannotStart, match="no-such-folder"):
        bootstrap.environment("requirements.txt")
    assert not bootstrap.STAMP.exists()
    lock.write_text("# nothing\n")
    bootstrap.environment("requirements.txt")
    assert list(json.loads(bootstrap.STAMP.read_text())) == ["requirements.txt"]


def test_the_exit_code_of_the_child_is_passed_on():
    assert bootstrap.run([sys.executable, "-c", "raise SystemExit(7)"]) == 7


@pytest.mark.skipif(os.name == "nt", reason="Windows ends a child abruptly, without a signal")
@pytest.mark.parametrize("request_to_stop", [signal.SIGINT, signal.SIGTERM])
def test_a_request_to_stop_reaches_the_child(request_to_stop):
    child = (
        "import signal, sys, time;"
        "signal.signal(signal.SIGTERM, lambda *_: sys.exit(0)); print('up', flush=True);"
        "time.sleep(60)"
    )
    parent = (
        "import sys; from deploy import bootstrap; sys.exit(bootstrap.run([sys.executable, '-c',"
        f"{child!r}]))"
    )
    running = subprocess.Popen(
        [sys.executable, "-c", parent], cwd=bootstrap.PROJECT, stdout=subprocess.PIPE, text=True
    )
    with running:
        assert running.stdout is not None
        assert running.stdout.readline() == "up\n"
        running.send_signal(request_to_stop)
        assert running.wait() == 0
