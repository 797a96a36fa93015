"""The joint filter's step for one reading, and what the readings teach of their own noise.

A reading's error is usual, careless or wild: a mixture of three normals, whose shares and whose
common size are learned from the shop's readings, beginning with the defaults and never forgetting
that they were worth something.
"""

from __future__ import annotations

import math

import numpy as np

from qc.numerics.drift.channel_settings import (
    NOISE_MEMORY,
    NOISE_WORTH,
    SCALES,
    SHARES_WORTH,
    USUAL_SHARES,
    WALK_MEMORY,
)
from qc.numerics.drift.jit import compiled
from qc.numerics.drift.state import ChannelState
from qc.numerics.results import FloatArray, IntArray

# Readings further out than this many standard deviations are taken as being just this far out.
FURTHEST = 25.0
FADE = 1.0 - 1.0 / NOISE_MEMORY
FADE_WALK = 1.0 - 1.0 / WALK_MEMORY


@compiled
def noise_scale(state: ChannelState, group: int) -> float:
    """How many times the usual variance this group's readings have."""
    return (NOISE_WORTH + state.scale_sum[group]) / (NOISE_WORTH + state.scale_weight[group])


@compiled
def error_shares(state: ChannelState, group: int) -> FloatArray:
    """How often this group's readings are usual, careless and wild, shape (3,)."""
    counted = state.shape_weight[group] + SHARES_WORTH * USUAL_SHARES
    return counted / counted.sum()


@compiled
def innovation(
    x: FloatArray,
    p: FloatArray,
    y: float,
    noise: float,
    shares: FloatArray,
    rows: IntArray,
    terms: FloatArray,
) -> tuple[FloatArray, FloatArray, float, float, float, FloatArray]:
    """What a reading says to a filter of mean x (n,) and covariance p (n, n).

    Returns (its covariance with each state (n,), its variance if usual, careless or wild (3,), how
    many standard deviations it is off, how far it is off without going further than FURTHEST, its
    log likelihood, how likely it was each of the three (3,)).
    """
    expected = 0.0
    along = np.zeros(x.size)
    for j in range(rows.size):
        if terms[j] != 0.0:
            expected += terms[j] * x[rows[j]]
            along += terms[j] * p[rows[j]]
    own_var = 0.0
    for j in range(rows.size):
        if terms[j] != 0.0:
            own_var += terms[j] * along[rows[j]]
    spread = own_var + noise * SCALES**2
    usual = math.sqrt(spread[0])
    off = (y - expected) / usual
    nu = usual * min(max(off, -FURTHEST), FURTHEST)
    log_each = np.log(shares) - 0.5 * np.log(spread) - 0.5 * nu * nu / spread
    top = log_each.max()
    each = np.exp(log_each - top)
    total = each.sum()
    return along, spread, off, nu, top + math.log(total), each / total


@compiled
def learn_noise(
    state: ChannelState, group: int, scale: float, nu: float, spread: FloatArray, blame: FloatArray
) -> None:
    """Remember how large the reading's error was beside what was thought usual."""
    state.scale_sum[group] = (
        FADE * state.scale_sum[group] + scale * (blame * nu * nu / spread).sum()
    )
    state.scale_weight[group] = FADE * state.scale_weight[group] + 1.0
    state.shape_weight[group] = FADE * state.shape_weight[group] + blame


@compiled
def learn_walk(state: ChannelState, gained: float) -> None:
    """Remember how much better the filter with the longer walk foretold the reading."""
    state.walk_evidence[0] = FADE_WALK * state.walk_evidence[0] + gained
