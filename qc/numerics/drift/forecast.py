"""What the next job's readings would be, under "nothing has moved" and under every hypothesis.

Under a hypothesis a reading is normal about the filter's mean plus what the moved resource adds to
it, less what the filter has already made of the move. Its own error, a mixture of three normals,
is kept apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift.bank import begin_job, walk_of
from qc.numerics.drift.channel_settings import SettingArrays
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.filtering import error_shares, noise_scale
from qc.numerics.drift.jobs import Jobs
from qc.numerics.drift.readings import Readings
from qc.numerics.drift.state import HYPOTHESES, STATES, ChannelState, copied, with_room
from qc.numerics.drift.watch import COLUMNS, MAKERS
from qc.numerics.results import FloatArray, IntArray

# How often a resource moves, an own job; a kind's log prior counts on top of it. Common practice
# has no figure: about one move a shop-year and a half, an assumption.
HAZARD = 1 / 300
# Hypotheses that together weigh less are taken for "nothing has moved".
LEAST_WEIGHT = 1e-3


@dataclass(frozen=True, eq=False)
class Outlook:
    """A channel just before its next job. design (m, n): each possible reading's terms of the
    states; start (k + 1,) splits the m readings among k possible jobs.

    mean (m,), cov (m, m): of what is read, without its own error, if nothing has moved.
    noise_var (m,): that error's usual variance; shares (m, 3): how often it is of each size.
    who (h,): place of each hypothesis's resource. weight (h,): its probability; the rest of 1 is
    "nothing has moved". effect (h, m, deltas): what a unit move adds to each reading. move (h,
    deltas), move_cov (h, deltas, deltas): the move's size.
    """

    start: IntArray
    y: FloatArray
    mean: FloatArray
    cov: FloatArray
    noise_var: FloatArray
    shares: FloatArray
    who: IntArray
    weight: FloatArray
    effect: FloatArray
    move: FloatArray
    move_cov: FloatArray

    def readings_of(self, job: int) -> slice:
        return slice(int(self.start[job]), int(self.start[job + 1]))


def copy_of(channel: ChannelWatch) -> ChannelWatch:
    """The channel to try things on, without its open flags, with room for one more job of every
    resource."""
    state = with_room(
        copied(channel.state), deltas=channel.settings.deltas, resources=len(channel.keys)
    )
    return ChannelWatch(channel.settings, state, list(channel.keys))


def place_of(channel: ChannelWatch, kind: str, resource: int) -> int:
    """Raises BadInput where this channel has no job of it yet."""
    try:
        return channel.keys.index((kind, resource))
    except ValueError:
        raise BadInput(
            why=f"The {channel.settings.name} channel has no job of {kind} {resource} yet."
        ) from None


def resources_in(jobs: Jobs, *, channel: ChannelWatch) -> list[tuple[str, int]]:
    """The channel's resources that the jobs name, each once."""
    return [
        (kind, int(one))
        for column, kind in COLUMNS[channel.settings.name].items()
        for one in dict.fromkeys(getattr(jobs, column).tolist())
        if one >= 0
    ]


def readings_for(channel: ChannelWatch, jobs: Jobs) -> Readings:
    """The jobs as the channel's filter takes them; their resources must have been met."""
    columns = COLUMNS[channel.settings.name]
    place = {
        column: channel.places(kind, getattr(jobs, column)) for column, kind in columns.items()
    }
    return MAKERS[channel.settings.name](
        jobs, place=place, settings=channel.settings, left_out=np.zeros(len(jobs), dtype=bool)
    )


def begin(channel: ChannelWatch, involved: IntArray) -> None:
    """The channel counts its next job, in place: a new engine, and new chances to have moved."""
    begin_job(channel.state, involved, channel.arrays)


def design_of(readings: Readings, states: int) -> FloatArray:
    """Each reading's terms of all states, shape (m, states)."""
    found = np.zeros((readings.y.size, states))
    np.add.at(found, (np.arange(readings.y.size)[:, None], readings.rows), readings.terms)
    return found


