"""Everything one channel knows: resource biases, and a bank of "it moved at job t" hypotheses.

A resource has `deltas` states (2 for tilt, 1 otherwise). States are laid out in blocks of that
size: block 0 is common to the shop, block 1 belongs to the engine in hand and is forgotten with
every job (tilt only), and each resource gets the next block when it is first seen.

Arrays are kept with room to grow; `counts` says how much of them is in use.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from qc.numerics.drift.channel_settings import SCALES, ChannelSettings
from qc.numerics.results import FloatArray, IntArray

# What `counts` holds, by place.
STATES, RESOURCES, HYPOTHESES, JOBS = range(4)

# No resource ever holds more hypotheses than this: see onsets.
MOST_HYPOTHESES = 64


class ChannelState(NamedTuple):
    """counts: shape (4,), see the names above. Then, with n states, r resources, h hypotheses:

    x (n,), p (n, n): the joint filter's mean and covariance. rival_x, rival_p: those of the filter
        that believes in longer walks. walk_evidence (1,): what speaks for it, log likelihood.
    own (r,): jobs of each resource since its last service. kind (r,): its kind's place in the
        settings. prior_var (r,): its bias's variance after a service. rival_walk (r,): how many
        times further, in variance, the rival filter lets it walk.
    scale_sum, scale_weight (2,): what has been learned of the noise of each reading group.
    shape_weight (2, 3): the same of its tails.
    who, onset, onset_job, shape (h,): which resource, at which of its own jobs, at which job of
        the channel, and which shape of change.
    mean (2, h), cov (3, h): of the size of the change; cov is (00, 01, 11).
    evidence (h,): log likelihood ratio of this change against no change.
    weight (h,): log of how many onsets this hypothesis stands for, and of its shape's share.
    since (h,): how many own jobs a ramp has grown for; 1 for a step.
    response (2, n, h): what the filter has made of a unit change so far.
    """

    counts: IntArray
    x: FloatArray
    p: FloatArray
    rival_x: FloatArray
    rival_p: FloatArray
    walk_evidence: FloatArray
    own: IntArray
    kind: IntArray
    prior_var: FloatArray
    rival_walk: FloatArray
    scale_sum: FloatArray
    scale_weight: FloatArray
    shape_weight: FloatArray
    who: IntArray
    onset: IntArray
    onset_job: IntArray
    shape: IntArray
    mean: FloatArray
    cov: FloatArray
    evidence: FloatArray
    weight: FloatArray
    since: FloatArray
    response: FloatArray


def fresh_state(settings: ChannelSettings) -> ChannelState:
    """Before the first job."""
    d, fixed = settings.deltas, settings.fixed_blocks
    n = d * fixed
    state = _empty(d, states=n, resources=0, hypotheses=0)
    state.counts[STATES] = n
    for p in (state.p, state.rival_p):
        p[np.arange(d), np.arange(d)] = settings.common_sd**2
    return state


def with_room(state: ChannelState, *, deltas: int, resources: int) -> ChannelState:
    """The same state with room for at least so many resources in all, and all their hypotheses."""
    if resources <= state.own.size and state.who.size >= MOST_HYPOTHESES * state.own.size:
        return state
    fixed = int(state.counts[STATES]) - deltas * int(state.counts[RESOURCES])
    grown = _empty(
        deltas,
        states=fixed + deltas * resources,
        resources=resources,
        hypotheses=MOST_HYPOTHESES * resources,
    )
    used = trimmed(state)
    for old, new in zip(used, grown, strict=True):
        new[tuple(slice(0, size) for size in old.shape)] = old
    return grown


def copied(state: ChannelState) -> ChannelState:
    """The same state with arrays of its own."""
    return ChannelState(**{name: array.copy() for name, array in state._asdict().items()})


def trimmed(state: ChannelState) -> ChannelState:
    """The same state without its spare room, as it is stored."""
    n, r, h, _ = (int(count) for count in state.counts)
    return ChannelState(
        counts=state.counts.copy(),
        x=state.x[:n].copy(),
        p=state.p[:n, :n].copy(),
        rival_x=state.rival_x[:n].copy(),
        rival_p=state.rival_p[:n, :n].copy(),
        walk_evidence=state.walk_evidence.copy(),
        own=state.own[:r].copy(),
        kind=state.kind[:r].copy(),
        prior_var=state.prior_var[:r].copy(),
        rival_walk=state.rival_walk[:r].copy(),
        scale_sum=state.scale_sum.copy(),
        scale_weight=state.scale_weight.copy(),
        shape_weight=state.shape_weight.copy(),
        who=state.who[:h].copy(),
        onset=state.onset[:h].copy(),
        onset_job=state.onset_job[:h].copy(),
        shape=state.shape[:h].copy(),
        mean=state.mean[:, :h].copy(),
        cov=state.cov[:, :h].copy(),
        evidence=state.evidence[:h].copy(),
        weight=state.weight[:h].copy(),
        since=state.since[:h].copy(),
        response=state.response[:, :n, :h].copy(),
    )


def _empty(deltas: int, *, states: int, resources: int, hypotheses: int) -> ChannelState:
    def whole(*shape: int) -> IntArray:
        return np.zeros(shape, dtype=np.int64)

    return ChannelState(
        counts=whole(4),
        x=np.zeros(states),
        p=np.zeros((states, states)),
        rival_x=np.zeros(states),
        rival_p=np.zeros((states, states)),
        walk_evidence=np.zeros(1),
        own=whole(resources),
        kind=whole(resources),
        prior_var=np.zeros(resources),
        rival_walk=np.zeros(resources),
        scale_sum=np.zeros(2),
        scale_weight=np.zeros(2),
        shape_weight=np.zeros((2, SCALES.size)),
        who=whole(hypotheses),
        onset=whole(hypotheses),
        onset_job=whole(hypotheses),
        shape=whole(hypotheses),
        mean=np.zeros((2, hypotheses)),
        cov=np.zeros((3, hypotheses)),
        evidence=np.zeros(hypotheses),
        weight=np.zeros(hypotheses),
        since=np.zeros(hypotheses),
        response=np.zeros((deltas, states, hypotheses)),
    )


def as_plain(state: ChannelState) -> dict[str, Any]:
    """The stored form: one array a name, without spare room."""
    return dict(trimmed(state)._asdict())
