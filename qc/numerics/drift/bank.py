"""One job on one channel: the joint filter's step, and every hypothesis brought up to date.

The filter is Kalman's over all resource biases at once. A hypothesis says that one resource moved
by an unknown amount at one of its jobs (Willsky and Jones 1976, with the amount's distribution
carried along instead of maximised); what it expects of the filter's innovations follows from the
filter's own response to such a move. Its evidence is the product of how much better it foretold
each reading. Summing over onsets is Shiryaev's and Roberts's way (from memory).

Beside it runs a plain filter that believes biases walk further between jobs; how much better that
one foretells says how far this shop's fixtures and edges do. Everything here works in place on a
ChannelState.
"""

from __future__ import annotations

import math

import numpy as np

from qc.numerics.drift.channel_settings import RIVAL_LOG_ODDS, RIVAL_WALK
from qc.numerics.drift.filtering import (
    error_shares,
    innovation,
    learn_noise,
    learn_walk,
    noise_scale,
)
from qc.numerics.drift.hypotheses import age, forget_hypotheses
from qc.numerics.drift.jit import add_outer, compiled
from qc.numerics.drift.state import HYPOTHESES, JOBS, STATES, ChannelState
from qc.numerics.drift.weighing import weigh
from qc.numerics.results import FloatArray, IntArray

MOST_TERMS = 8
# What can happen to a resource before a job; the filter knows SERVICED and CHECKED.
SERVICED, CHECKED, MENDED, RULED_OUT, CLOSED = range(5)


@compiled
def start_afresh(state: ChannelState, resource: int, first: int, deltas: int) -> None:
    """It was serviced: its bias is whatever a service leaves, and nothing known before holds."""
    forget_hypotheses(state, resource)
    for a in range(deltas):
        _restart(state, first + deltas * resource + a, state.prior_var[resource])
    state.own[resource] = 0


@compiled
def _restart(state: ChannelState, row: int, var: float) -> None:
    """One state is known only by its prior again."""
    n = state.counts[STATES]
    for x, p in ((state.x, state.p), (state.rival_x, state.rival_p)):
        x[row] = 0.0
        p[row, :n] = 0.0
        p[:n, row] = 0.0
        p[row, row] = var
    state.response[:, row, : state.counts[HYPOTHESES]] = 0.0


@compiled
def walk_scale(state: ChannelState) -> float:
    """How many times the usual variance what wanders gains an own job, from 1 to RIVAL_WALK."""
    odds = math.exp(min(RIVAL_LOG_ODDS + state.walk_evidence[0], 50.0))
    return 1.0 + (RIVAL_WALK - 1.0) * odds / (1.0 + odds)


@compiled
def walk_of(state: ChannelState, resource: int, walk_var: float) -> float:
    """Variance this resource's bias gains an own job; walk_var where it does not wander."""
    if state.rival_walk[resource] > 1.0:
        return walk_var * walk_scale(state)
    return walk_var


@compiled
def begin_job(
    state: ChannelState,
    involved: IntArray,
    first: int,
    deltas: int,
    walk_var: float,
    engine_var: float,
    ramp: IntArray,
    shape_var: FloatArray,
    every: IntArray,
    oldest: IntArray,
    log_share: FloatArray,
) -> None:
    """Count the job, let biases walk, forget the last engine, and try new onsets."""
    state.counts[JOBS] += 1
    if engine_var > 0.0:
        for a in range(deltas):
            _restart(state, deltas + a, engine_var * noise_scale(state, 0))
    for resource in involved:
        if resource < 0:
            continue
        walked = walk_of(state, resource, walk_var)
        state.own[resource] += 1
        for a in range(deltas):
            row = first + deltas * resource + a
            state.p[row, row] += walked
            state.rival_p[row, row] += walk_var * state.rival_walk[resource]
        age(state, resource, deltas, ramp, shape_var, every, oldest, log_share)


@compiled
def take_reading(
    state: ChannelState,
    y: float,
    var: float,
    group: int,
    rows: IntArray,
    terms: FloatArray,
    first: int,
    deltas: int,
    seen_before: bool,
) -> float:
    """One reading, the sum of `terms` times the states at `rows` plus noise of variance `var`.

    seen_before: it has been learned from already and now only says what engine this is. Returns
    how many standard deviations off it was.
    """
    n = state.counts[STATES]
    h = state.counts[HYPOTHESES]
    scale = noise_scale(state, group)
    noise = var * scale
    shares = error_shares(state, group)
    x, p = state.x[:n], state.p[:n, :n]
    along, spread, off, nu, log_none, blame = innovation(x, p, y, noise, shares, rows, terms)
    pull = (blame / spread).sum()
    gain = along * pull
    if seen_before:
        gain[:deltas] = 0.0
        gain[2 * deltas :] = 0.0
        kept = np.outer(gain, along)
        p -= kept + kept.T - np.outer(gain, gain) / pull
    else:
        p -= np.outer(gain, along)
    x += gain * nu

    if h > 0:
        # What each hypothesis, a move of size 1 along each axis, expects of this innovation.
        g0 = np.zeros(h)
        g1 = np.zeros(h)
        for j in range(rows.size):
            if terms[j] != 0.0:
                g0 -= terms[j] * state.response[0, rows[j], :h]
                if deltas == 2:
                    g1 -= terms[j] * state.response[1, rows[j], :h]
                if rows[j] >= first:
                    resource = (rows[j] - first) // deltas
                    direct = np.where(state.who[:h] == resource, terms[j] * state.since[:h], 0.0)
                    if (rows[j] - first) % deltas == 0:
                        g0 += direct
                    else:
                        g1 += direct
        if not seen_before:
            weigh(state, nu, log_none, shares, spread, g0, g1)
        add_outer(state.response, 0, gain, g0)
        if deltas == 2:
            add_outer(state.response, 1, gain, g1)

    if not seen_before:
        learn_noise(state, group, scale, nu, spread, blame)
        learn_walk(state, _rival(state, y, noise, shares, rows, terms) - log_none)
    return off


@compiled
def _rival(
    state: ChannelState,
    y: float,
    noise: float,
    shares: FloatArray,
    rows: IntArray,
    terms: FloatArray,
) -> float:
    """Teach the filter that believes in longer walks; the log likelihood it gave the reading."""
    n = state.counts[STATES]
    x, p = state.rival_x[:n], state.rival_p[:n, :n]
    along, spread, _, nu, log_likelihood, blame = innovation(x, p, y, noise, shares, rows, terms)
    gain = along * (blame / spread).sum()
    p -= np.outer(gain, along)
    x += gain * nu
    return log_likelihood
