"""Reads the check values of `tests/reference/` and compares results with them.

Every case carries its own source and absolute tolerance; `trade/cases.json` says what each status
means. A case marked `disagrees` holds a printed figure that is known to be wrong: it passes only
when our result differs from the print.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
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
    tolerance: float
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


def _agrees(got: Any, expected: Any, tolerance: float) -> bool:
    if isinstance(expected, dict):
        assert isinstance(got, Mapping), f"{got!r} has no names to compare with {expected}"
        return all(_agrees(got[name], value, tolerance) for name, value in expected.items())
    if isinstance(expected, list):
        pairs = zip(got, expected, strict=True)
        return all(_agrees(one, value, tolerance) for one, value in pairs)
    if isinstance(expected, str) or expected is None:
        return bool(got == expected)
    # A last-place allowance, so that a tolerance of 1e-9 is not lost to the subtraction itself.
    return abs(float(got) - expected) <= tolerance + 1e-12 * abs(expected)


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
