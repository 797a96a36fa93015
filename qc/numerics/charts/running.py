"""One series' individuals chart, EWMA and patterns, kept up job by job or rebuilt as a whole.

Both ways give the same bits, so that a chart kept up for years can be checked by one rebuild. What
must be kept is a `RunningState` of a few dozen numbers: a job costs the same after a thousand jobs
as after a million. Limits are frozen in `RunningSettings`; nothing here estimates them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import BadInput
from qc.numerics.charts.ewma import EwmaChart, ewma_chart, ewma_half_widths, weighted_mean
from qc.numerics.patterns import (
    Patterns,
    Rule,
    find_patterns,
    newest_fired,
    points_needed,
    standardised,
)
from qc.numerics.results import FloatArray
from qc.numerics.series import require_number, require_series


@dataclass(frozen=True)
class RunningSettings:
    """centre, sigma > 0: frozen, in the readings' unit. weight, width: the EWMA's. rules: of the
    standardised readings; limits of 3 sigma are one of them."""

    centre: float
    sigma: float
    weight: float
    width: float
    rules: tuple[Rule, ...]

    def __post_init__(self) -> None:
        require_number(self.sigma, what="Sigma", above=0)
        if not self.rules:
            raise BadInput(why="A running chart needs at least one rule.")

    def standardised(self, x: FloatArray) -> FloatArray:
        return standardised(x, centre=self.centre, sigma=self.sigma)


@dataclass(frozen=True)
class RunningState:
    """What the next job needs to know. jobs: in this stretch. ewma: after the last of them. tail:
    the newest standardised readings, no more than the rules look back on."""

    jobs: int
    ewma: float
    tail: tuple[float, ...]


@dataclass(frozen=True)
class RunningPoint:
    """One job on the chart. half_width: of the EWMA's limits at this job."""

    z: float
    fired: tuple[Rule, ...]
    ewma: float
    half_width: float
    ewma_signal: bool


@dataclass(frozen=True, eq=False)
class RunningChart:
    """Every job at once, and the state after the last."""

    x: FloatArray
    settings: RunningSettings
    patterns: Patterns
    ewma: EwmaChart
    state: RunningState

    @cached_property
    def z(self) -> FloatArray:
        """Standardised readings."""
        return self.settings.standardised(self.x)


def fresh_state(settings: RunningSettings) -> RunningState:
    """Before the first job, and after a service event."""
    return RunningState(jobs=0, ewma=settings.centre, tail=())


def next_job(
    state: RunningState, reading: float, *, settings: RunningSettings
) -> tuple[RunningState, RunningPoint]:
    """Add one reading. Raises NotFinite. Begin a new stretch by passing fresh_state."""
    x = np.array([require_number(reading, what="A reading")])
    z = float(settings.standardised(x)[0])
    tail = (*state.tail, z)[-points_needed(settings.rules) :]
    mean = weighted_mean(x, weight=settings.weight, before=state.ewma)
    widths = ewma_half_widths(sigma=settings.sigma, weight=settings.weight, width=settings.width)
    half_width = float(widths[min(state.jobs, widths.size - 1)])
    after = replace(state, jobs=state.jobs + 1, ewma=float(mean[0]), tail=tail)
    point = RunningPoint(
        z=z,
        fired=newest_fired(np.array(tail), rules=settings.rules),
        ewma=after.ewma,
        half_width=half_width,
        ewma_signal=abs(after.ewma - settings.centre) > half_width,
    )
    return after, point


def rebuild(
    x: ArrayLike, *, settings: RunningSettings, stretch_start: ArrayLike | None = None
) -> RunningChart:
    """The whole chart of readings in cutting order, shape (n,), n >= 1.

    Raises NotFinite, BadInput, TooFewReadings.
    """
    values = require_series(x)
    ewma = ewma_chart(
        values,
        centre=settings.centre,
        sigma=settings.sigma,
        weight=settings.weight,
        width=settings.width,
        stretch_start=stretch_start,
    )
    last_start = 0
    if stretch_start is not None:
        last_start = max([0, *np.flatnonzero(np.asarray(stretch_start)).tolist()])
    jobs = values.size - last_start
    newest = values[values.size - min(points_needed(settings.rules), jobs) :]
    return RunningChart(
        x=values,
        settings=settings,
        patterns=find_patterns(
            values,
            rules=settings.rules,
            centre=settings.centre,
            sigma=settings.sigma,
            stretch_start=stretch_start,
        ),
        ewma=ewma,
        state=RunningState(
            jobs=jobs,
            ewma=float(ewma.z[-1]),
            tail=tuple(settings.standardised(newest).tolist()),
        ),
    )
