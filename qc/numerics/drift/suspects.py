"""Who moved: what a channel believes of each resource, when it moved, how far and which way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.numerics.drift.channel_settings import SettingArrays
from qc.numerics.drift.hypotheses import evidence_of_each
from qc.numerics.drift.state import HYPOTHESES, JOBS, ChannelState
from qc.numerics.results import FloatArray

# One name only when it is at least this likely; else the set, see ChannelSettings.
NAMED_AT = 0.8
# One less likely than this may be in a set, but is not taken for the one in what is done next.
COULD_WELL_BE = 0.1
# Nor is one named whom only what is usual speaks for: it must be this likely were each kind as
# likely beforehand. By simulation that keeps two whom no job tells apart from being named by what
# is usual, and delays no other name.
NAMED_BY_JOBS_AT = 0.6
ONSET_HOLDS = 0.9


Key = tuple[str, int]


def as_before(key: Key) -> Key:
    """The name of what a resource was before it was put right while a flag suspected it."""
    kind, resource = key
    return kind, -2 - resource


def called(key: Key) -> Key:
    """The resource that a place is of: itself, or what it was."""
    return key if key[1] >= 0 else as_before(key)


@dataclass(frozen=True)
class Suspect:
    """probability: of having been the one, given that one of the channel's resources moved.
    by_jobs: the same, were each kind as likely beforehand: what the jobs alone say."""

    kind: str
    resource: int
    probability: float
    by_jobs: float = 1.0

    @property
    def is_named(self) -> bool:
        """Whether this is likely enough to be named alone."""
        return is_named(self.probability, self.by_jobs)


def is_named(probability: float, by_jobs: float) -> bool:
    return probability >= NAMED_AT and by_jobs >= NAMED_BY_JOBS_AT


@dataclass(frozen=True)
class Move:
    """How one resource is believed to have moved.

    size: by now; mm side to side on the tilt channel, mm signed on the height channel, change of
    log variance on the spread channel. size_u: its standard uncertainty. direction_deg: on the
    fixture's clock for a fixture, on the engine's for hands, where the gap came out wider; None but
    on tilt. onset_job: the likeliest of those kept, between earliest_job and latest_job with
    90 % belief, which reach as far as a kept onset stands for others; all count the channel's jobs
    from 0. ramp_probability: that it wears rather than was knocked.
    """

    size: float
    size_u: float
    direction_deg: float | None
    onset_job: int
    earliest_job: int
    latest_job: int
    ramp_probability: float


def probabilities(
    state: ChannelState, arrays: SettingArrays, *, by_jobs: bool = False
) -> FloatArray:
    """Of each resource, by place, being the one that moved, given that one did; by_jobs: were each
    kind as likely beforehand."""
    prior = np.zeros_like(arrays.log_prior) if by_jobs else arrays.log_prior
    each = evidence_of_each(state, prior)
    if not each.size or not np.isfinite(each).any():
        return np.zeros(each.size)
    weight = np.exp(each - each.max())
    found: FloatArray = weight / weight.sum()
    return found


def smallest_set(probability: FloatArray, *, holds: float) -> list[int]:
    """The fewest places, likeliest first, that hold the truth with this probability."""
    order = np.argsort(-probability, kind="stable")
    needed = int(np.searchsorted(np.cumsum(probability[order]), holds - 1e-12)) + 1
    return [int(place) for place in order[: min(needed, order.size)]]


def suspected(state: ChannelState, arrays: SettingArrays) -> list[int]:
    """Places of the smallest set that holds what moved, likeliest first; none where nothing is held
    against anything."""
    chances = probabilities(state, arrays)
    if not chances.any():
        return []
    weighed = probabilities(state, arrays, by_jobs=True) if arrays.set_by_jobs else chances
    places = smallest_set(weighed, holds=arrays.set_holds)
    return sorted(places, key=lambda place: -chances[place])


def suspects_of(
    state: ChannelState, arrays: SettingArrays, keys: Sequence[Key]
) -> tuple[Suspect, ...]:
    """The suspect set, likeliest first. keys: what is at which place. What a resource is and what
    it was are one suspect."""
    chances = probabilities(state, arrays)
    by_jobs = probabilities(state, arrays, by_jobs=True)
    told: dict[Key, list[int]] = {}
    for place in suspected(state, arrays):
        told.setdefault(called(keys[place]), []).append(place)
    found = [
        Suspect(*key, probability=float(chances[at].sum()), by_jobs=float(by_jobs[at].sum()))
        for key, at in told.items()
    ]
    return tuple(sorted(found, key=lambda one: -one.probability))


def move_of(state: ChannelState, place: int, arrays: SettingArrays) -> Move:
    """How the resource at this place moved, if it did: averaged over when and how."""
    h = int(state.counts[HYPOTHESES])
    mine = np.flatnonzero(state.who[:h] == place)
    log_weight = state.evidence[mine] + state.weight[mine]
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    is_ramp = arrays.ramp[state.shape[mine]] == 1
    since = state.since[mine]
    now = state.mean[:, mine] * since
    mean = now @ weight
    along = np.stack([state.cov[0, mine], state.cov[2, mine]]).mean(axis=0) * since**2
    apart = ((now - mean[:, None]) ** 2).sum(axis=0) / arrays.deltas
    if arrays.deltas == 1:
        along = state.cov[0, mine] * since**2
    jobs = state.onset_job[mine]
    order = np.argsort(jobs, kind="stable")
    reached = np.cumsum(weight[order])
    tail = (1 - ONSET_HOLDS) / 2
    earliest = mine[order[np.searchsorted(reached, tail)]]
    latest = mine[order[min(int(np.searchsorted(reached, 1 - tail)), order.size - 1)]]
    both_ways = arrays.deltas == 2
    return Move(
        size=math.hypot(*mean) if both_ways else float(mean[0]),
        size_u=math.sqrt(float(weight @ (along + apart))),
        direction_deg=math.degrees(math.atan2(mean[1], mean[0])) % 360 if both_ways else None,
        onset_job=int(jobs[np.argmax(weight)]),
        earliest_job=_stands_for(state, int(earliest))[0],
        latest_job=_stands_for(state, int(latest))[1],
        ramp_probability=float(weight[is_ramp].sum()),
    )


def _stands_for(state: ChannelState, at: int) -> tuple[int, int]:
    """The first and the last job that this hypothesis may stand for: after the onset kept before
    it, and before the one kept after it. Jobs with other resources among them count too."""
    h = int(state.counts[HYPOTHESES])
    alike = (state.who[:h] == state.who[at]) & (state.shape[:h] == state.shape[at])
    own, job = state.onset[:h][alike], state.onset_job[:h][alike]
    here, first = int(state.onset[at]), int(state.onset_job[at])
    last = first
    before, after = own < here, own > here
    if before.any() and own[before].max() < here - 1:
        first = int(job[before].max()) + 1
    if after.any():
        last = int(job[after].min()) - 1 if own[after].min() > here + 1 else last
    elif state.own[state.who[at]] > here:
        last = int(state.counts[JOBS]) - 1
    return first, last
