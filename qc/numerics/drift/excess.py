"""How much likelier a resource's next jobs are to miss than if it had just been set right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift.bank import start_afresh
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.forecast import copy_of, hypothesis_weights, place_of
from qc.numerics.drift.hypotheses import forget_hypotheses
from qc.numerics.drift.miss import (
    EVENNESS_LIMIT_MM,
    QUARTERS,
    NextJob,
    evenness_miss,
    height_miss,
)
from qc.numerics.drift.state import HYPOTHESES, STATES, ChannelState
from qc.numerics.results import FloatArray, IntArray

# The excess is worked out at so many counts of jobs ahead, and read off between them.
_KNOTS = 12
# The state that all heights share.
COMMON = 0


@dataclass(frozen=True, eq=False)
class Excess:
    """P(miss) of each of the resource's next jobs, above what it would be just set right.

    by_job (n,): of the next job first. now, after: P(miss) of the next job as it stands, and had
    the resource just been serviced. Below 0 where a service would leave it less well known.
    """

    by_job: FloatArray
    now: float
    after: float


def excess_ahead(
    tilt: ChannelWatch,
    job: NextJob,
    *,
    jobs: int,
    clocking_deg: tuple[float, ...] = QUARTERS,
    limit_mm: float = EVENNESS_LIMIT_MM,
) -> Excess:
    """For the fixture's next `jobs` jobs, wear going on as it is believed to.

    clocking_deg: those the shop uses, each as often as it does: a service is judged by its average
    job, not by how the next one happens to be clocked.

    Raises BadInput for jobs < 1, a job with no fixture, or one the channel does not know.
    """
    if jobs < 1 or job.fixture is None:
        raise BadInput(why="Name the fixture, and plan at least one job.")

    def miss(channel: ChannelWatch, ahead: int = 1) -> float:
        return evenness_miss(
            channel, job, clocking_deg=clocking_deg, limit_mm=limit_mm, ahead=ahead
        )

    after = sum(chance * miss(one) for chance, one in put_right(tilt, "fixture", job.fixture))
    return _above(lambda ahead: miss(tilt, ahead), lambda ahead: after, jobs=jobs)


def height_excess_ahead(
    height: ChannelWatch,
    job: NextJob,
    *,
    of: Literal["edge", "lathe", "gauge"],
    jobs: int,
    lower_mm: float,
    upper_mm: float,
) -> Excess:
    """For the next `jobs` jobs like this one.

    of: what would be set right: an edge changed, a lathe looked over, a gauge (gauge_achieved)
    calibrated. lower_mm, upper_mm: the tolerance about the predicted height. What all the shop's
    jobs share is taken as allowed for: a worn edge is not kept because it makes up for it.

    Raises BadInput for jobs < 1, a job without it, or one the channel does not know.
    """
    key = job.gauge_achieved if of == "gauge" else getattr(job, of)
    if jobs < 1 or key is None:
        raise BadInput(why=f"Name the {of}, and plan at least one job.")

    shift = -float(height.state.x[COMMON])

    def miss(channel: ChannelWatch, job: NextJob, ahead: int) -> float:
        return height_miss(
            channel, job, lower_mm=lower_mm, upper_mm=upper_mm, shift_mm=shift, ahead=ahead
        )

    def with_it(ahead: int) -> float:
        worn = ahead - 1 if of == "edge" else 0
        return miss(height, replace(job, edge_jobs=job.edge_jobs + worn), ahead)

    serviced = put_right(height, of, key)

    def just_serviced(ahead: int) -> float:
        # What else wears goes on wearing, whether a lathe or a gauge was set right or not.
        then = (replace(job, edge_jobs=0), 1) if of == "edge" else (job, ahead)
        return sum(chance * miss(one, *then) for chance, one in serviced)

    return _above(with_it, just_serviced, jobs=jobs)


def put_right(channel: ChannelWatch, kind: str, resource: int) -> list[tuple[float, ChannelWatch]]:
    """The channel as it will be once the resource is set right, each way it may be with its chance:
    nothing is wrong any more if it was this one, and all else is as it was if it was not. The
    second alone where nothing is held against it."""
    place = place_of(channel, kind, resource)
    state, arrays = channel.state, channel.arrays
    mine = np.flatnonzero(state.who[: state.counts[HYPOTHESES]] == place)
    weight = hypothesis_weights(state, arrays)[mine]
    chance = float(weight.sum())
    if_not = copy_of(channel)
    start_afresh(if_not.state, place, arrays)
    if not chance > 0:
        return [(1.0, if_not)]
    if_so = copy_of(channel)
    _take_back(if_so.state, mine, weight / chance, deltas=arrays.deltas)
    for other in range(len(channel.keys)):
        forget_hypotheses(if_so.state, other)
    start_afresh(if_so.state, place, arrays)
    return [(chance, if_so), (1 - chance, if_not)]


def _take_back(state: ChannelState, mine: IntArray, weight: FloatArray, *, deltas: int) -> None:
    """What the filter has made of these moves, off every bias, in place."""
    n = int(state.counts[STATES])
    for axis in range(deltas):
        state.x[:n] -= state.response[axis, :n, mine].T @ (weight * state.mean[axis, mine])


def _above(
    as_it_is: Callable[[int], float], serviced: Callable[[int], float], *, jobs: int
) -> Excess:
    knots = np.unique(np.geomspace(1, jobs, min(jobs, _KNOTS)).round().astype(np.int64))
    above = [as_it_is(int(knot)) - serviced(int(knot)) for knot in knots]
    by_job = np.interp(np.arange(1, jobs + 1), knots, above)
    return Excess(by_job=by_job, now=as_it_is(1), after=serviced(1))
