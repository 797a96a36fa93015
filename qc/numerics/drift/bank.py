"""One job on one channel: the joint filter's step, and every hypothesis brought up to date.

The filter is Kalman's over all resource biases at once. A hypothesis says that one resource moved
by an unknown amount at one of its jobs (Willsky and Jones 1976, with the amount's distribution
carried along instead of maximised); what it expects of the filter's innovations follows from the
filter's own response to such a move. Its evidence is the product of how much better it foretold
each reading. Summing over onsets is Shiryaev's and Roberts's way (from memory).

A reading's error is a mixture of three normals, so one wild value can neither raise a flag nor
bend the filter. Everything here works in place on a ChannelState.
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
)
from qc.numerics.drift.jit import add_outer, compiled
from qc.numerics.drift.onsets import are_kept, is_tried, stand_for
from qc.numerics.drift.state import HYPOTHESES, JOBS, RESOURCES, STATES, ChannelState
from qc.numerics.drift.weighing import weigh
from qc.numerics.results import FloatArray, IntArray

# Readings further out than this many standard deviations are taken as being just this far out.
FURTHEST = 25.0
MOST_TERMS = 8
# What can happen to a resource before a job.
SERVICED, CHECKED = 0, 1


@compiled
def forget_hypotheses(state: ChannelState, resource: int) -> None:
    """It was looked at and found in order: what was believed of its moving is dropped."""
    at = 0
    while at < state.counts[HYPOTHESES]:
        if state.who[at] == resource:
            _drop(state, at)
        else:
            at += 1


@compiled
def start_afresh(state: ChannelState, resource: int, first: int, deltas: int) -> None:
    """It was serviced: its bias is whatever a service leaves, and nothing known before holds."""
    forget_hypotheses(state, resource)
    n = state.counts[STATES]
    h = state.counts[HYPOTHESES]
    for a in range(deltas):
        row = first + deltas * resource + a
        state.x[row] = 0.0
        state.p[row, :n] = 0.0
        state.p[:n, row] = 0.0
        state.p[row, row] = state.prior_var[resource]
        for b in range(deltas):
            state.response[b, row, :h] = 0.0
    state.own[resource] = 0


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
    log_share: FloatArray,
) -> None:
    """Count the job, let biases walk, forget the last engine, and try new onsets."""
    state.counts[JOBS] += 1
    n = state.counts[STATES]
    if engine_var > 0.0:
        h = state.counts[HYPOTHESES]
        for a in range(deltas):
            row = deltas + a
            state.x[row] = 0.0
            state.p[row, :n] = 0.0
            state.p[:n, row] = 0.0
            state.p[row, row] = engine_var * _noise(state, 0)
            for b in range(deltas):
                state.response[b, row, :h] = 0.0
    for resource in involved:
        if resource < 0:
            continue
        state.own[resource] += 1
        for a in range(deltas):
            row = first + deltas * resource + a
            state.p[row, row] += walk_var
        _thin(state, resource, ramp, every, log_share)
        for shape in range(every.size):
            if is_tried(state.own[resource], every[shape]):
                _try(
                    state,
                    resource,
                    shape,
                    n,
                    deltas,
                    shape_var[shape],
                    log_share[shape] + math.log(every[shape]),
                )


@compiled
def _thin(
    state: ChannelState, resource: int, ramp: IntArray, every: IntArray, log_share: FloatArray
) -> None:
    """Age this resource's hypotheses by one own job: drop the spare, weigh and slope the rest."""
    h = state.counts[HYPOTHESES]
    mine = np.flatnonzero(state.who[:h] == resource)
    own = state.own[resource]
    onset = state.onset[mine]
    shape = state.shape[mine]
    spacing = stand_for(own - onset, every[shape])
    state.weight[mine] = log_share[shape] + np.log(spacing)
    state.since[mine] = np.where(ramp[shape] == 1, own - onset + 1.0, 1.0)
    spare = mine[~are_kept(onset, own, spacing)]
    for at in spare[::-1]:
        _drop(state, at)


