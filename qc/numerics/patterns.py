"""Patterns among points that limits alone do not see, as rules that are data.

A rule reads z = (x - centre) / sigma in cutting order and fires at the point that completes its
pattern. "Beyond" and "within" are strict. A point exactly on the centre line is on neither side;
equal neighbours neither rise, fall nor alternate. A k-of-m rule needs the newest point in the zone
and may fire before m points exist. Windows overlap, so a run that goes on keeps firing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce
from itertools import accumulate

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtrc, ndtr

from qc.errors import BadInput
from qc.numerics.results import FloatArray
from qc.numerics.series import BoolArray, require_series, require_starts, stretches


@dataclass(frozen=True)
class ZoneRule:
    """k of m neighbouring points in a zone low < |z| < high, in sigma.

    one_side: the k must be on the same side of the centre, so low >= 0; low 0 is "same side".
    Without it, low < 0 is a zone that holds the centre line itself.
    """

    name: str
    k: int
    m: int
    low: float = -1.0
    high: float = math.inf
    one_side: bool = True

    def __post_init__(self) -> None:
        lowest = 0.0 if self.one_side else -math.inf
        if not (1 <= self.k <= self.m <= 255 and lowest <= self.low < self.high):
            raise BadInput(why=f"{self.name}: needs 1 <= k <= m <= 255, low < high and a side.")

    @property
    def points(self) -> int:
        """How many of the newest points the rule looks at."""
        return self.m

    def holds(self, z: FloatArray) -> list[BoolArray]:
        """Which points lie in the zone: once for each side, or once for both."""
        above, below = _above(z, self.low, self.high), _below(z, self.low, self.high)
        return [above, below] if self.one_side else [_either(above, below, low=self.low)]

    def chance(self) -> float:
        """That m points in control show the pattern, wherever the k of them stand."""
        if not self.one_side:
            inside = _normal(-self.high, self.high) - _normal(-self.low, self.low)
            return float(bdtrc(self.k - 1, self.m, inside))
        side = _normal(max(self.low, 0.0), self.high)
        either = 2 * float(bdtrc(self.k - 1, self.m, side))
        # Both sides at once, possible where k is at most half of m.
        both = sum(
            math.comb(self.m, up)
            * math.comb(self.m - up, down)
            * side ** (up + down)
            * (1 - 2 * side) ** (self.m - up - down)
            for up in range(self.k, self.m + 1)
            for down in range(self.k, self.m - up + 1)
        )
        return either - both

    def fires(self, z: FloatArray) -> BoolArray:
        """At which points of z, shape (..., n) in cutting order, the pattern is completed."""
        return reduce(np.logical_or, (_k_of_m(inside, self.k, self.m) for inside in self.holds(z)))


@dataclass(frozen=True)
class TrendRule:
    """`points` neighbouring points (one step fewer) that all rise or all fall."""

    name: str
    points: int

    def __post_init__(self) -> None:
        if self.points < 2:
            raise BadInput(why=f"{self.name}: a trend has two points or more.")

    def chance(self) -> float:
        """That so many points in control all rise or all fall: 2 of their orders."""
        return 2 / math.factorial(self.points)

    def fires(self, z: FloatArray) -> BoolArray:
        rise, fall = _steps(z)
        run = self.points - 1
        return _at_points(_run_of(rise, run) | _run_of(fall, run), z)


@dataclass(frozen=True)
class AlternatingRule:
    """`points` neighbouring points that rise and fall by turns."""

    name: str
    points: int

    def __post_init__(self) -> None:
        if self.points < 3:
            raise BadInput(why=f"{self.name}: alternating takes three points or more.")

    def chance(self) -> float:
        """That so many points in control alternate: twice the zigzag number over their orders."""
        return 2 * _zigzag(self.points) / math.factorial(self.points)

    def fires(self, z: FloatArray) -> BoolArray:
        rise, fall = _steps(z)
        turns = (rise[..., 1:] & fall[..., :-1]) | (fall[..., 1:] & rise[..., :-1])
        return _at_points(_run_of(turns, self.points - 2), z)


Rule = ZoneRule | TrendRule | AlternatingRule

BEYOND_3 = ZoneRule("one point beyond 3 sigma", 1, 1, low=3.0)
TWO_OF_THREE = ZoneRule("2 of 3 beyond 2 sigma, same side", 2, 3, low=2.0)
FOUR_OF_FIVE = ZoneRule("4 of 5 beyond 1 sigma, same side", 4, 5, low=1.0)
SEVEN_SAME_SIDE = ZoneRule("7 in a row on one side", 7, 7, low=0.0)
EIGHT_SAME_SIDE = ZoneRule("8 in a row on one side", 8, 8, low=0.0)
NINE_SAME_SIDE = ZoneRule("9 in a row on one side", 9, 9, low=0.0)
FIFTEEN_WITHIN_1 = ZoneRule("15 in a row within 1 sigma", 15, 15, high=1.0, one_side=False)
EIGHT_BEYOND_1 = ZoneRule("8 in a row beyond 1 sigma, either side", 8, 8, low=1.0, one_side=False)
SIX_RISING_OR_FALLING = TrendRule("6 points rising or falling", 6)
SEVEN_RISING_OR_FALLING = TrendRule("7 points rising or falling", 7)
FOURTEEN_ALTERNATING = AlternatingRule("14 points up and down by turns", 14)

# Points looked at together: few enough that what a rule writes down stays in the cache.
_BLOCK = 32_768

LIMITS_ONLY = (BEYOND_3,)
WESTERN_ELECTRIC = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_SAME_SIDE)
"""Zone rules of the Western Electric handbook (1956)."""
NELSON = (
    BEYOND_3,
    NINE_SAME_SIDE,
    SIX_RISING_OR_FALLING,
    FOURTEEN_ALTERNATING,
    TWO_OF_THREE,
    FOUR_OF_FIVE,
    FIFTEEN_WITHIN_1,
    EIGHT_BEYOND_1,
)
"""Nelson, Journal of Quality Technology 16 (1984), in his order."""
ISO_7870_2 = (BEYOND_3, SEVEN_SAME_SIDE, SEVEN_RISING_OR_FALLING)
"""The countable patterns of ISO 7870-2:2013; the list is from memory."""

RULE_SETS: Mapping[str, tuple[Rule, ...]] = {
    "limits only": LIMITS_ONLY,
    "Western Electric": WESTERN_ELECTRIC,
    "Nelson": NELSON,
    "ISO 7870-2": ISO_7870_2,
}


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


def _normal(low: float, high: float) -> float:
    """Chance of low < z < high, 0 for an empty zone."""
    return max(0.0, float(ndtr(high) - ndtr(low)))


def _zigzag(n: int) -> int:
    """Orders of n numbers that go up first and then alternate (Andre 1881), by Entringer's sums."""
    row = [1]
    for _ in range(n):
        row = list(accumulate([0, *reversed(row)]))
    return row[-1]


