"""A channel over many jobs: runs the bank until a job raises a flag, and hands it back there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.numerics.drift.bank import CLOSED, MENDED, SERVICED, begin_job, start_afresh, take_readings
from qc.numerics.drift.channel_settings import ChannelSettings
from qc.numerics.drift.hypotheses import evidence_of_each, forget_hypotheses, may_reach
from qc.numerics.drift.jit import compiled
from qc.numerics.drift.readings import Readings
from qc.numerics.drift.state import ChannelState
from qc.numerics.results import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Compiled:
    """A channel's settings as arrays: one place a shape, one a kind."""

    first: int
    deltas: int
    walk_var: float
    engine_var: float
    ramp: IntArray
    shape_var: FloatArray
    every: IntArray
    oldest: IntArray
    log_share: FloatArray
    log_prior: FloatArray
    set_holds: float
    set_by_jobs: bool


def as_arrays(settings: ChannelSettings) -> Compiled:
    shapes = settings.shapes
    return Compiled(
        first=settings.deltas * settings.fixed_blocks,
        deltas=settings.deltas,
        walk_var=settings.walk_var,
        engine_var=0.0 if settings.engine_sd is None else settings.engine_sd**2,
        ramp=np.array([int(shape.is_ramp) for shape in shapes]),
        shape_var=np.array([shape.sd**2 for shape in shapes]),
        every=np.array([shape.every for shape in shapes]),
        oldest=np.array([shape.oldest for shape in shapes]),
        log_share=np.log([shape.share for shape in shapes]),
        log_prior=np.array([kind.log_prior for kind in settings.kinds]),
        set_holds=settings.set_holds,
        set_by_jobs=settings.set_by_jobs,
    )


def run(
    state: ChannelState,
    readings: Readings,
    events: IntArray,
    *,
    start: int,
    stop: int,
    next_event: int,
    threshold: float,
    off: FloatArray,
    arrays: Compiled,
) -> tuple[int, int, int]:
    """Take jobs start..stop - 1 in place. Returns (jobs taken up to, next event, who is flagged).

    events (k, 3): before which job, what, which resource; ascending. off (m,): filled with how many
    standard deviations each reading was out. Who is flagged: -1 where the jobs ran out first.
    """
    return _run(
        state,
        readings.involved,
        readings.start,
        readings.y,
        readings.var,
        readings.group,
        readings.rows,
        readings.terms,
        readings.seen_before,
        events,
        start,
        stop,
        next_event,
        threshold,
        off,
        arrays.first,
        arrays.deltas,
        arrays.walk_var,
        arrays.engine_var,
        arrays.ramp,
        arrays.shape_var,
        arrays.every,
        arrays.oldest,
        arrays.log_share,
        arrays.log_prior,
    )


@compiled
def act(state: ChannelState, what: int, resource: int, first: int, deltas: int) -> None:
    """What was done about a resource, in place."""
    if what in (SERVICED, MENDED):
        start_afresh(state, resource, first, deltas)
    elif what != CLOSED:
        forget_hypotheses(state, resource)


@compiled
def _run(
    state: ChannelState,
    involved: IntArray,
    first_reading: IntArray,
    y: FloatArray,
    var: FloatArray,
    group: IntArray,
    rows: IntArray,
    terms: FloatArray,
    seen_before: IntArray,
    events: IntArray,
    start: int,
    stop: int,
    next_event: int,
    threshold: float,
    off: FloatArray,
    first: int,
    deltas: int,
    walk_var: float,
    engine_var: float,
    ramp: IntArray,
    shape_var: FloatArray,
    every: IntArray,
    oldest: IntArray,
    log_share: FloatArray,
    log_prior: FloatArray,
) -> tuple[int, int, int]:
    for job in range(start, stop):
        while next_event < events.shape[0] and events[next_event, 0] <= job:
            act(state, events[next_event, 1], events[next_event, 2], first, deltas)
            next_event += 1
        begin_job(
            state,
            involved[job],
            first,
            deltas,
            walk_var,
            engine_var,
            ramp,
            shape_var,
            every,
            oldest,
            log_share,
        )
        its = slice(first_reading[job], first_reading[job + 1])
        take_readings(
            state,
            y[its],
            var[its],
            group[its],
            rows[its],
            terms[its],
            seen_before[its],
            off[its],
            first,
            deltas,
        )
        if may_reach(state, log_prior, threshold):
            each = evidence_of_each(state, log_prior)
            top = int(np.argmax(each))
            if each[top] > threshold:
                return job + 1, next_event, top
    return stop, next_event, -1
