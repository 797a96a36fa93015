"""Reads the check values of `tests/reference/` and compares results with them.

Every case carries its own source and tolerance; `trade/cases.json` says what each status means. A
trade case marked `disagrees` holds a printed figure that is known to be wrong: it passes only when
our result differs from the print. Statistics cases pass within the larger of their absolute and
relative tolerance, one for each figure where the case gives it.
"""

from __future__ import annotations

import json
import math
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

    @property
    def refusal(self) -> str | None:
        """Which way the case must be refused, None where it has figures to be met."""
        return next((name for name in self.expected if name.startswith("error")), None)

    def check(self, **got: Any) -> None:
        """Fail with source and figures unless each figure is as expected; None is undefined."""
        for name, value in got.items():
            expected = self.expected[name]
            where = f"{self.id} {name}: expected {expected}, got {value} ({self.source})"
            allowed = self.tolerance.get(name, self.tolerance.get("default", {}))
            assert self._close(value, expected, allowed), where

    def _close(self, got: Any, expected: Any, allowed: dict[str, Any]) -> bool:
        if allowed.get("skip"):
            return True
        if isinstance(expected, list):
            pairs = zip(got, expected, strict=True)
            return all(self._close(*pair, allowed) for pair in pairs)
        if isinstance(expected, dict):
            return all(
                self._close(got[part], value, self.tolerance.get(part, allowed))
                for part, value in expected.items()
            )
        undefined = got is None or (isinstance(got, float) and math.isnan(got))
        if expected is None or undefined:
            return expected is None and undefined
        if isinstance(expected, bool | str):
            return bool(got == expected)
        margin = max(allowed.get("abs", 0.0), allowed.get("rel", 0.0) * abs(expected))
        return abs(float(got) - expected) <= margin


def statistics_case(topic: str, case_id: str) -> StatisticsCase:
    """One case of `statistics/<topic>.json`. Raises KeyError for an id that is not there."""
    return {case.id: case for case in _statistics(topic)}[case_id]


def statistics_cases() -> list[Any]:
    """Every case of `statistics/` as pytest parameters (topic, case); the test id shows the case's
    tolerance and source."""
    topics = sorted(path.stem for path in (HERE / "statistics").glob("*.json"))
    return [
        pytest.param(topic, case, id=f"{topic}: {case.id} | {case.tolerance} | {case.source}")
        for topic in topics
        for case in _statistics(topic)
    ]


@cache
def _statistics(topic: str) -> tuple[StatisticsCase, ...]:
    stored = json.loads((HERE / "statistics" / f"{topic}.json").read_text(encoding="utf-8"))
    names = [field.name for field in fields(StatisticsCase)]
    return tuple(StatisticsCase(**{name: case[name] for name in names}) for case in stored)


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
