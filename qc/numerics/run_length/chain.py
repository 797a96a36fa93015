"""A chart as a chain of places it may stand at, and everything that follows for its run length.

Works alike for exact finite chains (zone rules) and for integral equations at quadrature nodes
(EWMA, CUSUM, rules on steps), where a move holds kernel times weight and may be a little negative.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from qc.errors import BadInput
from qc.numerics.results import FloatArray

_LONGEST_WAIT = 200_000  # jobs after which the shape of a chain that has not signalled is settled


@dataclass(frozen=True, eq=False)
class Chain:
    """start: chance of standing at each place before the first job, shape (s,).
    moves: chance of going from place i to place j in one job without a signal, shape (s, s)."""

    start: FloatArray
    moves: FloatArray | sparse.csr_array

    def arl(self) -> float:
        """Mean number of jobs up to and including the signal."""
        return float(self.start @ self.jobs_left())

    def jobs_left(self) -> FloatArray:
        """The same from each place: (I - moves)^-1 1, shape (s,)."""
        return self._summed(np.ones(self.start.size))

    def sd(self) -> float:
        """Standard deviation of the run length; E N (N + 1) = 2 start (I - moves)^-2 1."""
        once = self.jobs_left()
        mean = float(self.start @ once)
        return math.sqrt(2 * float(self.start @ self._summed(once)) - mean - mean**2)

    def survival(self) -> Iterator[float]:
        """P(no signal within n jobs) for n = 0, 1, 2, ... without end."""
        here = self.start
        # By rows, a sparse product takes a third of the time.
        back = self.moves.T if isinstance(self.moves, np.ndarray) else self.moves.T.tocsr()
        while True:
            yield float(here.sum())
            here = back @ here

    def quantile(self, share: float) -> int:
        """The least n with P(signal within n jobs) >= share, 0 < share < 1."""
        if not 0 < share < 1:
            raise BadInput(why=f"The share must be between 0 and 1; got {share:g}.")
        here, jobs = self.start, 0
        while (left := float(here.sum())) > 1 - share:
            after = here @ self.moves
            kept = float(after.sum()) / left
            # Once its shape has settled, what is left shrinks by the same factor every job.
            if np.abs(after - kept * here).max() < 1e-12 * left:
                return jobs + math.ceil(math.log((1 - share) / left) / math.log(kept) - 1e-9)
            here, jobs = after, jobs + 1
        return jobs

    def settled(self) -> FloatArray:
        """Chance of each place after a long time without a signal, shape (s,), summing to 1."""
        here = self.start / self.start.sum()
        for _ in range(_LONGEST_WAIT):
            before = here
            here = here @ self.moves
            here = here / here.sum()
            if np.abs(here - before).max() < 1e-14:
                break
        return np.asarray(here)

    def _summed(self, right: FloatArray) -> FloatArray:
        """(I - moves)^-1 right."""
        if isinstance(self.moves, np.ndarray):
            return np.asarray(np.linalg.solve(np.eye(right.size) - self.moves, right))
        eye = sparse.eye_array(right.size, format="csc")
        return np.asarray(splu((eye - self.moves).tocsc()).solve(right))


def arl_after_settling(in_control: Chain, shifted: Chain) -> float:
    """Jobs from a shift to the signal when the chart has long run in control without one.

    Both chains must have the same places. Known as the conditional steady-state run length.
    """
    return float(in_control.settled() @ shifted.jobs_left())
