"""How much better each hypothesis foretold a reading than no change did, and what it learns of it.

A hypothesis expects the innovation g0 m0 + g1 m1, the m being the size of the change, and weighs
the reading by the same mixture of errors as the filter. A wild reading is as likely whatever moved,
and pulls nothing. Written twice, over arrays and in loops, because it is half of all the work and
compiled loops need no arrays in between; a test holds the two together.
"""

from __future__ import annotations

import math

import numpy as np

from qc.numerics.drift.channel_settings import SCALES
from qc.numerics.drift.jit import IS_COMPILED, compiled
from qc.numerics.drift.state import ChannelState
from qc.numerics.results import FloatArray


@compiled
def _wild(nu: float, log_none: float, shares: FloatArray, spread: FloatArray) -> float:
    wild = SCALES.size - 1
    return (
        math.exp(-0.5 * nu * nu / spread[wild] - log_none) * shares[wild] / math.sqrt(spread[wild])
    )


def _in_arrays(
    state: ChannelState,
    nu: float,
    log_none: float,
    shares: FloatArray,
    spread: FloatArray,
    g0: FloatArray,
    g1: FloatArray,
) -> None:
    h = g0.size
    m0 = state.mean[0, :h]
    m1 = state.mean[1, :h]
    c00 = state.cov[0, :h]
    c01 = state.cov[1, :h]
    c11 = state.cov[2, :h]
    k0 = c00 * g0 + c01 * g1
    k1 = c01 * g0 + c11 * g1
    added = k0 * g0 + k1 * g1
    miss = nu - g0 * m0 - g1 * m1
    square = miss * miss
    wild = SCALES.size - 1
    total = np.full(h, _wild(nu, log_none, shares, spread))
    pull = np.zeros(h)
    for j in range(wild):
        var = added + spread[j]
        each = np.exp(-0.5 * square / var - log_none) * (shares[j] / np.sqrt(var))
        total += each
        pull += each / var
    pull /= total
    state.evidence[:h] += np.log(total)
    step = pull * miss
    state.mean[0, :h] = m0 + k0 * step
    state.mean[1, :h] = m1 + k1 * step
    state.cov[0, :h] = c00 - k0 * k0 * pull
    state.cov[1, :h] = c01 - k0 * k1 * pull
    state.cov[2, :h] = c11 - k1 * k1 * pull


def _in_loops(
    state: ChannelState,
    nu: float,
    log_none: float,
    shares: FloatArray,
    spread: FloatArray,
    g0: FloatArray,
    g1: FloatArray,
) -> None:
    wild = _wild(nu, log_none, shares, spread)
    for i in range(g0.size):
        k0 = state.cov[0, i] * g0[i] + state.cov[1, i] * g1[i]
        k1 = state.cov[1, i] * g0[i] + state.cov[2, i] * g1[i]
        added = k0 * g0[i] + k1 * g1[i]
        miss = nu - g0[i] * state.mean[0, i] - g1[i] * state.mean[1, i]
        half_square = -0.5 * miss * miss
        total = wild
        pull = 0.0
        for j in range(SCALES.size - 1):
            inverse = 1.0 / (added + spread[j])
            each = math.exp(half_square * inverse - log_none) * shares[j] * math.sqrt(inverse)
            total += each
            pull += each * inverse
        pull /= total
        state.evidence[i] += math.log(total)
        state.mean[0, i] += k0 * pull * miss
        state.mean[1, i] += k1 * pull * miss
        state.cov[0, i] -= k0 * k0 * pull
        state.cov[1, i] -= k0 * k1 * pull
        state.cov[2, i] -= k1 * k1 * pull


# (state, nu: the innovation, log_none: its log likelihood with no change, shares and spread (3,):
# of the mixture, g0 and g1 (h,)): brings mean, cov and evidence up to date in place.
weigh = compiled(_in_loops) if IS_COMPILED else _in_arrays
