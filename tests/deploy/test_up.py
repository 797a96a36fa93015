"""The embedded service as its owner meets it: started, used, stopped, started again."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from django.core.management import CommandError

from deploy import first_start
from deploy.bootstrap import PROJECT
from qc.models import Person, Role

PASSWORD = "scriber-and-shim-41"
HAS_LINK = re.compile(rb'href="(/static/[^"]+\.css)"')
LONGEST_START_S = 120


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def service(
    folder: Path, *arguments: str, said: Path, port: int | None = None
) -> Iterator[tuple[subprocess.Popen[str], str]]:
    port = port or free_port()
    command = [sys.executable, "-m", "deploy.launch", f"--data={folder}", f"--port={port}"]
    with said.open("w") as output:
        process = subprocess.Popen(
            [*command, *arguments],
            cwd=PROJECT,
            env={**os.environ, "SQUISH_LEAD_PASSWORD": PASSWORD},
            stdout=output,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            text=True,
        )
        try:
            address = f"http://127.0.0.1:{port}"
            wait_until_well(address, process, said)
            yield process, address
        finally:
            process.kill()
            process.wait()


def wait_until_well(address: str, process: subprocess.Popen[str], said: Path) -> None:
    until = time.monotonic() + LONGEST_START_S
    while time.monotonic() < until:
        assert process.poll() is None, said.read_text()
        try:
            with urllib.request.urlopen(f"{address}/health", timeout=5) as answer:
                assert answer.status == 200
                return
        except (OSError, http.client.HTTPException):
            time.sleep(0.1)
    raise AssertionError(said.read_text())


def people_in(folder: Path) -> list[tuple[str, str]]:
    with closing(sqlite3.connect(folder / "squish.sqlite3")) as database:
        return database.execute("SELECT username, role FROM qc_person").fetchall()


def test_a_real_shop_is_started_stopped_and_started_again(tmp_path):
    folder, said = tmp_path / "shop", tmp_path / "said"
    with service(folder, "--empty", "--lead", "ines", said=said) as (process, address):
        with urllib.request.urlopen(f"{address}/sign-in") as page:
            assert page.headers["Content-Security-Policy"].startswith("default-src 'none'")
            style = HAS_LINK.search(page.read())
        assert style is not None
        with urllib.request.urlopen(address + style[1].decode()) as sheet:
            assert "immutable" in sheet.headers["Cache-Control"]
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=60) == 0
    assert address in said.read_text()
    assert said.read_text().endswith("Stopped.\n")
    assert people_in(folder) == [("ines", "lead")]
    key = (folder / "secret_key").read_text()

    with service(folder, said=said) as (process, _):
        process.terminate()
        assert process.wait(timeout=60) == 0
    assert people_in(folder) == [("ines", "lead")]
    assert (folder / "secret_key").read_text() == key
    assert "demo" not in said.read_text()


@pytest.fixture
def demo_command(monkeypatch):
    """Stands in for the season, which takes long to record: one person, or a failure after it."""

    def say_what_happens(*, fails: bool) -> None:
        def load(name: str, *, at: str, stdout, told) -> None:
            assert (name, at) == ("load_demo", "now")
            told(1, 2)
            first_start.save_lead("ines", PASSWORD)
            if fails:
                raise CommandError("out of solder")
            stdout.write("sign in as ines\nbench token squish_abc\n")

        monkeypatch.setattr(first_start, "call_command", load)

    return say_what_happens


@pytest.mark.django_db
def test_what_the_demo_prints_is_kept_for_later_starts(demo_command, tmp_path):
    demo_command(fails=False)
    first_start.load_demo(tmp_path / "demo.txt")
    assert first_start.demo_lines(tmp_path) == ["sign in as ines", "bench token squish_abc"]
    if os.name == "posix":
        assert (tmp_path / "demo.txt").stat().st_mode & 0o777 == 0o600


@pytest.mark.django_db
def test_a_demo_that_fails_half_way_leaves_nothing(demo_command, tmp_path):
    demo_command(fails=True)
    with pytest.raises(CommandError):
        first_start.load_demo(tmp_path / "demo.txt")
    assert not Person.objects.exists()
    assert first_start.demo_lines(tmp_path) == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("typed", "complaint"),
    [
        (["ines", PASSWORD, "other", "ines", PASSWORD, PASSWORD], "differ"),
        (["ines", "12345", "12345", "ines", PASSWORD, PASSWORD], "too short"),
        (["", PASSWORD, PASSWORD, "ines", PASSWORD, PASSWORD], "sign-in name"),
    ],
)
def test_the_first_lead_is_asked_for_until_the_account_stands(
    typed, complaint, monkeypatch, capsys
):
    answers = iter(typed)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda words: next(answers))
    monkeypatch.setattr(first_start.getpass, "getpass", lambda words: next(answers))
    first_start.add_first_lead(None)
    assert complaint in capsys.readouterr().out
    lead = Person.objects.get()
    assert (lead.username, lead.role) == ("ines", Role.LEAD)
    assert lead.check_password(PASSWORD)


@pytest.mark.django_db
def test_the_demo_folder_refuses_to_become_a_real_shop(demo_command, tmp_path, monkeypatch):
    demo_command(fails=False)
    first_start.load_demo(tmp_path / "demo.txt")
    asked = first_start.Namespace(data=tmp_path, empty=True, lead=None)
    with pytest.raises(first_start.CannotStart, match="holds the demo shop"):
        first_start.furnish(asked)
