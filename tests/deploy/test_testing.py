"""deploy/test itself: what it runs where, and when it may not say that all passed."""

from __future__ import annotations

from pathlib import Path

import pytest

from deploy import services, testing
from deploy.bootstrap import PROJECT

PYTHON = Path("python")
ADDRESSES = {services.POSTGRES: "postgresql://here/squish", services.REDIS: "redis://here"}
STEP = testing.Step("on SQLite", [])


def test_the_sqlite_run_is_not_given_postgresql():
    steps = {step.name: step for step in testing.everything(PYTHON, ADDRESSES)}
    assert steps["on SQLite"].env == {services.REDIS: "redis://here", **testing.PLAIN_SUMS}
    assert steps["on PostgreSQL"].env == {**ADDRESSES, **testing.PLAIN_SUMS}


def test_the_drift_sums_run_plain_and_compiled():
    steps = {step.name: step for step in testing.everything(PYTHON, ADDRESSES)}
    assert "tests/drift" in steps["drift, compiled"].command
    assert steps["drift, compiled"].env["SQUISH_DRIFT_COMPILED"] == "1"


def test_without_postgresql_there_is_no_run_on_it():
    names = [step.name for step in testing.everything(PYTHON, {})]
    assert "on SQLite" in names
    assert "on PostgreSQL" not in names


def test_no_test_that_needs_postgresql_stands_where_it_would_never_run_on_it():
    places = [PROJECT / "tests" / one for one in testing.SAME_ON_ANY_DATABASE]
    assert [one for one in places if not one.exists()] == []
    files = [
        path
        for one in places
        for path in (one.rglob("*.py") if one.is_dir() else [one])
        if path != Path(__file__)
    ]
    assert [path for path in files if "mark.postgres" in path.read_text(encoding="utf-8")] == []


def test_a_focused_run_hands_its_arguments_on():
    step = testing.focused(PYTHON, ADDRESSES, ["tests/numerics", "-k", "tilt"], on_postgres=False)
    assert step.command == ["python", "-m", "pytest", "tests/numerics", "-k", "tilt"]


@pytest.mark.parametrize(
    ("good", "lacking", "ci", "code"),
    [
        (True, [], "true", 0),
        (False, [], "", 1),
        (True, [services.POSTGRES], "", 0),
        (True, [services.POSTGRES], "true", 1),
    ],
)
def test_the_exit_code(good, lacking, ci, code, monkeypatch, capsys):
    monkeypatch.setenv("CI", ci)
    assert testing.report([(STEP, good, 1.0)], lacking=lacking) == code
    said = capsys.readouterr().out
    assert ("All passed." in said) == (code == 0)
    assert ("postgresql: what needs it did not run" in said) == bool(lacking)


def test_a_step_that_fails_is_seen():
    python = testing.sys.executable
    assert testing.passed(testing.Step("good", [python, "-c", ""]))[0] is True
    assert testing.passed(testing.Step("bad", [python, "-c", "raise SystemExit(3)"]))[0] is False


def test_a_server_named_in_the_environment_is_used_as_it_stands(monkeypatch):
    monkeypatch.setenv(services.POSTGRES, ADDRESSES[services.POSTGRES])
    monkeypatch.setenv(services.REDIS, ADDRESSES[services.REDIS])
    with services.running() as addresses:
        assert addresses == ADDRESSES


def test_nothing_installed_and_nothing_named(monkeypatch, capsys):
    for name in services.PACKAGES:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(services.shutil, "which", lambda name: None)
    monkeypatch.setattr(services, "postgres_bin", lambda: None)
    assert services.missing() == list(services.PACKAGES)
    services.install_missing()
    assert "apt install postgresql redis-server chromium" in capsys.readouterr().out
    with services.running() as addresses:
        assert addresses == {}
