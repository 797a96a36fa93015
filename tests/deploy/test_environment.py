"""The environment is made once, and looked at no more than it must be after that."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from dataclasses import dataclass

import pytest

from deploy import bootstrap
from deploy.console import CannotStart


def in_project(patch, folder):
    """A project in the folder whose list of packages is empty, so that nothing is fetched."""
    (folder / "deploy").mkdir()
    (folder / "deploy" / "requirements.txt").write_text("# nothing\n")
    patch.setattr(bootstrap, "PROJECT", folder)
    patch.setattr(bootstrap, "VENV", folder / ".venv")
    patch.setattr(bootstrap, "STAMP", folder / ".venv" / "installed.json")


@dataclass
class Done:
    """How many times an environment was made, and pip run in one."""

    made: int = 0
    pips: int = 0


def counted(patch):
    done = Done()
    make, install = bootstrap._make, bootstrap._install

    def count_make():
        done.made += 1
        make()

    def count_install(lock):
        done.pips += 1
        install(lock)

    patch.setattr(bootstrap, "_make", count_make)
    patch.setattr(bootstrap, "_install", count_install)
    return done


@pytest.fixture(scope="module")
def first_start(tmp_path_factory):
    """Where an environment was made from nothing, and what that took. It takes long, so each test
    goes on from a copy."""
    folder = tmp_path_factory.mktemp("first")
    with pytest.MonkeyPatch.context() as patch:
        in_project(patch, folder)
        done = counted(patch)
        bootstrap.environment("requirements.txt")
        return bootstrap.VENV, done


@pytest.fixture
def project(first_start, monkeypatch, tmp_path):
    in_project(monkeypatch, tmp_path)
    shutil.copytree(first_start[0], bootstrap.VENV, symlinks=True)
    return tmp_path


@pytest.fixture
def done(monkeypatch):
    return counted(monkeypatch)


def test_made_once_and_installed_again_only_when_the_list_changes(first_start, project, done):
    assert first_start[1] == Done(made=1, pips=1)
    python = bootstrap.environment("requirements.txt")
    assert python.is_relative_to(project)
    assert subprocess.run([python, "-c", "import pip"], check=False).returncode == 0
    assert done == Done()
    (project / "deploy" / "requirements.txt").write_text("# nothing still\n")
    for _ in range(2):
        bootstrap.environment("requirements.txt")
        assert done == Done(made=0, pips=1)


def test_an_environment_whose_python_is_gone_is_made_again(project, done):
    python = bootstrap.venv_python()
    python.unlink()
    assert bootstrap.environment("requirements.txt") == python
    assert subprocess.run([python, "-c", ""], check=False).returncode == 0
    assert done == Done(made=1, pips=1)


def test_a_failed_install_says_what_pip_said_and_is_tried_again(project):
    bootstrap.STAMP.unlink()
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
