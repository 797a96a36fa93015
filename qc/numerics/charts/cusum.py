"""Tabular CUSUM: sums of what exceeds an allowance, for shifts of a size worth finding soon."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import (
    BoolArray,
    require_number,
    require_series,
    require_starts,
    stretches,
)


@dataclass(frozen=True, eq=False)
class CusumChart:
    """high sums upward excess, low downward excess; both are >= 0 and in the readings' unit.

    high_run, low_run: jobs since the sum was last zero; at a signal they count the jobs since the
    shift most likely began. signal marks a sum strictly above `decision`.
    """

    high: FloatArray
    low: FloatArray
    high_run: IntArray
    low_run: IntArray
    signal: BoolArray
    decision: float


def cusum_chart(
    x: ArrayLike,
    *,
    target: float,
    sigma: float,
    k: float = 0.5,
    h: float = 5.0,
    head_start: float = 0.0,
    stretch_start: ArrayLike | None = None,
) -> CusumChart:
    """high_i = max(0, high_(i-1) + x_i - target - k sigma); low alike with the signs turned.

    x: shape (n,), in cutting order. target, sigma > 0: in x's unit. k: allowance in sigma, half the
        shift to be found. h: decision interval in sigma. head_start: what both sums start from, in
        sigma, at the first job and at each stretch start (Lucas & Crosier 1982: h / 2).
    Limits for a false-alarm rate: run_length.cusum_limit.
    Raises NotFinite, BadInput, TooFewReadings.
    """
    values = require_series(x)
    target = require_number(target, what="The target")
    sigma = require_number(sigma, what="Sigma", above=0)
    allowance = sigma * require_number(k, what="The allowance k", above=-1e-300)
    decision = sigma * require_number(h, what="The decision interval h", above=0)
    head = sigma * require_number(head_start, what="The head start", above=-1e-300, at_most=h)
    return cusum_of_deviations(
        values - target,
        allowance=allowance,
        decision=decision,
        head=head,
        starts=require_starts(stretch_start, values.size),
    )


def cusum_of_deviations(
    off: FloatArray, *, allowance: float, decision: float, head: float, starts: BoolArray
) -> CusumChart:
    """The chart of deviations from target, all in one unit; a NaN leaves both sums as they were."""
    high, high_run = _sums(off - allowance, starts, head)
    low, low_run = _sums(-off - allowance, starts, head)
    return CusumChart(
        high=high,
        low=low,
        high_run=high_run,
        low_run=low_run,
        signal=(high > decision) | (low > decision),
        decision=decision,
    )


def _sums(excess: FloatArray, starts: BoolArray, head: float) -> tuple[FloatArray, IntArray]:
    """The one-sided sums and how long each has been above zero."""
    sums = np.empty(excess.size)
    run = np.empty(excess.size, dtype=np.int64)
    for part in stretches(starts):
        total, length = head, 0
        for job, step in enumerate(excess[part].tolist(), start=part.start):
            if step == step:
                total = max(0.0, total + step)
                length = length + 1 if total > 0 else 0
            sums[job], run[job] = total, length
    return sums, run
