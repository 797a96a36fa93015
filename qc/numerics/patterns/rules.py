"""What a rule is: k of m points in a zone, points that rise or fall, points that alternate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, reduce
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc, ndtr

from qc.errors import BadInput
from qc.numerics.results import FloatArray
from qc.numerics.series import BoolArray


class Compared:
    """Points, and what several rules ask of them, asked once. z: shape (..., n)."""

    def __init__(self, z: FloatArray) -> None:
        self.z = z
        self._over: dict[float, BoolArray] = {}
        self._under: dict[float, BoolArray] = {}

    def over(self, edge: float) -> BoolArray | None:
        """Which points are above the edge; None where every point is."""
        if edge == -math.inf:
            return None
        if edge not in self._over:
            self._over[edge] = np.asarray(self.z > edge)
        return self._over[edge]

    def under(self, edge: float) -> BoolArray | None:
        if edge == math.inf:
            return None
        if edge not in self._under:
            self._under[edge] = np.asarray(self.z < edge)
        return self._under[edge]

    @cached_property
    def steps(self) -> tuple[BoolArray, BoolArray]:
        """Whether each point after the first is above, and below, the one before."""
        before, after = self.z[..., :-1], self.z[..., 1:]
        return after > before, after < before


def compared(z: FloatArray | Compared) -> Compared:
    return z if isinstance(z, Compared) else Compared(z)


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

    def holds(self, z: FloatArray | Compared) -> list[BoolArray]:
        """Which points lie in the zone: once for each side, or once for both."""
        seen = compared(z)
        above = _both(seen.over(self.low), seen.under(self.high))
        below = _both(seen.under(-self.low), seen.over(-self.high))
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

    def fires(self, z: FloatArray | Compared) -> BoolArray:
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

    def fires(self, z: FloatArray | Compared) -> BoolArray:
        seen = compared(z)
        rise, fall = seen.steps
        run = self.points - 1
        return _at_points(_run_of(rise, run) | _run_of(fall, run), seen.z)


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

    def fires(self, z: FloatArray | Compared) -> BoolArray:
        seen = compared(z)
        rise, fall = seen.steps
        turns = (rise[..., 1:] & fall[..., :-1]) | (fall[..., 1:] & rise[..., :-1])
        return _at_points(_run_of(turns, self.points - 2), seen.z)


Rule = ZoneRule | TrendRule | AlternatingRule


def _normal(low: float, high: float) -> float:
    """Chance of low < z < high, 0 for an empty zone."""
    return max(0.0, float(ndtr(high) - ndtr(low)))


def _zigzag(n: int) -> int:
    """Orders of n numbers that go up first and then alternate (Andre 1881), by Entringer's sums."""
    row = [1]
    for _ in range(n):
        row = list(accumulate([0, *reversed(row)]))
    return row[-1]


def _both(one: BoolArray | None, other: BoolArray | None) -> BoolArray:
    """Where both hold; None holds everywhere."""
    if one is None or other is None:
        found = one if other is None else other
        assert found is not None, "a zone has an end"
        return found
    return one & other


def _either(above: BoolArray, below: BoolArray, *, low: float) -> BoolArray:
    """low < |z| < high from the two sides; a zone that holds the centre is where they meet."""
    return above | below if low >= 0 else above & below


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
    run, reach = inside, 1
    while reach < length:
        back = min(reach, length - reach)
        longer = np.empty_like(run)
        longer[..., :back] = False
        np.logical_and(run[..., back:], run[..., :-back], out=longer[..., back:])
        run, reach = longer, reach + back
    return run


def _at_points(fired: BoolArray, z: FloatArray) -> BoolArray:
    """What is known of steps, or of turns, moved to the newest point of each."""
    missing = z.shape[-1] - fired.shape[-1]
    return np.concatenate([np.zeros((*z.shape[:-1], missing), dtype=np.bool_), fired], axis=-1)
