"""deploy/test: the checks and the whole suite on SQLite, then what needs a database on PostgreSQL,
then the drift sums compiled; elsewhere they run as a shop without numba has them.

Arguments go to pytest for a focused run: `deploy/test tests/numerics -k tilt`.
"""

from __future__ import annotations

import argparse
import os
import secrets
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from deploy import bootstrap, services
from deploy.console import CannotStart, say

CHECKED = ["qc", "api", "dashboards", "deploy", "manage.py"]
SCRIPTS = ["deploy/up", "deploy/test"]
# These touch no database, or only one that the service makes for itself; or they are pages and
# endpoints, which read by the lookups and write by the operations that are tested on both. What
# comes in from outside, lists and retries meet the database as it is, so they are tested on both.
SAME_ON_ANY_DATABASE = [
    "numerics",
    "drift",
    "reference",
    "arrows",
    "delivery",
    "deploy",
    "browser",
    "dashboards",
    "api/test_charts.py",
    "api/test_gauge_studies.py",
    "api/test_kept_charts.py",
    "api/test_lathe_sums.py",
    "api/test_permissions.py",
    "api/test_problems.py",
    "api/test_schema.py",
    "api/test_statistics.py",
    "api/test_sums.py",
]
MOST_PROCESSES = 4
PLAIN_SUMS = {"SQUISH_DRIFT_COMPILED": "0"}
COMPILED_SUMS = {"SQUISH_DRIFT_COMPILED": "1"}
COMPILED = ["tests/drift", "tests/numerics/test_drift_saving.py"]


@dataclass(frozen=True)
class Step:
    name: str
    command: list[str]
    env: dict[str, str] = field(default_factory=dict)


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="deploy/test", description=__doc__)
    parser.add_argument(
        "--postgres", action="store_true", help="a focused run on PostgreSQL in place of SQLite"
    )
    asked, focus = parser.parse_known_args(arguments)
    try:
        python = bootstrap.environment("requirements-dev.txt")
        services.install_missing()
        with services.running() as addresses:
            lacking = services.missing()
            if focus or asked.postgres:
                steps = [focused(python, addresses, focus, on_postgres=asked.postgres)]
            else:
                steps = everything(python, addresses)
            return report([(step, *passed(step)) for step in steps], lacking=lacking)
    except CannotStart as refusal:
        print(refusal, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.")
        return 130


def everything(python: Path, addresses: dict[str, str]) -> list[Step]:
    run = [str(python), "-m"]
    manage = [str(python), "manage.py"]
    on_tests = {"DJANGO_SETTINGS_MODULE": "deploy.settings.test"}
    suite = [*run, "pytest", "-q", "-n", str(min(os.cpu_count() or 1, MOST_PROCESSES))]
    suite += ["--dist", "loadfile", "--no-loadscope-reorder"]
    steps = [
        Step("ruff check", [*run, "ruff", "check", ".", *SCRIPTS]),
        Step("ruff format", [*run, "ruff", "format", "--check", ".", *SCRIPTS]),
        Step("mypy", [*run, "mypy", *CHECKED]),
        Step("migrations", [*manage, "makemigrations", "--check", "--dry-run"], on_tests),
        Step("settings", [*manage, "check", "--deploy", "--fail-level=WARNING"], production()),
        Step(
            "on SQLite",
            [*suite, "-m", "not postgres"],
            {**without_postgres(addresses), **PLAIN_SUMS},
        ),
    ]
    if services.POSTGRES in addresses:
        same = [f"--ignore=tests/{one}" for one in SAME_ON_ANY_DATABASE]
        steps.append(Step("on PostgreSQL", [*suite, *same], {**addresses, **PLAIN_SUMS}))
    compiled = {**without_postgres(addresses), **COMPILED_SUMS}
    steps.append(Step("drift, compiled", [*suite, *COMPILED], compiled))
    return steps


def focused(
    python: Path, addresses: dict[str, str], focus: list[str], *, on_postgres: bool
) -> Step:
    name = "on PostgreSQL" if on_postgres else "on SQLite"
    env = addresses if on_postgres else without_postgres(addresses)
    return Step(name, [str(python), "-m", "pytest", *focus], env)


def without_postgres(addresses: dict[str, str]) -> dict[str, str]:
    return {name: where for name, where in addresses.items() if name != services.POSTGRES}


def production() -> dict[str, str]:
    """An environment that production settings accept, leading nowhere."""
    return {
        "DJANGO_SETTINGS_MODULE": "deploy.settings.production",
        "SECRET_KEY": secrets.token_urlsafe(64),
        "ALLOWED_HOSTS": "squish.example",
        "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/nothing",
        "CELERY_BROKER_URL": "redis://127.0.0.1:1/0",
    }


def passed(step: Step) -> tuple[bool, float]:
    """Run the step before the eyes of whoever waits; whether it passed, and in how many seconds."""
    print(f"\n== {step.name}", flush=True)
    began = time.monotonic()
    inherited = {name: v for name, v in os.environ.items() if name != services.POSTGRES}
    ran = subprocess.run(
        step.command, cwd=bootstrap.PROJECT, env={**inherited, **step.env}, check=False
    )
    return ran.returncode == 0, time.monotonic() - began


def report(results: list[tuple[Step, bool, float]], *, lacking: list[str]) -> int:
    """Say how each step went; 1 when one failed, or where CI lacks a server."""
    print("\nSummary", flush=True)
    for step, good, seconds in results:
        say(step.name.replace("on ", ""), f"{'passed' if good else 'FAILED':8} {seconds:5.0f} s")
    for name in lacking:
        say("not there", f"{services.PACKAGES[name]}: what needs it did not run")
    failed = [step.name for step, good, _ in results if not good]
    if lacking and os.environ.get("CI"):
        failed.append("missing servers")
    print(f"FAILED: {', '.join(failed)}" if failed else "All passed.")
    return 1 if failed else 0
