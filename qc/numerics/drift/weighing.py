"""What each hypothesis expects of a reading, how much better it foretold it than no change did, and
what it learns of it.

A hypothesis expects the innovation g0 m0 + g1 m1, the m being the size of the change, and weighs
the reading by the same mixture of errors as the filter. A wild reading is as likely whatever moved,
and pulls nothing. Written twice, over arrays and in loops, because it is most of all the work and
compiled loops need no arrays in between; a test holds the two together.

The filter's response to a change is brought up to date once a job, not once a reading: it is by far
the largest array, and what a job's earlier readings have made of it is soon said.
"""

from __future__ import annotations

import math

import numpy as np

from qc.numerics.drift.channel_settings import SCALES, SettingArrays
from qc.numerics.drift.exponential import exp
from qc.numerics.drift.jit import IS_COMPILED, compiled
from qc.numerics.drift.state import HYPOTHESES, ChannelState
from qc.numerics.results import FloatArray, IntArray


def _expect_in_arrays(
    state: ChannelState,
    rows: IntArray,
    terms: FloatArray,
    gain: FloatArray,
    expected: FloatArray,
    one: int,
    arrays: SettingArrays,
) -> None:
    h = state.counts[HYPOTHESES]
    g = expected[one]
    for row, term in zip(rows, terms, strict=True):
        if term == 0.0:
            continue
        g[: arrays.deltas] -= term * state.response[:, row, :h]
        if row >= arrays.first:
            resource, a = divmod(row - arrays.first, arrays.deltas)
            mine = np.flatnonzero(state.who[:h] == resource)
            g[a, mine] += term * state.since[mine]
    for earlier in range(one):
        g -= (terms * gain[earlier, rows]).sum() * expected[earlier]


def _expect_in_loops(
    state: ChannelState,
    rows: IntArray,
    terms: FloatArray,
    gain: FloatArray,
    expected: FloatArray,
    one: int,
    arrays: SettingArrays,
) -> None:
    h = state.counts[HYPOTHESES]
    for j in range(rows.size):
        term, row = terms[j], rows[j]
        if term == 0.0:
            continue
        for a in range(arrays.deltas):
            for i in range(h):
                expected[one, a, i] -= term * state.response[a, row, i]
        if row >= arrays.first:
            resource = (row - arrays.first) // arrays.deltas
            a = (row - arrays.first) % arrays.deltas
            for i in range(h):
                if state.who[i] == resource:
                    expected[one, a, i] += term * state.since[i]
    for earlier in range(one):
        moved = 0.0
        for j in range(rows.size):
            moved += terms[j] * gain[earlier, rows[j]]
        for a in range(arrays.deltas):
            for i in range(h):
                expected[one, a, i] -= moved * expected[earlier, a, i]


def _respond_in_arrays(
    response: FloatArray, gain: FloatArray, expected: FloatArray, deltas: int
) -> None:
    n, h = gain.shape[1], expected.shape[2]
    for its_gain, its_expected in zip(gain, expected, strict=True):
        for a in range(deltas):
            response[a, :n, :h] += np.multiply.outer(its_gain, its_expected[a])


def _respond_in_loops(
    response: FloatArray, gain: FloatArray, expected: FloatArray, deltas: int
) -> None:
    for a in range(deltas):
        for row in range(gain.shape[1]):
            for one in range(gain.shape[0]):
                pull = gain[one, row]
                if pull != 0.0:
                    for i in range(expected.shape[2]):
                        response[a, row, i] += pull * expected[one, a, i]


@compiled
def _wild(nu: float, log_none: float, shares: FloatArray, spread: FloatArray) -> float:
    wild = SCALES.size - 1
    return (
        math.exp(-0.5 * nu * nu / spread[wild] - log_none) * shares[wild] / math.sqrt(spread[wild])
    )


def _weigh_in_arrays(
    state: ChannelState,
    nu: float,
    log_none: float,
    shares: FloatArray,
    spread: FloatArray,
    g: FloatArray,
    gained: FloatArray,
) -> None:
    h = gained.size
    g0, g1 = g
    m0, m1 = state.mean[:, :h]
    c00, c01, c11 = state.cov[:, :h]
    k0 = c00 * g0 + c01 * g1
    k1 = c01 * g0 + c11 * g1
    added = k0 * g0 + k1 * g1
    miss = nu - g0 * m0 - g1 * m1
    square = miss * miss
    total = np.full(h, _wild(nu, log_none, shares, spread))
    pull = np.zeros(h)
    for j in range(SCALES.size - 1):
        var = added + spread[j]
        each = np.exp(-0.5 * square / var - log_none) * (shares[j] / np.sqrt(var))
        total += each
        pull += each / var
    pull /= total
    gained *= total
    step = pull * miss
    m0 += k0 * step
    m1 += k1 * step
    c00 -= k0 * k0 * pull
    c01 -= k0 * k1 * pull
    c11 -= k1 * k1 * pull


def _weigh_in_loops(
    state: ChannelState,
    nu: float,
    log_none: float,
    shares: FloatArray,
    spread: FloatArray,
    g: FloatArray,
    gained: FloatArray,
) -> None:
    wild = _wild(nu, log_none, shares, spread)
    for i in range(gained.size):
        g0, g1 = g[0, i], g[1, i]
        k0 = state.cov[0, i] * g0 + state.cov[1, i] * g1
        k1 = state.cov[1, i] * g0 + state.cov[2, i] * g1
        added = k0 * g0 + k1 * g1
        miss = nu - g0 * state.mean[0, i] - g1 * state.mean[1, i]
        half_square = -0.5 * miss * miss
        total = wild
        pull = 0.0
        for j in range(SCALES.size - 1):
            inverse = 1.0 / (added + spread[j])
            each = exp(half_square * inverse - log_none) * shares[j] * math.sqrt(inverse)
            total += each
            pull += each * inverse
        pull /= total
        gained[i] *= total
        state.mean[0, i] += k0 * pull * miss
        state.mean[1, i] += k1 * pull * miss
        state.cov[0, i] -= k0 * k0 * pull
        state.cov[1, i] -= k0 * k1 * pull
        state.cov[2, i] -= k1 * k1 * pull


# (state, rows and terms (8,): of the reading numbered `one` of a job, gain (k, n): of the job's
# readings so far, expected (k, 2, h), one, arrays): fills expected[one].
expect = compiled(_expect_in_loops) if IS_COMPILED else _expect_in_arrays
# (response, gain, expected, deltas): brings the filter's response up to date in place.
respond = compiled(_respond_in_loops) if IS_COMPILED else _respond_in_arrays
# (state, nu: the innovation, log_none: its log likelihood with no change, shares and spread (3,):
# of the mixture, g (2, h): what is expected of it, gained (h,)): brings mean and cov up to date in
# place, and multiplies gained by the likelihood ratio.
weigh = compiled(_weigh_in_loops) if IS_COMPILED else _weigh_in_arrays
