"""The sums can be used with no service around them: Django never gets loaded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
NUMERICS = PROJECT / "qc" / "numerics"
FOREIGN = ("django", "rest_framework", "celery", "plotly", "qc.models", "deploy")
LOAD = (
    "import importlib, sys\n"
    "for name in sys.argv[1].split(','):\n"
    "    importlib.import_module(name)\n"
    f"print([name for name in {FOREIGN!r} if name in sys.modules])"
)


def modules() -> list[str]:
    found = (path.relative_to(PROJECT).with_suffix("") for path in NUMERICS.rglob("*.py"))
    return sorted(".".join(path.parts).removesuffix(".__init__") for path in found)


def foreign_after(names: list[str]) -> str:
    loaded = subprocess.run(
        [sys.executable, "-c", LOAD, ",".join(names)],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert loaded.returncode == 0, loaded.stderr
    return loaded.stdout.strip()


def test_every_module_of_the_sums_loads_without_a_service():
    assert "qc.numerics.solder" in modules()
    assert foreign_after(modules()) == "[]"


def test_the_walk_sees_django():
    assert foreign_after(["django.urls"]) == "['django']"
