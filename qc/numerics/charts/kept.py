"""A chart of one number a job that starts from nothing and is kept up job by job.

Until limits are held it estimates them anew at each job from the jobs so far; after BASELINE_JOBS
they are held, so that a slow drift cannot carry them along. Frozen limits are held from the first
job on. All of them are estimates, drawn the wider the fewer jobs they rest on, see few_jobs. What
is kept never grows beyond BASELINE_JOBS readings: a job costs the same after a thousand jobs as
after a million.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeGuard

import numpy as np

from qc.numerics.charts.few_jobs import Widths, widths_when_estimated
from qc.numerics.charts.first_jobs import BASELINE_JOBS, estimated_limits
from qc.numerics.charts.running import (
    RunningPoint,
    RunningSettings,
    RunningState,
    fresh_state,
    next_job,
    rebuild,
)
from qc.numerics.patterns import Rule, ZoneRule
from qc.numerics.series import require_number


@dataclass(frozen=True)
class Sums:
    """A two-sided CUSUM: allowance, limit and head start, in sigma."""

    k: float
    h: float
    head_start: float = 0.0


@dataclass(frozen=True)
class Judging:
    """How jobs are judged whatever the limits: the EWMA's weight and width, the rules, and the
    cumulative sums where they are kept. The widths are those for limits that are known."""

    weight: float
    width: float
    rules: tuple[Rule, ...]
    sums: Sums | None = None

    @property
    def widths(self) -> Widths:
        return Widths(next(one.low for one in self.rules if is_of_single_jobs(one)), self.width)


def is_of_single_jobs(rule: Rule) -> TypeGuard[ZoneRule]:
    """Whether the rule is the limits for single jobs."""
    return isinstance(rule, ZoneRule) and rule.m == 1


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
    sigma 0 while the instrument is too coarse. is_held: they stay. jobs, pairs: what limits that
    are held rest on, pairs being the neighbours whose distances gave sigma. readings, begins: the
    jobs the estimate rests on and where stretches begin among them; empty once limits are held.
    """

    centre: float | None = None
    sigma: float | None = None
    is_held: bool = False
    jobs: int = BASELINE_JOBS
    pairs: int = 0
    readings: tuple[float, ...] = ()
    begins: tuple[bool, ...] = ()
    running: RunningState | None = None
    sums: SumsState | None = None


@dataclass(frozen=True)
class KeptPoint:
    """One judged job and the limits it was judged by; width: of those for single jobs, in sigma."""

    centre: float
    sigma: float
    width: float
    judged: RunningPoint
    sums: SumsState | None


def frozen_chart(centre: float, sigma: float, *, jobs: int, pairs: int) -> KeptState:
    """A chart before its first job whose limits are frozen, from so many jobs and neighbours among
    them; sigma > 0. Raises BadInput."""
    return KeptState(
        centre=require_number(centre, what="The centre"),
        sigma=require_number(sigma, what="Sigma", above=0),
        is_held=True,
        jobs=int(require_number(jobs, what="The jobs", above=1)),
        pairs=int(require_number(pairs, what="The neighbours", above=0)),
    )


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
    widths = _widened(judging, jobs=state.jobs, pairs=state.pairs, is_held=True)
    settings = _settings(state.centre, state.sigma, judging, widths)
    before = fresh_state(settings) if begins or state.running is None else state.running
    after, judged = next_job(before, reading, settings=settings)
    judged = replace(judged, fired=_as_asked(judged.fired, settings, judging))
    sums = _next_sums(None if begins else state.sums, judged.z, judging.sums)
    point = KeptPoint(state.centre, state.sigma, widths.single, judged, sums)
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
    widths = _widened(judging, jobs=limits.jobs, pairs=limits.pairs, is_held=False)
    settings = _settings(limits.centre, limits.sigma, judging, widths)
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
        after = replace(after, is_held=True, pairs=limits.pairs, readings=(), begins=())
    return after, KeptPoint(limits.centre, limits.sigma, widths.single, judged, sums)


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


def _widened(judging: Judging, *, jobs: int, pairs: int, is_held: bool) -> Widths:
    return widths_when_estimated(
        judging.widths, weight=judging.weight, jobs=jobs, pairs=pairs, is_held=is_held
    )


def _settings(centre: float, sigma: float, judging: Judging, widths: Widths) -> RunningSettings:
    rules = _rules_at(judging.rules, widths.single)
    return RunningSettings(centre, sigma, judging.weight, widths.average, rules)


@lru_cache(maxsize=256)
def _rules_at(rules: tuple[Rule, ...], single: float) -> tuple[Rule, ...]:
    """The rules with the limits for single jobs so many sigma from the centre."""
    return tuple(replace(one, low=single) if is_of_single_jobs(one) else one for one in rules)


def _as_asked(
    fired: tuple[Rule, ...], settings: RunningSettings, judging: Judging
) -> tuple[Rule, ...]:
    """The rules that fired as `judging` has them, whose limits may stand elsewhere."""
    return tuple(
        asked for asked, it in zip(judging.rules, settings.rules, strict=True) if it in fired
    )


def _last_start(marks: tuple[bool, ...]) -> int:
    return max((i for i, begins in enumerate(marks) if begins), default=0)
