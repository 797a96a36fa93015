"""A chart of one number a job that starts from nothing and is kept up job by job.

Until limits are held it estimates them anew at each job from the jobs so far; after BASELINE_JOBS
they are held, so that a slow drift cannot carry them along. Frozen limits are held from the first
job. What is kept never grows beyond BASELINE_JOBS readings: a job costs the same after a thousand
jobs as after a million.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.errors import BadInput, TooFewReadings
from qc.numerics.charts.individuals import IndividualsLimits, individuals_limits
from qc.numerics.charts.running import (
    RunningPoint,
    RunningSettings,
    RunningState,
    fresh_state,
    next_job,
    rebuild,
)
from qc.numerics.patterns import Rule
from qc.numerics.series import require_number

# Limits estimated from fewer jobs than this move so much that a signal means little.
FEWEST_JOBS = 12
BASELINE_JOBS = 40


@dataclass(frozen=True)
class Sums:
    """A two-sided CUSUM: allowance, limit and head start, in sigma."""

    k: float
    h: float
    head_start: float = 0.0


@dataclass(frozen=True)
class Judging:
    """How jobs are judged whatever the limits: the EWMA's weight and width, the rules, and the
    cumulative sums where they are kept."""

    weight: float
    width: float
    rules: tuple[Rule, ...]
    sums: Sums | None = None


@dataclass(frozen=True)
class SumsState:
    """In sigma, both >= 0. high_run, low_run: jobs since each was last zero."""

    high: float
    low: float
    high_run: int = 0
    low_run: int = 0

    def is_beyond(self, sums: Sums) -> bool:
        return self.high > sums.h or self.low > sums.h


@dataclass(frozen=True)
class KeptState:
    """What the next job needs to know.

    centre, sigma: the limits in force, in the readings' unit; None while there are too few jobs,
    sigma 0 while the instrument is too coarse. is_held: they stay. readings, begins: the jobs the
    estimate rests on and where stretches begin among them; empty once limits are held.
    """

    centre: float | None = None
    sigma: float | None = None
    is_held: bool = False
    readings: tuple[float, ...] = ()
    begins: tuple[bool, ...] = ()
    running: RunningState | None = None
    sums: SumsState | None = None


@dataclass(frozen=True)
class KeptPoint:
    """One judged job and the limits it was judged by."""

    centre: float
    sigma: float
    judged: RunningPoint
    sums: SumsState | None


def frozen_chart(centre: float, sigma: float) -> KeptState:
    """A chart before its first job whose limits are frozen; sigma > 0. Raises BadInput."""
    sigma = require_number(sigma, what="Sigma", above=0)
    return KeptState(centre=require_number(centre, what="The centre"), sigma=sigma, is_held=True)


def next_kept(
    state: KeptState, reading: float, *, begins: bool, judging: Judging
) -> tuple[KeptState, KeptPoint | None]:
    """Add one job; the point is None while nothing can be judged.

    begins: a service event, or nothing, came before this job. Raises NotFinite, BadInput.
    """
    reading = require_number(reading, what="A reading")
    if not state.is_held:
        return _estimated(state, reading, begins=begins, judging=judging)
    assert state.centre is not None
    assert state.sigma is not None
    settings = _settings(state.centre, state.sigma, judging)
    before = fresh_state(settings) if begins or state.running is None else state.running
    after, judged = next_job(before, reading, settings=settings)
    sums = _next_sums(None if begins else state.sums, judged.z, judging.sums)
    point = KeptPoint(state.centre, state.sigma, judged, sums)
    return replace(state, running=after, sums=sums), point


def _estimated(
    state: KeptState, reading: float, *, begins: bool, judging: Judging
) -> tuple[KeptState, KeptPoint | None]:
    readings = (*state.readings, reading)[-BASELINE_JOBS:]
    marks = (*state.begins, begins or not state.readings)[-BASELINE_JOBS:]
    after = KeptState(readings=readings, begins=marks)
    limits = estimated_limits(readings, marks)
    if limits is None:
        return after, None
    after = replace(after, centre=limits.centre, sigma=limits.sigma)
    if limits.is_zero_width:
        return after, None
    stretch = np.array(readings[_last_start(marks) :])
    settings = _settings(limits.centre, limits.sigma, judging)
    chart = rebuild(stretch, settings=settings)
    fired = chart.patterns.fired[-1].tolist()
    judged = RunningPoint(
        z=float(chart.z[-1]),
        fired=tuple(rule for rule, it in zip(judging.rules, fired, strict=True) if it),
        ewma=float(chart.ewma.z[-1]),
        half_width=float(chart.ewma.half_width[-1]),
        ewma_signal=bool(chart.ewma.signal[-1]),
    )
    sums = None
    for z in chart.z.tolist():
        sums = _next_sums(sums, z, judging.sums)
    after = replace(after, running=chart.state, sums=sums)
    if len(readings) == BASELINE_JOBS:
        after = replace(after, is_held=True, readings=(), begins=())
    return after, KeptPoint(limits.centre, limits.sigma, judged, sums)


def _next_sums(state: SumsState | None, z: float, sums: Sums | None) -> SumsState | None:
    """The sums after one more standardised reading; from the head start where none are kept."""
    if sums is None:
        return None
    before = state or SumsState(sums.head_start, sums.head_start)
    high, low = max(0.0, before.high + z - sums.k), max(0.0, before.low - z - sums.k)
    return SumsState(
        high,
        low,
        high_run=before.high_run + 1 if high > 0 else 0,
        low_run=before.low_run + 1 if low > 0 else 0,
    )


def estimated_limits(
    readings: tuple[float, ...], begins: tuple[bool, ...], *, sigmas: float = 3.0
) -> IndividualsLimits | None:
    """Limits of the first jobs, or None while there are too few jobs or too few neighbours.

    The centre is the mean; sigma comes from the median moving range, which one bad job cannot
    inflate.
    """
    if len(readings) < FEWEST_JOBS or len(readings) - sum(begins) < FEWEST_JOBS // 2:
        return None
    return individuals_limits(
        readings, spread="median", sigmas=sigmas, stretch_start=np.array(begins, dtype=np.bool_)
    )


def limits_from_jobs(readings: tuple[float, ...], begins: tuple[bool, ...]) -> IndividualsLimits:
    """Limits to freeze, from the jobs a person chose. Raises TooFewReadings, BadInput."""
    limits = estimated_limits(readings, begins)
    if limits is None:
        raise TooFewReadings(needed=FEWEST_JOBS, got=len(readings))
    if limits.is_zero_width:
        raise BadInput(why="The gauge is too coarse: these jobs do not differ by its steps.")
    return limits


def _settings(centre: float, sigma: float, judging: Judging) -> RunningSettings:
    return RunningSettings(centre, sigma, judging.weight, judging.width, judging.rules)


def _last_start(marks: tuple[bool, ...]) -> int:
    return max((i for i, begins in enumerate(marks) if begins), default=0)