@compiled
def _try(
    state: ChannelState,
    resource: int,
    shape: int,
    n: int,
    deltas: int,
    var: float,
    weight: float,
) -> None:
    at = state.counts[HYPOTHESES]
    state.counts[HYPOTHESES] += 1
    state.who[at] = resource
    state.onset[at] = state.own[resource]
    state.onset_job[at] = state.counts[JOBS] - 1
    state.shape[at] = shape
    state.mean[:, at] = 0.0
    state.cov[0, at] = var
    state.cov[1, at] = 0.0
    state.cov[2, at] = var
    state.evidence[at] = 0.0
    state.weight[at] = weight
    state.since[at] = 1.0
    for b in range(deltas):
        state.response[b, :n, at] = 0.0


@compiled
def _drop(state: ChannelState, at: int) -> None:
    """The last hypothesis takes the dropped one's place."""
    last = state.counts[HYPOTHESES] - 1
    state.who[at] = state.who[last]
    state.onset[at] = state.onset[last]
    state.onset_job[at] = state.onset_job[last]
    state.shape[at] = state.shape[last]
    state.mean[:, at] = state.mean[:, last]
    state.cov[:, at] = state.cov[:, last]
    state.evidence[at] = state.evidence[last]
    state.weight[at] = state.weight[last]
    state.since[at] = state.since[last]
    state.response[:, :, at] = state.response[:, :, last]
    state.counts[HYPOTHESES] = last


@compiled
def _noise(state: ChannelState, group: int) -> float:
    """How many times the usual variance this group's readings have."""
    return (NOISE_WORTH + state.scale_sum[group]) / (NOISE_WORTH + state.scale_weight[group])


@compiled
def _shares(state: ChannelState, group: int) -> FloatArray:
    counted = state.shape_weight[group] + SHARES_WORTH * USUAL_SHARES
    return counted / counted.sum()


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
    noise = var * _noise(state, group)
    shares = _shares(state, group)
    expected = 0.0
    ph = np.zeros(n)
    for j in range(rows.size):
        if terms[j] != 0.0:
            expected += terms[j] * state.x[rows[j]]
            ph += terms[j] * state.p[rows[j], :n]
    own_var = 0.0
    for j in range(rows.size):
        if terms[j] != 0.0:
            own_var += terms[j] * ph[rows[j]]
    spread = own_var + noise * SCALES**2
    usual = math.sqrt(spread[0])
    off = (y - expected) / usual
    nu = usual * min(max(off, -FURTHEST), FURTHEST)

    log_each = np.log(shares) - 0.5 * np.log(spread) - 0.5 * nu * nu / spread
    top = log_each.max()
    each = np.exp(log_each - top)
    log_none = top + math.log(each.sum())
    blame = each / each.sum()
    gain_scale = (blame / spread).sum()

    gain = ph * gain_scale
    if seen_before:
        gain[:deltas] = 0.0
        gain[2 * deltas :] = 0.0
        kept = np.outer(gain, ph)
        state.p[:n, :n] -= kept + kept.T - np.outer(gain, gain) / gain_scale
    else:
        state.p[:n, :n] -= np.outer(gain, ph)
    state.x[:n] += gain * nu

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
        add_outer(state.response[0, :n, :h], gain, g0)
        if deltas == 2:
            add_outer(state.response[1, :n, :h], gain, g1)

    if not seen_before:
        fade = 1.0 - 1.0 / NOISE_MEMORY
        state.scale_sum[group] = fade * state.scale_sum[group] + (noise / var) * (
            (blame * nu * nu / spread).sum()
        )
        state.scale_weight[group] = fade * state.scale_weight[group] + 1.0
        state.shape_weight[group] = fade * state.shape_weight[group] + blame
    return off


@compiled
def evidence_of_each(state: ChannelState, log_prior: FloatArray) -> FloatArray:
    """Log of each resource's weighted evidence, shape (resources,); -inf where none is held."""
    r = state.counts[RESOURCES]
    h = state.counts[HYPOTHESES]
    found = np.full(r, -np.inf)
    if h == 0:
        return found
    each = state.evidence[:h] + state.weight[:h]
    top = each.max()
    summed = np.bincount(state.who[:h], np.exp(each - top), r)
    for one in range(r):
        if summed[one] > 0.0:
            found[one] = math.log(summed[one]) + top + log_prior[state.kind[one]]
    return found
