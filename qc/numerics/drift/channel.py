"""A channel over many jobs: runs the bank until a job raises a flag, and hands it back there."""

from __future__ import annotations

import numpy as np

from qc.numerics.drift.bank import (
    CLOSED,
    MENDED,
    RENEWED,
    SERVICED,
    begin_job,
    start_afresh,
    take_readings,
)
from qc.numerics.drift.channel_settings import SettingArrays
from qc.numerics.drift.hypotheses import evidence_of_each, forget_hypotheses, may_reach
from qc.numerics.drift.jit import compiled
from qc.numerics.drift.readings import Readings
from qc.numerics.drift.state import ChannelState
from qc.numerics.results import FloatArray, IntArray


@compiled
def act(state: ChannelState, what: int, resource: int, arrays: SettingArrays) -> None:
    """What was done about a resource, in place."""
    if what in (SERVICED, MENDED, RENEWED):
        start_afresh(state, resource, arrays)
    elif what != CLOSED:
        forget_hypotheses(state, resource)


@compiled
def run(
    state: ChannelState,
    readings: Readings,
    events: IntArray,
    start: int,
    stop: int,
    next_event: int,
    threshold: float,
    off: FloatArray,
    arrays: SettingArrays,
) -> tuple[int, int, int]:
    """Take jobs start..stop - 1 in place. Returns (jobs taken up to, next event, who is flagged).

    events (k, 3): before which job, what, which resource; ascending. off (m,): filled with how many
    standard deviations each reading was out. Who is flagged: -1 where the jobs ran out first.
    """
    for job in range(start, stop):
        while next_event < events.shape[0] and events[next_event, 0] <= job:
            act(state, events[next_event, 1], events[next_event, 2], arrays)
            next_event += 1
        begin_job(state, readings.involved[job], arrays)
        take_readings(state, readings, job, off, arrays)
        if may_reach(state, arrays.log_prior, threshold):
            each = evidence_of_each(state, arrays.log_prior)
            top = int(np.argmax(each))
            if each[top] > threshold:
                return job + 1, next_event, top
    return stop, next_event, -1
