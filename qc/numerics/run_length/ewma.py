"""Run length of the two-sided EWMA chart, alone or beside an individuals chart.

Crowder's integral equation (Technometrics 1987): u is where the EWMA stands, in sigma of one job,
L(u) the jobs still to run, c the limit, w the weight:
    L(u) = 1 + 1/w * integral over |v| < c of L(v) phi((v - (1 - w) u) / w - shift) dv.
With an individuals chart of width k beside it only the v reached by a point |x| <= k count. L is
written as a Chebyshev sum made exact at the Chebyshev points, so that every integral can stop
exactly where k cuts it. Relative error under 1e-6 alone, 1e-5 with the second chart.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.polynomial import chebyshev
from scipy.optimize import brentq

from qc.numerics.results import FloatArray
from qc.numerics.run_length.chain import Chain, arl_after_settling
from qc.numerics.run_length.distribution import RunLength, of_chain
from qc.numerics.run_length.individuals import individuals_width
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number

_FAR = 9.0  # no normal deviate lies beyond this
_SETTLED = 1e-8  # how near the widening limits come to their last value before it is used


@dataclass(frozen=True)
class PairWidths:
    """Widths, in standard deviations of what each chart plots, of an individuals and an EWMA chart
    side by side on one series; together they signal once in arl0 jobs in control."""

    individuals: float
    ewma: float
    weight: float
    arl0: float


def ewma_arl(
    width: float, *, weight: float, shift: float = 0.0, steady_limits: bool = False
) -> float:
    """Jobs to the EWMA chart's first signal, started at the centre; sigma and centre known.

    width, weight, steady_limits: as charts.ewma_chart.
    shift: the mean's distance from the centre in sigma, there from the first job.
    """
    return individuals_ewma_arl(
        math.inf, width, weight=weight, shift=shift, steady_limits=steady_limits
    )


def individuals_ewma_arl(
    individuals: float,
    ewma: float,
    *,
    weight: float,
    shift: float = 0.0,
    steady_limits: bool = False,
) -> float:
    """Jobs until either signals: a point beyond `individuals` sigma, or the EWMA beyond `ewma`."""
    step, last = _steady(individuals, ewma, weight=weight, shift=shift)
    sums = step.solve(last)
    limit = last
    if not steady_limits:
        # Backward, from where the limits have stopped widening, to the first job.
        for share in reversed(_widening(weight)):
            before = last * share
            jobs_left = 1 + step.matrix(before * step.points, limit) @ sums
            sums, limit = step.fit(jobs_left), before
    return float(1 + (step.matrix(np.zeros(1), limit) @ sums)[0])


def ewma_chain(width: float, *, weight: float, shift: float = 0.0) -> Chain:
    """The chart with steady limits, started at the centre, at Gauss-Legendre nodes.

    Relative error of the run length under 1e-8.
    """
    width = require_number(width, what="The width", above=0)
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    shift = require_number(shift, what="The shift")
    limit = width * math.sqrt(weight / (2 - weight))
    node, rule = gauss(-limit, limit, 40 + 8 * math.ceil(limit / weight))
    place = np.concatenate([[0.0], node])
    x = (node - (1 - weight) * place[:, None]) / weight - shift
    density = np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi) / weight
    moves = np.hstack([np.zeros((place.size, 1)), density * rule])
    return Chain(np.eye(1, place.size)[0], moves)


def individuals_ewma_chain(
    individuals: float, ewma: float, *, weight: float, shift: float = 0.0
) -> Chain:
    """Both charts with steady limits, started at the centre, at the Chebyshev points.

    `moves` carries a function's values there through one job, and `start` reads it at the centre:
    neither holds chances, but run lengths, survival and what is settled follow as from those.
    """
    step, last = _steady(individuals, ewma, weight=weight, shift=shift)
    return Chain(step.at_centre(), step.moves(last * step.points, last))


def widening_run_length(
    individuals: float, ewma: float, *, weight: float, shift: float = 0.0
) -> RunLength:
    """Run length of both charts from the first job on, the EWMA's limits widening as drawn."""
    step, last = _steady(individuals, ewma, weight=weight, shift=shift)
    limits = [last * share for share in _widening(weight)]
    here = step.moves(np.zeros(1), limits[0])
    survival = [1.0]
    for before, after in pairwise([*limits, last]):
        survival.append(float(here.sum()))
        here = here @ step.moves(before * step.points, after)
    chain = Chain(here[0], step.moves(last * step.points, last))
    arl = math.fsum(survival) + chain.arl()
    return of_chain(chain, early=survival, arl=arl)


def ewma_arl_after_settling(width: float, *, weight: float, shift: float) -> float:
    """Jobs from a shift to the signal when the chart has long run in control without one."""
    return arl_after_settling(
        ewma_chain(width, weight=weight), ewma_chain(width, weight=weight, shift=shift)
    )


