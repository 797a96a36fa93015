"""What rules on rising and on alternating points remember, and how far they must know a reading.

The steps between points are a machine: the last step's direction, how many steps went that way in
succession, and how many went up and down by turns. Whether the next point rises depends on the last
reading itself, which a few nodes inside its zone stand for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.interpolate import BarycentricInterpolator

from qc.numerics.patterns import AlternatingRule, TrendRule
from qc.numerics.results import FloatArray
from qc.numerics.run_length.automaton import Machine, reached, smallest
from qc.numerics.run_length.integral import gauss

RISE, FALL = 0, 1
DIRECTIONS = (RISE, FALL)


class _Memory(NamedTuple):
    direction: int | None
    steady: int
    alternating: int


def step_machine(rules: Sequence[TrendRule | AlternatingRule]) -> Machine:
    """The machine of these rules; its letters are RISE and FALL, its start a first point."""
    # The shortest of a kind has always signalled by the time that a longer one would.
    longest_steady = _fewest_steps(rules, TrendRule)
    longest_alternating = _fewest_steps(rules, AlternatingRule)

    def move(memory: _Memory, direction: int) -> _Memory | None:
        is_same = direction == memory.direction
        steady = memory.steady + 1 if is_same else 1
        turned = memory.direction is not None and not is_same
        alternating = memory.alternating + 1 if turned else 1
        if steady >= longest_steady or alternating >= longest_alternating:
            return None
        return _Memory(
            direction,
            steady if longest_steady < math.inf else 0,
            alternating if longest_alternating < math.inf else 0,
        )

    start = _Memory(None, 0, 0)
    return smallest(reached(start, DIRECTIONS, move=move, label=lambda memory: 0))


def _fewest_steps(
    rules: Sequence[TrendRule | AlternatingRule], kind: type[TrendRule | AlternatingRule]
) -> float:
    return min((rule.points - 1 for rule in rules if isinstance(rule, kind)), default=math.inf)


class Within(NamedTuple):
    """Readings of one zone by their rank in it, 0 to 1, at Gauss-Legendre nodes.

    Given the zone a rank is uniform, whatever the zone and the mean, so that one table serves all.
    """

    rank: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, nodes: int) -> Within:
        return cls(*gauss(0.0, 1.0, nodes))

    def at(self, rank: FloatArray) -> FloatArray:
        """What a polynomial known at the nodes is at other ranks, as a matrix (m, n) on its values.

        rank: shape (m,).
        """
        through = BarycentricInterpolator(self.rank, np.eye(self.rank.size))
        return np.asarray(through(rank))

    def stepping(self, direction: int) -> FloatArray:
        """Chance of the next reading of this zone at each node, above or below the last one's.

        Shape (n, n), from row to column: integrals of the polynomials through the nodes, so that
        the step between above and below falls where the last reading stands.
        """
        above = [share @ self.at(rank) for rank, share in self._above()]
        return np.array(above) if direction == RISE else self.share - np.array(above)

    def _above(self) -> list[tuple[FloatArray, FloatArray]]:
        return [gauss(float(last), 1.0, self.rank.size) for last in self.rank]
