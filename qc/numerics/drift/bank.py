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

from qc.numerics.drift.channel_settings import RIVAL_LOG_ODDS, RIVAL_WALK, SettingArrays
from qc.numerics.drift.filtering import (
    error_shares,
    innovation,
    learn_noise,
    learn_walk,
    noise_scale,
)
from qc.numerics.drift.hypotheses import age, forget_hypotheses
from qc.numerics.drift.jit import compiled
from qc.numerics.drift.readings import Readings
from qc.numerics.drift.state import HYPOTHESES, JOBS, STATES, ChannelState
from qc.numerics.drift.weighing import expect, respond, weigh
from qc.numerics.results import FloatArray, IntArray

# What can happen to a resource before a job; the filter knows SERVICED and CHECKED.
SERVICED, CHECKED, MENDED, RULED_OUT, CLOSED, RENEWED = range(6)


@compiled
def start_afresh(state: ChannelState, resource: int, arrays: SettingArrays) -> None:
    """It was serviced: its bias is whatever a service leaves, and nothing known before holds."""
    forget_hypotheses(state, resource)
    for a in range(arrays.deltas):
        row = arrays.first + arrays.deltas * resource + a
        _restart(state, row, state.prior_var[resource])
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
def begin_job(state: ChannelState, involved: IntArray, arrays: SettingArrays) -> None:
    """Count the job, let biases walk, forget the last engine, and try new onsets."""
    state.counts[JOBS] += 1
    if arrays.engine_var > 0.0:
        for a in range(arrays.deltas):
            _restart(state, arrays.deltas + a, arrays.engine_var * noise_scale(state, 0))
    for resource in involved:
        if resource < 0:
            continue
        walked = walk_of(state, resource, arrays.walk_var)
        state.own[resource] += 1
        for a in range(arrays.deltas):
            row = arrays.first + arrays.deltas * resource + a
            state.p[row, row] += walked
            state.rival_p[row, row] += arrays.walk_var * state.rival_walk[resource]
        age(state, resource, arrays)


@compiled
def take_readings(
    state: ChannelState, readings: Readings, job: int, off: FloatArray, arrays: SettingArrays
) -> None:
    """Learn from one job's readings. off (m,): filled with how many standard deviations each was
    out.
    """
    start = readings.start[job]
    size = readings.start[job + 1] - start
    h = state.counts[HYPOTHESES]
    gain = np.zeros((size, state.counts[STATES]))
    # What each hypothesis, a move of size 1 along each axis, expects of each innovation.
    expected = np.zeros((size, 2, h))
    gained = np.ones(h)
    for one in range(size):
        at = start + one
        rows, terms, group = readings.rows[at], readings.terms[at], readings.group[at]
        is_seen = readings.seen_before[at] == 1
        y, scale = readings.y[at], noise_scale(state, group)
        noise = readings.var[at] * scale
        shares = error_shares(state, group)
        spread, off[at], nu, log_none, blame = _learn(
            state, y, noise, shares, rows, terms, is_seen, gain[one], arrays.deltas
        )
        if h > 0:
            expect(state, rows, terms, gain, expected, one, arrays)
        if not is_seen:
            if h > 0:
                weigh(state, nu, log_none, shares, spread, expected[one], gained)
            learn_noise(state, group, scale, nu, spread, blame)
            learn_walk(state, _rival(state, y, noise, shares, rows, terms) - log_none)
    state.evidence[:h] += np.log(gained)
    respond(state.response, gain, expected, arrays.deltas)


@compiled
def _learn(
    state: ChannelState,
    y: float,
    noise: float,
    shares: FloatArray,
    rows: IntArray,
    terms: FloatArray,
    seen_before: bool,
    gain: FloatArray,
    deltas: int,
) -> tuple[FloatArray, float, float, float, FloatArray]:
    """Teach the filter a reading; what `innovation` says of it but for the first.

    gain (n,): filled with how far an innovation of 1 moves each state. seen_before: it moves the
    engine alone.
    """
    n = state.counts[STATES]
    x, p = state.x[:n], state.p[:n, :n]
    along, spread, off, nu, log_none, blame = innovation(x, p, y, noise, shares, rows, terms)
    pull = (blame / spread).sum()
    gain[:] = along * pull
    if seen_before:
        gain[:deltas] = 0.0
        gain[2 * deltas :] = 0.0
        kept = np.outer(gain, along)
        p -= kept + kept.T - np.outer(gain, gain) / pull
    else:
        p -= np.outer(gain, along)
    x += gain * nu
    return spread, off, nu, log_none, blame


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
