"""The whole distribution of a run length: what share of charts has signalled after so many jobs."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

import numpy as np

from qc.errors import BadInput
from qc.numerics.results import FloatArray
from qc.numerics.run_length.chain import Chain

_LONGEST = 2_000  # jobs followed one by one; by then what is left shrinks evenly
_GONE = 1e-9
_ALIKE = 1e-12  # two ratios of what one more job leaves


@dataclass(frozen=True, eq=False)
class RunLength:
    """arl: mean jobs up to and including the signal. survival: chance of no signal within n jobs,
    n = 0, 1, ..., shape (m,), m >= 2; beyond them it shrinks by their last ratio."""

    arl: float
    survival: FloatArray

    def within(self, jobs: int) -> float:
        """Chance of a signal within so many jobs."""
        over = max(0, jobs - self.survival.size + 1)
        left = (
            float(self.survival[min(jobs, self.survival.size - 1)]) * _kept(self.survival) ** over
        )
        return max(0.0, 1 - left)

    def quantile(self, share: float) -> int:
        """The least n with within(n) >= share, 0 < share < 1."""
        if not 0 < share < 1:
            raise BadInput(why=f"The share must be between 0 and 1; got {share:g}.")
        reached = np.flatnonzero(self.survival <= 1 - share)
        if reached.size:
            return int(reached[0])
        more = math.log((1 - share) / float(self.survival[-1])) / math.log(_kept(self.survival))
        return self.survival.size - 1 + math.ceil(more - 1e-9)


def of_chain(chain: Chain, *, early: Iterable[float] = (), arl: float | None = None) -> RunLength:
    """A chain's run length.

    early: survival of jobs 0, 1, ... before the chain, whose start then holds what is left of
    them. arl: given where those jobs count too, else the chain's own.
    """
    return RunLength(chain.arl() if arl is None else arl, _while_any([*early], chain.survival()))


def of_survival(survival: Iterable[float], *, looks_back: int) -> RunLength:
    """From the chances of no signal within 0, 1, ... jobs, of which the mean is the sum.

    looks_back: how many of the newest jobs decide. They are followed until what is left has shrunk
    by one ratio for twice as many, and so goes on.
    """
    followed: list[float] = []
    kept, steady = math.nan, 0
    for left in islice(survival, _LONGEST):
        now = left / followed[-1] if followed and followed[-1] > 0 else 0.0
        kept, steady = (kept, steady + 1) if abs(now - kept) < _ALIKE else (now, 0)
        followed.append(max(left, 0.0))
        if len(followed) > 2 and (left < _GONE or steady >= 2 * looks_back):
            break
    told = np.array(followed)
    kept = _kept(told)
    later = followed[-1] * kept / (1 - kept) if kept < 1 else math.inf
    return RunLength(float(told.sum()) + later, told)


def either_side(
    up: Chain, down: Chain, *, up_again: Chain, down_again: Chain, arl: float
) -> RunLength:
    """Of two one-sided CUSUMs side by side, from those of each alone.

    up, down: as they start; up_again, down_again: started at zero. When one signals the other
    stands at zero (Lucas & Crosier, Technometrics 1982), so that the time to up's own signal is
    either the pair's, or the pair's by down and then a fresh up's: with a and b the chances that
    the pair ends at n by up and by down, f_up = a + b * g_up and f_down = b + a * g_down, where *
    convolves.
    """
    longest = _LONGEST
    f_up, f_down, g_up, g_down = (
        _ends(chain, longest) for chain in (up, down, up_again, down_again)
    )
    a, b = np.zeros(longest), np.zeros(longest)
    for n in range(longest):
        a[n] = f_up[n] - b[:n] @ g_up[:n][::-1]
        b[n] = f_down[n] - a[:n] @ g_down[:n][::-1]
    return RunLength(arl, _while_any([], iter(1 - np.concatenate([[0.0], np.cumsum(a + b)]))))


def _kept(survival: FloatArray) -> float:
    """The share of what is left that one more job leaves, at the end."""
    before, last = float(survival[-2]), float(survival[-1])
    return last / before if before > 0 else 0.0


def _ends(chain: Chain, longest: int) -> FloatArray:
    """Chance that the run ends at job 1, 2, ..., shape (longest,)."""
    return -np.diff(np.fromiter(islice(chain.survival(), longest + 1), float, longest + 1))


def _while_any(early: list[float], later: Iterable[float]) -> FloatArray:
    """Survival for as long as there is any, two jobs at least."""
    found = list(early)
    for left in islice(later, _LONGEST):
        found.append(max(left, 0.0))
        if left < _GONE and len(found) > 2:
            break
    return np.array(found)
