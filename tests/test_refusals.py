"""Every refusal is raised with all that its sentence tells: what is left out would break the page
that should have shown it."""

from __future__ import annotations

import ast
import pickle
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import qc.errors
from qc.errors import NegativeLength, ShopError

FOLDERS = ("qc", "api", "dashboards", "deploy")
REFUSALS = {
    name: one
    for name, one in vars(qc.errors).items()
    if isinstance(one, type) and issubclass(one, ShopError)
}


def raised(source: str) -> Iterator[tuple[str, set[str]]]:
    """Each refusal that is made, with the facts it is given; not those passed on as a whole."""
    for node in ast.walk(ast.parse(source)):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
            continue
        facts = {one.arg for one in node.keywords}
        if node.func.id in REFUSALS and None not in facts:
            yield node.func.id, {one for one in facts if one is not None}


def left_out(source: str) -> list[tuple[str, set[str]]]:
    found = []
    for name, facts in raised(source):
        told = {field for _, field, _, _ in Formatter().parse(REFUSALS[name].message) if field}
        if told - facts:
            found.append((name, told - facts))
    return found


def test_no_refusal_leaves_out_what_its_sentence_tells() -> None:
    root = Path(__file__).parents[1]
    sources = [path.read_text() for folder in FOLDERS for path in (root / folder).rglob("*.py")]
    assert sum(len(list(raised(source))) for source in sources) > 150
    assert [one for source in sources for one in left_out(source)] == []


def test_a_refusal_that_leaves_something_out_is_seen() -> None:
    said = 'raise DoubtfulUnit(got=one, expected="about 1", fields=("length",))'
    assert left_out(said) == [("DoubtfulUnit", {"expected_mm"})]


def test_a_refusal_goes_whole_from_one_process_to_another() -> None:
    """Celery takes a refusal that it cannot send on for a bug, with a traceback in the log."""
    one = NegativeLength(what="A gap", got_mm=-0.25, fields=("gap",))
    again = pickle.loads(pickle.dumps(one))
    assert type(again) is NegativeLength
    assert (str(again), again.facts, again.fields) == (str(one), one.facts, ("gap",))
