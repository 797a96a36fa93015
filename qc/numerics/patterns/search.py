"""Where rules fire in a sequence, and what the newest job alone fires."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from qc.numerics.patterns.rules import Compared, Rule, ZoneRule
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import BoolArray, require_series, require_starts, stretches

# Points looked at together: what a rule writes down of so many stays in the cache, and the calls
# themselves cost little beside them.
_BLOCK = 131_072


@dataclass(frozen=True, eq=False)
class Patterns:
    """at[j]: which of so many jobs completed rule j's pattern, rising. rules: in that order."""

    jobs: int
    at: tuple[IntArray, ...]
    rules: tuple[Rule, ...]

    @cached_property
    def fired(self) -> BoolArray:
        """Shape (jobs, rules): rule j's pattern was completed by job i."""
        fired = np.zeros((self.jobs, len(self.rules)), dtype=np.bool_)
        for column, jobs in enumerate(self.at):
            fired[jobs, column] = True
        return fired

    @property
    def any_fired(self) -> BoolArray:
        return np.asarray(self.fired.any(axis=1))

    def first(self) -> int | None:
        """The first job at which any rule fires."""
        return min((int(jobs[0]) for jobs in self.at if jobs.size), default=None)

    def first_of(self, rule: Rule) -> int | None:
        """The first job at which this rule fires."""
        jobs = self.at[self.rules.index(rule)]
        return int(jobs[0]) if jobs.size else None


def find_patterns(
    x: ArrayLike,
    *,
    rules: tuple[Rule, ...],
    centre: float = 0.0,
    sigma: float = 1.0,
    stretch_start: ArrayLike | None = None,
) -> Patterns:
    """Where each rule fires.

    x: shape (n,), readings in cutting order, n >= 0, in the unit of centre and sigma > 0; without
        these, standardised readings. A chart of zero width has none: do not call this for one.
    stretch_start: shape (n,) bool; no pattern reaches across one.
    Raises NotFinite, BadInput.
    """
    values = require_series(x, at_least=0)
    found: list[list[IntArray]] = [[np.empty(0, dtype=np.int64)] for _ in rules]
    back = points_needed(rules) - 1
    for part in stretches(require_starts(stretch_start, values.size)) if values.size else ():
        for start in range(part.start, part.stop, _BLOCK):
            stop, first = min(start + _BLOCK, part.stop), max(start - back, part.start)
            seen = Compared(standardised(values[first:stop], centre=centre, sigma=sigma))
            for rule, jobs in zip(rules, found, strict=True):
                jobs.append(np.flatnonzero(rule.fires(seen)[start - first :]) + start)
    return Patterns(values.size, tuple(np.concatenate(jobs) for jobs in found), rules)


def standardised(x: FloatArray, *, centre: float, sigma: float) -> FloatArray:
    """(x - centre) / sigma, the same bits for one reading as for many."""
    off: FloatArray = x - centre
    off /= sigma
    return off


def newest_fired(z: ArrayLike, *, rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules the newest job fires, from no more than the points the rules look at.

    z: the stretch so far, or at least its last `points_needed(rules)`. The same answer as the last
    row of find_patterns, at a cost that does not grow with the history.
    """
    tail = require_series(np.asarray(z)[-points_needed(rules) :])
    seen = Compared(tail)
    return tuple(rule for rule in rules if rule.fires(seen)[-1])


def points_needed(rules: tuple[Rule, ...]) -> int:
    """How many of the newest points decide what the newest job fires."""
    return max((rule.points for rule in rules), default=1)


def made_by(z: ArrayLike, rule: Rule) -> tuple[int, ...]:
    """Which of the newest points made the pattern that `rule` completed at the last point of z.

    Indices into z, in order. Of a k-of-m rule only the points in its zone, on the newest's side.
    """
    tail = require_series(z)
    first = max(0, tail.size - rule.points)
    window = range(first, tail.size)
    if not isinstance(rule, ZoneRule):
        return tuple(window)
    inside = next((zone for zone in rule.holds(tail) if zone[-1]), None)
    return () if inside is None else tuple(i for i in window if inside[i])
