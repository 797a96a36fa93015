"""Levels that changed: where, how often, by how much, and how surely.

Least squares over every way to cut the record into segments (Bai & Perron, Journal of Applied
Econometrics 2003), the number of breaks by BIC, intervals for each break by Bai (Review of
Economics and Statistics 1997) with the segments' own spreads, or by the likelihood ratio (Yao,
Annals of Statistics 1987), which does not take the step found for the true one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import BadInput
from qc.numerics.capability.indices import require_confidence
from qc.numerics.results import FloatArray
from qc.numerics.series import require_number, require_series
from qc.numerics.trend.argmax import argmax_quantile


@dataclass(frozen=True)
class Break:
    """last_before: index of the last job at the old level. earliest..latest: its interval, None
    where both levels have no spread."""

    last_before: int
    earliest: int | None
    latest: int | None


@dataclass(frozen=True, eq=False)
class Levels:
    """The best cut with the chosen number of breaks; `mean` has one entry a level, in order.

    rss[m], bic[m]: with m breaks, m = 0, 1, ...; candidates[m]: last indices before the breaks.
    """

    breaks: tuple[Break, ...]
    mean: FloatArray
    rss: FloatArray
    bic: FloatArray
    candidates: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class SupF:
    """The largest F of one break against none, and the last job before it."""

    f: float
    last_before: int


def find_levels(
    x: ArrayLike,
    *,
    most_breaks: int = 5,
    trim: float = 0.15,
    breaks: int | None = None,
    confidence: float = 0.95,
    interval: Literal["step", "likelihood"] = "step",
) -> Levels:
    """Cut a record into levels.

    x: shape (n,), in cutting order. trim: the shortest segment as a share of n (two jobs at least).
    breaks: how many, or None for the number with the least BIC among 0..most_breaks that fit;
    BIC counts the levels, the breaks and the variance.
    interval: "step" is Bai's, too short where the step is small beside the spread (0.89 for 0.95 at
    one sigma in 60 jobs); "likelihood" holds every place for a break, its neighbours staying, that
    fits nearly as well under one spread, and is never too short.
    Raises TooFewReadings, NotFinite, BadInput when so many breaks do not fit.
    """
    values = require_series(x, at_least=4)
    shortest = _shortest(values.size, trim)
    fitting = values.size // shortest - 1
    asked = most_breaks if breaks is None else breaks
    if asked < 0 or (breaks is not None and breaks > fitting):
        raise BadInput(why=f"{asked} breaks do not fit {values.size} jobs with this trim.")
    cost = _costs(values, shortest)
    candidates, rss = _best_cuts(cost, min(asked, fitting))
    bic = _bic(rss, values.size)
    chosen = int(np.argmin(bic)) if breaks is None else breaks
    edges = [0, *(last + 1 for last in candidates[chosen]), values.size]
    segments = [values[a:b] for a, b in pairwise(edges)]
    joins = zip(candidates[chosen], pairwise(segments), strict=True)
    if interval == "step":
        found = tuple(_break(last, *sides, values.size, confidence) for last, sides in joins)
    else:
        variance = float(rss[chosen]) / (values.size - chosen - 1)
        found = tuple(
            _likely(last, *sides, shortest=shortest, variance=variance, confidence=confidence)
            for last, sides in joins
        )
    return Levels(
        breaks=found,
        mean=np.array([segment.mean() for segment in segments]),
        rss=rss,
        bic=bic,
        candidates=candidates,
    )


def sup_f(x: ArrayLike, *, trim: float = 0.15) -> SupF:
    """Andrews' statistic (Econometrica 1993): one break at a place not known beforehand.

    Arguments and errors as find_levels. F is infinite when the levels leave no spread.
    """
    values = require_series(x, at_least=4)
    shortest = _shortest(values.size, trim)
    last = np.arange(shortest, values.size - shortest + 1) - 1
    total = np.cumsum(values - values[0])
    count = last + 1.0
    rest = values.size - count
    means = total[last] / count, (total[-1] - total[last]) / rest
    gained = count * rest / values.size * (means[0] - means[1]) ** 2
    rss = float(((values - values[0] - total[-1] / values.size) ** 2).sum())
    left = np.maximum(rss - gained, 0.0)
    best = int(np.argmax(gained))
    degenerate = left[best] <= 1e-14 * rss
    f = math.inf if degenerate else float(gained[best] / left[best]) * (values.size - 2)
    return SupF(0.0 if rss == 0 else f, int(last[best]))


def _shortest(n: int, trim: float) -> int:
    trim = require_number(trim, what="The trim", above=0, at_most=0.5)
    return max(2, math.floor(trim * n + 1e-9))


def _costs(values: FloatArray, shortest: int) -> FloatArray:
    """cost[i, j]: sum of squares of jobs i..j about their mean; inf where the segment is short."""
    off = values - values.mean()
    total = np.concatenate([[0.0], np.cumsum(off)])
    square = np.concatenate([[0.0], np.cumsum(off**2)])
    first, last = np.arange(values.size)[:, None], np.arange(values.size)
    count = last - first + 1
    with np.errstate(divide="ignore", invalid="ignore"):
        cost = square[last + 1] - square[first] - (total[last + 1] - total[first]) ** 2 / count
    return np.where(count >= shortest, np.maximum(cost, 0.0), np.inf)


def _best_cuts(cost: FloatArray, most: int) -> tuple[tuple[tuple[int, ...], ...], FloatArray]:
    """For each number of breaks up to `most`: the last jobs before them, and the sum of squares."""
    n = len(cost)
    upto = cost[0]  # least cost of jobs 0..j with the breaks so far
    chosen: list[np.ndarray] = []
    cuts: list[tuple[int, ...]] = [()]
    rss = [float(upto[-1])]
    for _ in range(most):
        # through[i, j]: the last break is after job i and job j is the last so far.
        through = upto[:-1, None] + cost[1:, :]
        chosen.append(np.argmin(through, axis=0))
        upto = np.min(through, axis=0)
        rss.append(float(upto[-1]))
        last, path = n - 1, []
        for step in reversed(chosen):
            last = int(step[last])
            path.append(last)
        cuts.append(tuple(reversed(path)))
    return tuple(cuts), np.array(rss)


def _bic(rss: FloatArray, n: int) -> FloatArray:
    parameters = 2 * np.arange(rss.size) + 2
    with np.errstate(divide="ignore"):
        return np.asarray(
            n * (math.log(2 * math.pi) + 1 + np.log(rss / n)) + math.log(n) * parameters
        )


def _break(last: int, before: FloatArray, after: FloatArray, n: int, confidence: float) -> Break:
    step2 = float(after.mean() - before.mean()) ** 2
    var_before, var_after = float(before.var()), float(after.var())
    if var_before == 0 or var_after == 0 or step2 == 0:
        return Break(last, None, None)
    tail = (1 - require_confidence(confidence)) / 2
    ratio = var_after / var_before
    scale = var_before / step2
    earliest = last - math.ceil(argmax_quantile(1 - tail, ratio) * scale)
    latest = last - math.floor(argmax_quantile(tail, ratio) * scale)
    return Break(last, max(0, earliest), min(n - 1, latest))


def _likely(
    last: int,
    before: FloatArray,
    after: FloatArray,
    *,
    shortest: int,
    variance: float,
    confidence: float,
) -> Break:
    """The places that fit no worse than chance allows: twice the log likelihood lost stays under a
    bound whose chance is (1 - exp(-bound / 2))^2."""
    if variance == 0:
        return Break(last, None, None)
    both = np.concatenate([before, after])
    count = np.arange(shortest, both.size - shortest + 1)
    total = np.cumsum(both - both.mean())[count - 1]
    # Sum of squares gained by a break after `count` jobs.
    gained = total**2 * both.size / (count * (both.size - count))
    bound = -2 * math.log1p(-math.sqrt(require_confidence(confidence)))
    fit = count[(gained.max() - gained) / variance <= bound]
    first = last + 1 - before.size
    return Break(last, first + int(fit[0]) - 1, first + int(fit[-1]) - 1)
