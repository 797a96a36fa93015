"""Whether one resource is told to wear: how surely, and by how much a job."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.numerics.drift.believed import TOLD_FROM, TOLD_FROM_BOTH_WAYS
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.forecast import hypothesis_weights, place_of
from qc.numerics.drift.state import HYPOTHESES

# Likelier than all else together, a knock and no change among it.
LIKELY = 0.5


@dataclass(frozen=True)
class Wear:
    """Beyond what is usual for an edge. probability: that it wears, rather than was knocked, stands
    as it did, or another moved. a_job: by how much, if it does, mm signed on the height channel, mm
    side to side >= 0 on tilt. u: its standard uncertainty, per axis. told_from: so many of them."""

    probability: float
    a_job: float
    u: float
    told_from: float

    @property
    def is_told(self) -> bool:
        return self.probability > LIKELY and abs(self.a_job) >= self.told_from * self.u


def wear_of(channel: ChannelWatch, *, kind: str, resource: int) -> Wear:
    """Over every time at which it may have begun to wear.

    Raises BadInput where the channel does not know it.
    """
    state, arrays = channel.state, channel.arrays
    h, place = int(state.counts[HYPOTHESES]), place_of(channel, kind, resource)
    is_ramp = arrays.ramp[state.shape[:h]] == 1
    held = np.flatnonzero(is_ramp & (state.who[:h] == place))
    weight = hypothesis_weights(state, arrays)[held]
    both_ways = arrays.deltas == 2
    told_from = TOLD_FROM_BOTH_WAYS if both_ways else TOLD_FROM
    chance = float(weight.sum())
    if not chance > 0:
        return Wear(0.0, 0.0, 0.0, told_from)
    share = weight / chance
    slopes = state.mean[: arrays.deltas, held]
    mean = slopes @ share
    own = state.cov[[0, 2] if both_ways else [0]][:, held]
    var = float(((own + (slopes - mean[:, None]) ** 2) @ share).mean())
    a_job = math.hypot(*mean) if both_ways else float(mean[0])
    return Wear(chance, a_job, math.sqrt(var), told_from)
