"""Trade cases named by function and number, so that no author's name stands in a test's name.

A case with one tolerance for each name of its result becomes one check for each name.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import pytest

from tests.reference.cases import TradeCase, trade_cases


def numbered_cases(*functions: str) -> list[Any]:
    """Parameters (case,) with ids like crank_angle-1."""
    seen: Counter[str] = Counter()
    named = []
    for param in trade_cases(*functions):
        (case,) = param.values
        seen[case.function] += 1
        for part, ending in _parts(case):
            named.append(pytest.param(part, id=f"{case.function}-{seen[case.function]}{ending}"))
    return named


def _parts(case: TradeCase) -> Iterator[tuple[TradeCase, str]]:
    if not isinstance(case.tolerance, Mapping):
        yield case, ""
        return
    for name, tolerance in case.tolerance.items():
        yield replace(case, expected={name: case.expected[name]}, tolerance=tolerance), f"-{name}"