def outlook(
    channel: ChannelWatch,
    possible: Jobs,
    *,
    ahead: int = 1,
    hazard: float = HAZARD,
    least_weight: float = LEAST_WEIGHT,
) -> Outlook:
    """What the next job would read, for each of the possible jobs, all with the same resources.

    possible: rows with some value (0 will do) where a reading is to be taken, NaN elsewhere.
    ahead: how many own jobs ahead it lies, 1 being the very next. least_weight: hypotheses that
    together weigh no more are left out.

    Raises BadInput for ahead below 1, a hazard outside (0, 1), or no row.
    """
    if not len(possible) or ahead < 1 or not 0 < hazard < 1:
        raise BadInput(why="Give at least one possible job, ahead >= 1 and a hazard within (0, 1).")
    ready = copy_of(channel)
    ready.meet(resources_in(possible, channel=channel))
    readings = readings_for(ready, possible)
    begin(ready, readings.involved[0])
    _wear_on(ready, readings.involved[0], jobs=ahead - 1)
    return seen_from(ready, readings, hazard=hazard, least_weight=least_weight)


def _wear_on(ready: ChannelWatch, involved: IntArray, *, jobs: int) -> None:
    """So many own jobs more, in which ramps go on and biases walk; onsets stay as they are."""
    state, arrays = ready.state, ready.arrays
    h = int(state.counts[HYPOTHESES])
    for place in involved[involved >= 0]:
        worn = (state.who[:h] == place) & (arrays.ramp[state.shape[:h]] == 1)
        state.since[:h] += np.where(worn, jobs, 0)
        rows = arrays.first + arrays.deltas * place + np.arange(arrays.deltas)
        state.p[rows, rows] += jobs * walk_of(state, int(place), arrays.walk_var)


def seen_from(
    ready: ChannelWatch,
    readings: Readings,
    *,
    hazard: float = HAZARD,
    least_weight: float = LEAST_WEIGHT,
) -> Outlook:
    """The outlook of a channel that has begun its job, see `begin`."""
    state, arrays = ready.state, ready.arrays
    n = int(state.counts[STATES])
    design = design_of(readings, n)
    weight = hypothesis_weights(state, arrays, hazard=hazard)
    kept = _worth_keeping(weight, least_weight)
    noise = np.array([noise_scale(state, group) for group in (0, 1)])
    shares = np.stack([error_shares(state, group) for group in (0, 1)])
    cov = np.empty((kept.size, arrays.deltas, arrays.deltas))
    for at, (a, b) in enumerate(((0, 0), (0, 1), (1, 1))):
        if max(a, b) < arrays.deltas:
            cov[:, a, b] = cov[:, b, a] = state.cov[at, kept]
    return Outlook(
        start=readings.start,
        y=readings.y,
        mean=design @ state.x[:n],
        cov=design @ state.p[:n, :n] @ design.T,
        noise_var=readings.var * noise[readings.group],
        shares=shares[readings.group],
        who=state.who[kept].copy(),
        weight=weight[kept],
        effect=_effects(state, arrays, design, kept),
        move=state.mean[: arrays.deltas, kept].T.copy(),
        move_cov=cov,
    )


def hypothesis_weights(
    state: ChannelState, arrays: SettingArrays, *, hazard: float = HAZARD
) -> FloatArray:
    """Probability of each hypothesis, shape (h,); what is missing to 1 is "nothing has moved".

    Each is one move at one own job against none: its prior odds are hazard / (1 - hazard).
    """
    h = int(state.counts[HYPOTHESES])
    log_odds = (
        np.log(hazard / (1 - hazard))
        + arrays.log_prior[state.kind[state.who[:h]]]
        + state.weight[:h]
        + state.evidence[:h]
    )
    top = max(0.0, float(log_odds.max(initial=0.0)))
    each = np.exp(log_odds - top)
    return each / (np.exp(-top) + each.sum())


def _worth_keeping(weight: FloatArray, least_weight: float) -> IntArray:
    order = np.argsort(weight, kind="stable")
    kept: IntArray = np.sort(order[np.cumsum(weight[order]) > least_weight])
    return kept


def _effects(
    state: ChannelState, arrays: SettingArrays, design: FloatArray, kept: IntArray
) -> FloatArray:
    n, who = design.shape[1], state.who[kept]
    found = np.empty((kept.size, design.shape[0], arrays.deltas))
    for axis in range(arrays.deltas):
        direct = design[:, arrays.first + arrays.deltas * who + axis] * state.since[kept]
        found[:, :, axis] = (direct - design @ state.response[axis, :n, kept].T).T
    return found
