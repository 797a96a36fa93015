"""A story granted: what a channel knows given that one of its hypotheses is so, as weighed."""

from __future__ import annotations

import numpy as np

from qc.numerics.drift.channel_settings import SettingArrays
from qc.numerics.drift.state import HYPOTHESES, STATES, ChannelState


def grant(state: ChannelState, arrays: SettingArrays, *, place: int | None = None) -> None:
    """Take it, in place, that one resource moved, each hypothesis as likely as it is given that.

    place: the resource that moved; any of them where it is None. The mixture of what the filter's
    state would be under each is replaced by the normal of the same mean and covariance, and all
    hypotheses end: what they were weighed on is spent. Where none says so, that is all it does.
    """
    n, h = int(state.counts[STATES]), int(state.counts[HYPOTHESES])
    who = state.who[:h]
    mine = np.arange(h) if place is None else np.flatnonzero(who == place)
    if mine.size:
        log_weight = (
            state.evidence[mine] + state.weight[mine] + arrays.log_prior[state.kind[who[mine]]]
        )
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        # What a move of size 1 along each axis adds to every bias that the filter has not followed.
        adds = -state.response[: arrays.deltas, :n, mine]
        for axis in range(arrays.deltas):
            adds[axis, arrays.first + arrays.deltas * who[mine] + axis, np.arange(mine.size)] += (
                state.since[mine]
            )
        off = np.einsum("dnh,dh->nh", adds, state.mean[: arrays.deltas, mine])
        mean = off @ weight
        cov = (off - mean[:, None]) * weight @ (off - mean[:, None]).T
        for at, (a, b) in enumerate(((0, 0), (0, 1), (1, 1))):
            if b < arrays.deltas:
                part = (adds[a] * (weight * state.cov[at, mine])) @ adds[b].T
                cov += part if a == b else part + part.T
        for x, p in ((state.x, state.p), (state.rival_x, state.rival_p)):
            x[:n] += mean
            p[:n, :n] += cov
    state.counts[HYPOTHESES] = 0