@lru_cache(maxsize=256)
def ewma_width(arl0: float, *, weight: float, steady_limits: bool = False) -> float:
    """The EWMA width that signals once in arl0 jobs in control; arl0 > 1."""
    arl0 = require_number(arl0, what="The run length", above=1)
    return _solve(lambda width: ewma_arl(width, weight=weight, steady_limits=steady_limits), arl0)


@lru_cache(maxsize=256)
def individuals_ewma_widths(
    arl0: float, *, weight: float, steady_limits: bool = False
) -> PairWidths:
    """Widths for the two charts side by side: one signal in arl0 jobs in control between them,
    each chart alone being as rare as the other; arl0 > 1."""
    arl0 = require_number(arl0, what="The run length", above=1)

    def together(width: float) -> float:
        alone = ewma_arl(width, weight=weight, steady_limits=steady_limits)
        return individuals_ewma_arl(
            individuals_width(alone), width, weight=weight, steady_limits=steady_limits
        )

    ewma = _solve(together, arl0)
    alone = ewma_arl(ewma, weight=weight, steady_limits=steady_limits)
    return PairWidths(individuals_width(alone), ewma, weight, arl0)


def _steady(individuals: float, ewma: float, *, weight: float, shift: float) -> tuple[_Step, float]:
    """One job's move, and the limit that the EWMA's come to."""
    if individuals != math.inf:
        individuals = require_number(individuals, what="The individuals width", above=0)
    ewma = require_number(ewma, what="The EWMA width", above=0)
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    shift = require_number(shift, what="The shift")
    last = ewma * math.sqrt(weight / (2 - weight))
    return _Step(weight, shift, individuals, order=30 + 3 * math.ceil(last / weight)), last


def _widening(weight: float) -> list[float]:
    """The limits of jobs 1, 2, ... as shares of what they come to, while they still widen."""
    if weight == 1:
        return [1.0]
    jobs = math.ceil(math.log(_SETTLED) / (2 * math.log1p(-weight)))
    return [math.sqrt(-math.expm1(2 * job * math.log1p(-weight))) for job in range(1, max(jobs, 2))]


class _Step:
    """One job's move of the EWMA, acting on Chebyshev sums over [-limit, limit]."""

    def __init__(self, weight: float, shift: float, reach: float, *, order: int) -> None:
        self.weight, self.shift, self.reach, self.order = weight, shift, reach, order
        self.points: FloatArray = np.asarray(chebyshev.chebpts1(order))
        self._to_sums = np.linalg.inv(chebyshev.chebvander(self.points, order - 1))

    def fit(self, at_points: FloatArray) -> FloatArray:
        """The sum that takes these values at limit * points."""
        return np.asarray(self._to_sums @ at_points)

    def matrix(self, start: FloatArray, limit: float) -> FloatArray:
        """Row i, times a sum over [-limit, limit]: its mean over the next job from start[i]."""
        centre = (1 - self.weight) * start
        far = min(self.reach, _FAR + abs(self.shift))
        low = np.clip(centre - self.weight * far, -limit, limit)
        high = np.clip(centre + self.weight * far, -limit, limit)
        node, weight = gauss(0.0, 1.0, 64)
        v = low[:, None] + (high - low)[:, None] * node
        x = (v - centre[:, None]) / self.weight - self.shift
        density = np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi) / self.weight
        mass = density * weight * (high - low)[:, None]
        return np.asarray(
            np.einsum("iq,iqk->ik", mass, chebyshev.chebvander(v / limit, self.order - 1))
        )

    def moves(self, start: FloatArray, limit: float) -> FloatArray:
        """The same, times a function's values at limit * points."""
        return self.matrix(start, limit) @ self._to_sums

    def at_centre(self) -> FloatArray:
        """What reads a function at zero off those values, shape (order,)."""
        row = chebyshev.chebvander(np.zeros(1), self.order - 1) @ self._to_sums
        return np.asarray(row[0])

    def solve(self, limit: float) -> FloatArray:
        """The sum of L when the limit stays where it is."""
        here = chebyshev.chebvander(self.points, self.order - 1)
        return np.asarray(
            np.linalg.solve(here - self.matrix(limit * self.points, limit), np.ones(self.order))
        )


def _solve(arl_of_width: Callable[[float], float], arl0: float) -> float:
    """The width at which the logarithm of the run length, nearly a parabola, meets arl0's."""
    low, high = 0.05, 2.0
    while arl_of_width(high) < arl0:
        low, high = high, high + 1.0
    return float(brentq(lambda width: math.log(arl_of_width(width) / arl0), low, high, xtol=1e-9))
