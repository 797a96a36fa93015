"""Each way of running, loaded in an interpreter of its own and asked what it settled on."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from deploy import testing
from deploy.bootstrap import PROJECT
from deploy.secret_key import secret_key

ASK = (
    "import json, sys; from django.conf import settings;"
    "print(json.dumps({name: getattr(settings, name, None) for name in sys.argv[1:]}, default=str))"
)
NEEDED = ["SECRET_KEY", "ALLOWED_HOSTS", "DATABASE_URL", "CELERY_BROKER_URL"]


def run(*command: str, env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if name not in NEEDED}
    return subprocess.run(
        [sys.executable, *command],
        cwd=PROJECT,
        env={**clean, **env},
        capture_output=True,
        text=True,
        check=False,
    )


def settings_of(env: dict[str, str], *names: str) -> dict[str, object]:
    told = run("-c", ASK, *names, env=env)
    assert told.returncode == 0, told.stderr
    return json.loads(told.stdout)


def test_production_passes_the_deployment_check():
    checked = run(
        "manage.py", "check", "--deploy", "--fail-level=WARNING", env=testing.production()
    )
    assert checked.returncode == 0, checked.stderr


@pytest.mark.parametrize("missing", NEEDED)
def test_production_has_no_default_for(missing):
    env = {name: value for name, value in testing.production().items() if name != missing}
    told = run("-c", ASK, "DEBUG", env=env)
    assert told.returncode != 0
    assert f"{missing} is not set" in told.stderr


def test_production_refuses_to_answer_to_any_host():
    told = run("-c", ASK, "DEBUG", env={**testing.production(), "ALLOWED_HOSTS": "*"})
    assert "ALLOWED_HOSTS has a wildcard" in told.stderr


def test_production_hands_work_to_celery_over_https_only():
    names = ["DEBUG", "OUTBOX_MODE", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE"]
    assert settings_of(testing.production(), *names) == {
        "DEBUG": False,
        "OUTBOX_MODE": "celery",
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
    }


def embedded(folder: Path) -> dict[str, str]:
    return {"DJANGO_SETTINGS_MODULE": "deploy.settings.embedded", "SQUISH_DATA": str(folder)}


def test_embedded_keeps_its_key_and_its_records_in_the_data_folder(tmp_path):
    first = settings_of(embedded(tmp_path), "DEBUG", "SECRET_KEY", "OUTBOX_MODE", "DATABASES")
    again = settings_of(embedded(tmp_path), "SECRET_KEY")
    assert first["SECRET_KEY"] == again["SECRET_KEY"]
    assert first["DEBUG"] is False
    assert first["OUTBOX_MODE"] == "thread"
    assert first["DATABASES"]["default"]["NAME"] == str(tmp_path / "squish.sqlite3")


def test_a_commit_of_the_embedded_database_waits_for_the_disk(tmp_path):
    ask = (
        "import django; django.setup(); from django.db import connection as c;"
        "c.ensure_connection(); one = lambda s: c.connection.execute(f'PRAGMA {s}').fetchone()[0];"
        "print(one('journal_mode'), one('synchronous'), one('foreign_keys'))"
    )
    full = 2
    assert run("-c", ask, env=embedded(tmp_path)).stdout.split() == ["wal", str(full), "1"]


def test_two_shops_have_two_keys(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert secret_key(tmp_path / "a") != secret_key(tmp_path / "b")


def test_the_key_is_long_and_its_owners_alone(tmp_path):
    key = secret_key(tmp_path)
    assert len(key) >= 50
    assert [path.name for path in tmp_path.iterdir()] == ["secret_key"]
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / "secret_key").stat().st_mode) == 0o600
