"""Reads the check values of `tests/reference/` and compares results with them.

Every case carries its own source and tolerance; `trade/cases.json` says what each status means. A
trade case marked `disagrees` holds a printed figure that is known to be wrong: it passes only when
our result differs from the print. Statistics cases pass within the larger of their absolute and
relative tolerance, one for each figure where the case gives it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent


@dataclass(frozen=True)
class TradeCase:
    id: str
    function: str
    inputs: dict[str, Any]
    expected: Any
    tolerance: float | dict[str, float]
    source: str
    status: str
    note: str = ""
    disagrees: bool = False

    def check(self, got: Any) -> None:
        """Fail with the source and both figures unless `got` is what this case asks for.

        got: a number, a word, a sequence, or a mapping that holds at least the expected names.
        """
        where = f"{self.id}: expected {self.expected}, got {got} ({self.status}: {self.source})"
        assert _agrees(got, self.expected, self.tolerance) != self.disagrees, where


def _agrees(got: Any, expected: Any, tolerance: float | dict[str, float]) -> bool:
    if isinstance(expected, dict):
        assert isinstance(got, Mapping), f"{got!r} has no names to compare with {expected}"
        allowed = tolerance if isinstance(tolerance, dict) else dict.fromkeys(expected, tolerance)
        return all(_agrees(got[name], value, allowed[name]) for name, value in expected.items())
    assert not isinstance(tolerance, dict), f"{expected!r} has one tolerance"
    if isinstance(expected, list):
        pairs = zip(got, expected, strict=True)
        return all(_agrees(one, value, tolerance) for one, value in pairs)
    if isinstance(expected, str) or expected is None:
        return bool(got == expected)
    # A last-place allowance, so that a tolerance of 1e-9 is not lost to the subtraction itself.
    return abs(float(got) - expected) <= tolerance + 1e-12 * abs(expected)


@dataclass(frozen=True)
class StatisticsCase:
    id: str
    inputs: dict[str, Any]
    expected: dict[str, Any]
    tolerance: dict[str, Any]
    source: str
    obtained: str

    def check(self, **got: Any) -> None:
        """Fail with source and figures unless each figure is as expected; None is undefined."""
        for name, value in got.items():
            expected = self.expected[name]
            where = f"{self.id} {name}: expected {expected}, got {value} ({self.source})"
            assert self._close(name, value, expected), where

    def _close(self, name: str, got: Any, expected: Any) -> bool:
        if expected is None or got is None:
            return got is expected
        if isinstance(expected, list):
            return all(self._close(name, *pair) for pair in zip(got, expected, strict=True))
        if isinstance(expected, dict):
            return all(self._close(name, got[part], value) for part, value in expected.items())
        allowed = self.tolerance.get(name, self.tolerance["default"])
        margin = max(allowed.get("abs", 0.0), allowed.get("rel", 0.0) * abs(expected))
        return abs(float(got) - expected) <= margin


def statistics_case(topic: str, case_id: str) -> StatisticsCase:
    """One case of `statistics/<topic>.json`. Raises KeyError for an id that is not there."""
    stored = json.loads((HERE / "statistics" / f"{topic}.json").read_text(encoding="utf-8"))
    case = {case["id"]: case for case in stored}[case_id]
    return StatisticsCase(**{field.name: case[field.name] for field in fields(StatisticsCase)})


@cache
def _trade() -> tuple[TradeCase, ...]:
    stored = json.loads((HERE / "trade" / "cases.json").read_text(encoding="utf-8"))
    return tuple(TradeCase(**case) for case in stored["cases"])


def trade_cases(*functions: str) -> list[Any]:
    """The cases of the named functions as pytest parameters, each with its own test id.

    Raises KeyError for a name that has no case, so that a misspelling cannot pass as no tests.
    """
    unknown = set(functions) - {case.function for case in _trade()}
    if unknown:
        raise KeyError(f"no trade case of {sorted(unknown)}")
    return [pytest.param(case, id=case.id) for case in _trade() if case.function in functions]
