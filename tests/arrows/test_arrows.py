"""Imports run one way: wiring, front ends, the shop's rules, tables, sums. Read from the source.

A new part of `qc` has to be given its place here before anything may import it.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]
TOP = ("api", "dashboards", "deploy", "qc")

GROUND = {"qc.errors", "qc.sentences", "qc.shown", "qc.units"}
RULES = {"qc.access", "qc.actor", "qc.lookups", "qc.operations"}
# The rooms of the lookups, in order: each reads from those before it.
ROOMS = ("shop", "record", "gauges", "charts", "watch", "flags", "pages")
READ = {*GROUND, "qc.actor", "qc.models", "qc.numerics", "qc.outbox"}


def rooms_before(room: str) -> set[str]:
    return {f"qc.lookups.{other}" for other in ROOMS[: ROOMS.index(room)]}


MAY_IMPORT: dict[str, set[str]] = {
    "qc": set(),
    "qc.sentences": set(),
    "qc.shown": set(),
    "qc.errors": {"qc.sentences"},
    "qc.units": {"qc.errors"},
    "qc.numerics": GROUND,
    "qc.models": GROUND,
    "qc.actor": {"qc.errors", "qc.models"},
    "qc.outbox": {*GROUND, "qc.models"},
    "qc.delivery": GROUND,
    "qc.lookups": set(),
    **{f"qc.lookups.{room}": {*READ, *rooms_before(room)} for room in ROOMS},
    "qc.operations": {
        *GROUND,
        *("qc.actor", "qc.delivery", "qc.lookups", "qc.models", "qc.numerics", "qc.outbox"),
    },
    "qc.access": {*GROUND, "qc.actor", "qc.lookups", "qc.models", "qc.operations"},
    "qc.tasks": {*GROUND, "qc.operations", "qc.outbox"},
    "qc.apps": set(),
    "qc.management": {*GROUND, *RULES, "qc.models", "qc.outbox"},
    "api": {*GROUND, *RULES, "qc.models", "qc.numerics"},
    "dashboards.figures": {"qc.shown", "qc.units"},
    "dashboards": {*GROUND, *RULES, "qc.models", "dashboards.figures"},
    "deploy": {*GROUND, *RULES, "qc.models", "qc.numerics", "qc.outbox", "api", "dashboards"},
}
# Whatever stands here leans on these packages and on Python's own library, and on no others.
ONLY_PACKAGES: dict[str, set[str]] = {
    "qc.sentences": set(),
    "qc.shown": set(),
    "qc.errors": set(),
    "qc.units": set(),
    # numba only where it is installed: qc.numerics.drift.jit does without it.
    "qc.numerics": {"numpy", "scipy", "numba"},
    "dashboards.figures": {"numpy", "plotly"},
}


def part_of(module: str) -> str:
    """The part of MAY_IMPORT that a module belongs to: "qc.models.jobs" to "qc.models"."""
    names = module.split(".")
    for many in (3, 2):
        if (part := ".".join(names[:many])) in MAY_IMPORT:
            return part
    return ".".join(names[:2]) if names[0] == "qc" else names[0]


def imports(source: str) -> Iterator[str]:
    """What the source imports, inside functions too: "qc.models.jobs.Job" for a name from there."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name the whole path here"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def backward(module: str, source: str) -> list[str]:
    """The imports of this module that run against the arrows."""
    part = part_of(module)
    targets = {name: part_of(name) for name in imports(source) if name.split(".")[0] in TOP}
    allowed = MAY_IMPORT[part] | {part}
    return sorted(
        f"{module} -> {name}" for name, target in targets.items() if not is_in(allowed, target)
    )


def is_in(allowed: set[str], target: str) -> bool:
    """Whether the part or the whole it belongs to is among these."""
    return not allowed.isdisjoint({target, target.rsplit(".", 1)[0]})


def sources() -> Iterator[tuple[str, str]]:
    for top in TOP:
        for path in sorted((PROJECT / top).rglob("*.py")):
            if "migrations" not in path.parts:
                module = ".".join(path.relative_to(PROJECT).with_suffix("").parts)
                yield module.removesuffix(".__init__"), path.read_text(encoding="utf-8")


def test_no_import_runs_back():
    found = [arrow for module, source in sources() for arrow in backward(module, source)]
    assert found == []


def test_every_part_was_read():
    read = {part_of(module) for module, _ in sources()}
    assert {"qc.numerics", "qc.operations", "api", "dashboards", "dashboards.figures"} <= read
    assert read - set(MAY_IMPORT) == set()


def test_the_arrows_themselves_make_no_circle():
    order = list(TopologicalSorter(MAY_IMPORT).static_order())
    assert order.index("qc.errors") < order.index("qc.models") < order.index("deploy")


@pytest.mark.parametrize("part", ONLY_PACKAGES)
def test_sums_and_figures_lean_on_few_packages(part):
    stock = {*sys.stdlib_module_names, *TOP, *ONLY_PACKAGES[part]}
    others = {
        f"{module} -> {name}"
        for module, source in sources()
        if part_of(module) == part
        for name in imports(source)
        if name.split(".")[0] not in stock
    }
    assert others == set()


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("qc.numerics.tilt", "from qc.models import Job"),
        ("qc.models.jobs", "from qc.operations import jobs"),
        ("qc.lookups.record.jobs", "from qc.operations import jobs"),
        ("qc.lookups.watch.beliefs", "from qc.lookups.flags.told import flag_line"),
        ("qc.operations.jobs", "import api.errors"),
        ("api.v1.jobs", "from dashboards import clock"),
        ("dashboards.views.jobs", "from api.errors import problem_for"),
        ("dashboards.figures.tilt", "def late():\n    from qc.models import Job"),
        ("dashboards.views.jobs", "from qc import outbox"),
        ("qc.outbox", "from qc import tasks"),
    ],
)
def test_an_arrow_that_runs_back_is_seen(module, source):
    assert len(backward(module, source)) == 1


def test_an_arrow_that_runs_forward_is_let_be():
    assert backward("qc.operations.jobs", "from qc.numerics import tilt\nimport numpy") == []