def _above(z: FloatArray, low: float, high: float) -> BoolArray:
    """low < z < high."""
    return np.asarray(z > low if high == math.inf else (z > low) & (z < high))


def _below(z: FloatArray, low: float, high: float) -> BoolArray:
    """low < -z < high, without a negated copy of z."""
    return np.asarray(z < -low if high == math.inf else (z < -low) & (z > -high))


def _either(above: BoolArray, below: BoolArray, *, low: float) -> BoolArray:
    """low < |z| < high from the two sides; a zone that holds the centre is where they meet."""
    return above | below if low >= 0 else above & below


def _steps(z: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Whether each point after the first is above, and below, the one before."""
    before, after = z[..., :-1], z[..., 1:]
    return after > before, after < before


def _k_of_m(inside: BoolArray, k: int, m: int) -> BoolArray:
    """The newest is inside, and so are at least k of the m newest."""
    if k == m:
        return _run_of(inside, k)
    count: NDArray[np.uint8] = inside.astype(np.uint8)
    for back in range(1, min(m, inside.shape[-1])):
        count[..., back:] += inside[..., :-back]
    return np.asarray(inside & (count >= k))


def _run_of(inside: BoolArray, length: int) -> BoolArray:
    """Every one of the `length` newest is inside, by joining runs of doubling length."""
    run, reach = inside.copy(), 1
    while reach < length:
        back = min(reach, length - reach)
        run[..., back:] = run[..., back:] & run[..., :-back]
        run[..., :back] = False
        reach += back
    return run


def _at_points(fired: BoolArray, z: FloatArray) -> BoolArray:
    """What is known of steps, or of turns, moved to the newest point of each."""
    missing = z.shape[-1] - fired.shape[-1]
    return np.concatenate([np.zeros((*z.shape[:-1], missing), dtype=np.bool_), fired], axis=-1)
