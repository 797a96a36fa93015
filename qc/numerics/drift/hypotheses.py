"""The bank's hypotheses: tried at own jobs, thinned as they age, dropped when looked into."""

from __future__ import annotations

import math

import numpy as np

from qc.numerics.drift.channel_settings import SettingArrays
from qc.numerics.drift.jit import IS_COMPILED, compiled
from qc.numerics.drift.onsets import are_kept, is_tried, stand_for
from qc.numerics.drift.state import (
    HYPOTHESES,
    JOBS,
    MOST_HYPOTHESES,
    RESOURCES,
    STATES,
    ChannelState,
)
from qc.numerics.results import FloatArray


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
def age(state: ChannelState, resource: int, arrays: SettingArrays) -> None:
    """One more own job: thin the old hypotheses and try those that begin at this job."""
    _thin(state, resource, arrays)
    for shape in range(arrays.every.size):
        if is_tried(state.own[resource], arrays.every[shape]):
            _try(state, resource, shape, arrays)


@compiled
def _try(state: ChannelState, resource: int, shape: int, arrays: SettingArrays) -> None:
    n = state.counts[STATES]
    at = state.counts[HYPOTHESES]
    state.counts[HYPOTHESES] += 1
    state.who[at] = resource
    state.onset[at] = state.own[resource]
    state.onset_job[at] = state.counts[JOBS] - 1
    state.shape[at] = shape
    state.mean[:, at] = 0.0
    state.cov[0, at] = arrays.shape_var[shape]
    state.cov[1, at] = 0.0
    state.cov[2, at] = arrays.shape_var[shape]
    state.evidence[at] = 0.0
    state.weight[at] = arrays.log_share[shape] + math.log(arrays.every[shape])
    state.since[at] = 1.0
    for b in range(arrays.deltas):
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


def _thin_in_arrays(state: ChannelState, resource: int, arrays: SettingArrays) -> None:
    h = state.counts[HYPOTHESES]
    mine = np.flatnonzero(state.who[:h] == resource)
    own = state.own[resource]
    onset = state.onset[mine]
    shape = state.shape[mine]
    spacing = stand_for(own - onset, arrays.every[shape])
    state.weight[mine] = arrays.log_share[shape] + np.log(spacing)
    state.since[mine] = np.where(arrays.ramp[shape] == 1, own - onset + 1.0, 1.0)
    spare = mine[~are_kept(onset, own, spacing, arrays.oldest[shape])]
    for at in spare[::-1]:
        _drop(state, at)


def _thin_in_loops(state: ChannelState, resource: int, arrays: SettingArrays) -> None:
    own = state.own[resource]
    for at in range(state.counts[HYPOTHESES] - 1, -1, -1):
        if state.who[at] != resource:
            continue
        onset, shape = state.onset[at], state.shape[at]
        spacing = stand_for(own - onset, arrays.every[shape])
        if are_kept(onset, own, spacing, arrays.oldest[shape]):
            state.weight[at] = arrays.log_share[shape] + math.log(spacing)
            state.since[at] = own - onset + 1.0 if arrays.ramp[shape] == 1 else 1.0
        else:
            _drop(state, at)


# Ages one resource's hypotheses by one own job: drops the spare, weighs and slopes the rest.
# Written twice as the sums in weighing are, and for the same reason.
_thin = compiled(_thin_in_loops) if IS_COMPILED else _thin_in_arrays


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


@compiled
def may_reach(state: ChannelState, log_prior: FloatArray, threshold: float) -> bool:
    """Whether any resource's evidence can be above this: False spares summing it up."""
    h = state.counts[HYPOTHESES]
    if h == 0:
        return False
    top = (state.evidence[:h] + state.weight[:h]).max()
    return top + math.log(MOST_HYPOTHESES) + log_prior.max() > threshold
