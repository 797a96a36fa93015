"""Where rules fire in a sequence, and what the newest job alone fires."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.numerics.patterns.rules import Rule, ZoneRule
from qc.numerics.series import BoolArray, require_series, require_starts, stretches

# Points looked at together: few enough that what a rule writes down stays in the cache.
_BLOCK = 32_768


@dataclass(frozen=True, eq=False)
class Patterns:
    """fired[i, j]: rule j's pattern was completed by job i. rules: in the order of the columns."""

    fired: BoolArray
    rules: tuple[Rule, ...]

    @property
    def any_fired(self) -> BoolArray:
        return np.asarray(self.fired.any(axis=1))

    def first(self) -> int | None:
        """The first job at which any rule fires."""
        where = np.flatnonzero(self.any_fired)
        return int(where[0]) if where.size else None

    def first_of(self, rule: Rule) -> int | None:
        """The first job at which this rule fires."""
        where = np.flatnonzero(self.fired[:, self.rules.index(rule)])
        return int(where[0]) if where.size else None


def find_patterns(
    z: ArrayLike, *, rules: tuple[Rule, ...], stretch_start: ArrayLike | None = None
) -> Patterns:
    """Where each rule fires.

    z: shape (n,), standardised readings in cutting order, n >= 0. A chart of zero width has no z:
        do not call this for one. stretch_start: shape (n,) bool; no pattern reaches across one.
    Raises NotFinite, BadInput.
    """
    values = require_series(z, at_least=0)
    fired = np.empty((values.size, len(rules)), dtype=np.bool_, order="F")
    if values.size:
        back = points_needed(rules) - 1
        for part in stretches(require_starts(stretch_start, values.size)):
            for start in range(part.start, part.stop, _BLOCK):
                stop, first = min(start + _BLOCK, part.stop), max(start - back, part.start)
                for column, rule in enumerate(rules):
                    fired[start:stop, column] = rule.fires(values[first:stop])[start - first :]
    return Patterns(fired=fired, rules=rules)


def newest_fired(z: ArrayLike, *, rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules the newest job fires, from no more than the points the rules look at.

    z: the stretch so far, or at least its last `points_needed(rules)`. The same answer as the last
    row of find_patterns, at a cost that does not grow with the history.
    """
    tail = require_series(np.asarray(z)[-points_needed(rules) :])
    return tuple(rule for rule in rules if rule.fires(tail)[-1])


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
