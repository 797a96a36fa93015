"""What a channel believes of one resource's bias now, whether or not it moved."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.forecast import place_of, seen_from
from qc.numerics.drift.miss import mixture
from qc.numerics.drift.readings import ACHIEVED, MOST_INVOLVED, MOST_TERMS, Readings

# A bias under so many standard uncertainties is not told from none.
TOLD_FROM = 2.0
# A length over two axes passes this as rarely as a number passes 2: 4.55 % with no bias there
# (chi-square on two degrees of freedom).
TOLD_FROM_BOTH_WAYS = math.sqrt(-2 * math.log(math.erfc(TOLD_FROM / math.sqrt(2))))


@dataclass(frozen=True)
class Belief:
    """size: mm side to side on the tilt channel, mm signed on the height channel (positive: gaps
    wider than predicted), log variance on the spread channel, from what is usual in the shop.
    u: its standard uncertainty, per axis. direction_deg: on tilt, where the gap comes out wider.
    level: where its jobs are expected, with what all of the shop's share; one value an axis.
    """

    size: float
    u: float
    direction_deg: float | None
    level: tuple[float, ...]

    @property
    def is_told(self) -> bool:
        enough = TOLD_FROM if self.direction_deg is None else TOLD_FROM_BOTH_WAYS
        return abs(self.size) >= enough * self.u


def believed(channel: ChannelWatch, *, kind: str, resource: int) -> Belief:
    """The mean and spread of the bias over "nothing has moved" and every hypothesis.

    Raises BadInput where the channel does not know it.
    """
    deltas = channel.arrays.deltas
    row = channel.arrays.first + deltas * place_of(channel, kind, resource)
    weight, mean, cov = mixture(seen_from(channel, _states(row, deltas)), 0)
    middle = weight @ mean
    off = mean - middle
    spread = np.einsum("h,hmm->m", weight, cov) + weight @ off**2
    both_ways = deltas == 2
    return Belief(
        size=math.hypot(*middle) if both_ways else float(middle[0]),
        u=math.sqrt(float(spread.mean())),
        direction_deg=math.degrees(math.atan2(middle[1], middle[0])) % 360 if both_ways else None,
        level=tuple((middle + channel.state.x[:deltas]).tolist()),
    )


def _states(row: int, deltas: int) -> Readings:
    """One job whose readings would be these states themselves."""
    rows = np.zeros((deltas, MOST_TERMS), dtype=np.int64)
    terms = np.zeros((deltas, MOST_TERMS))
    rows[:, 0], terms[:, 0] = row + np.arange(deltas), 1.0
    return Readings(
        involved=np.full((1, MOST_INVOLVED), -1, dtype=np.int64),
        start=np.array([0, deltas]),
        y=np.zeros(deltas),
        var=np.zeros(deltas),
        group=np.full(deltas, ACHIEVED, dtype=np.int64),
        rows=rows,
        terms=terms,
        seen_before=np.zeros(deltas, dtype=np.int64),
    )
