"""The chart of one fixture's tilt: has it moved since it was last put right, when, and to where?

Tilt vectors are side-to-side differences D = (2A, 2B) in mm at a 20 mm radius, turned into the
fixture's own frame. After a service event the fixture has some constant bias, unknown, N(0, prior
variance) on each axis; each job reads it with noise. Every job is judged against what the earlier
jobs of the stretch predict for it, so the chart is fair from the first job on: in control the
standardised errors of prediction are independent N(0, I), and they feed a multivariate EWMA.

Defaults are those of the shop model in the trade's check values: computed on an invented shop, not
measured on a real one. Limits: `run_length.limit_for_false_flags`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.numerics.charts.ewma import weighted_mean
from qc.numerics.constant_bias import ConstantBias, Onset
from qc.numerics.results import FloatArray
from qc.numerics.series import (
    BoolArray,
    require_number,
    require_rows,
    require_starts,
    stretches,
)

NOISE_SD_MM = 0.018
PRIOR_SD_MM = 0.006
SHIFT_SD_MM = 0.022
WEIGHT = 0.1


@dataclass(frozen=True, eq=False)
class TiltChange:
    """One stretch's move. Positions are indices into the chart's jobs.

    onset: the first job that saw it, by greatest likelihood; onset_from..onset_to hold it with
    90 % probability if every job was equally likely beforehand. after_mm: where the fixture's tilt
    sits since, from the jobs since the onset alone; shift_mm: how far that is from before.
    """

    signalled_at: int
    onset: int
    onset_from: int
    onset_to: int
    after_mm: FloatArray
    after_cov_mm2: FloatArray
    shift_mm: FloatArray

    @property
    def size_mm(self) -> float:
        """Length of the shift, a side-to-side difference."""
        return math.hypot(*self.shift_mm)

    @property
    def direction_deg(self) -> float:
        """Fixture clock position, 0 <= angle < 360, toward which the shift widened the gap."""
        return math.degrees(math.atan2(self.shift_mm[1], self.shift_mm[0])) % 360.0


@dataclass(frozen=True, eq=False)
class TiltChart:
    """One row a job. statistic: the MEWMA's, to be held against `limit`; signal marks those beyond.

    estimate_mm, estimate_cov_mm2: where the fixture's tilt sits as known after each job; from the
    first signal of a stretch on, from the jobs since the estimated onset. changes: one for each
    stretch that signalled, as known at its last job.
    """

    statistic: FloatArray
    limit: float
    signal: BoolArray
    estimate_mm: FloatArray
    estimate_cov_mm2: FloatArray
    changes: tuple[TiltChange, ...]
    stretch_begins_at: int

    @property
    def current_change(self) -> TiltChange | None:
        """The move of the last stretch, if it signalled."""
        last = self.changes[-1] if self.changes else None
        return last if last and last.signalled_at >= self.stretch_begins_at else None


def tilt_chart(
    tilt_mm: ArrayLike,
    *,
    limit: float,
    noise_sd_mm: float = NOISE_SD_MM,
    prior_sd_mm: float = PRIOR_SD_MM,
    stretch_start: ArrayLike | None = None,
    weight: float = WEIGHT,
) -> TiltChart:
    """Self-starting multivariate EWMA of one fixture's tilt vectors.

    tilt_mm: shape (n, 2), D in the fixture's frame, in cutting order; n = 0 gives an empty chart.
    noise_sd_mm: sd of one job's D on one axis; prior_sd_mm: sd of the bias a service leaves behind.
    stretch_start: shape (n,) bool, True where a service event or an acknowledged signal begins a
        new stretch; nothing is carried over.
    weight: the newest job's share. limit: for the same weight, from limit_for_false_flags.
    Raises BadInput, NotFinite.
    """
    tilt = require_rows(tilt_mm, width=2, what="A tilt vector", at_least=0)
    noise_var = require_number(noise_sd_mm, what="The noise", above=0) ** 2
    prior_var = require_number(prior_sd_mm, what="The prior", above=0) ** 2
    limit = require_number(limit, what="The limit", above=0)
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    starts = require_starts(stretch_start, len(tilt))
    parts = stretches(starts) if len(tilt) else []
    statistic = np.empty(len(tilt))
    estimate = np.empty((len(tilt), 2))
    variance = np.empty(len(tilt))
    changes: list[TiltChange] = []
    for part in parts:
        bias = ConstantBias(tilt[part], noise_var=noise_var, prior_var=prior_var)
        smooth = weighted_mean(bias.surprise, weight=weight, before=0.0)
        statistic[part] = tilt_statistic(smooth, weight=weight)
        estimate[part], variance[part] = bias.mean[1:], bias.var[1:]
        beyond = part.start + np.flatnonzero(statistic[part] > limit)
        if beyond.size == 0:
            continue
        for job in range(beyond[0], part.stop):
            onset = bias.onset(upto=job + 1 - part.start, shift_var=SHIFT_SD_MM**2)
            estimate[job], variance[job] = onset.after, onset.after_var
        changes.append(_change(onset, signalled_at=int(beyond[0]), begins_at=part.start))
    return TiltChart(
        statistic=statistic,
        limit=limit,
        signal=statistic > limit,
        estimate_mm=estimate,
        estimate_cov_mm2=variance[:, None, None] * np.eye(2),
        changes=tuple(changes),
        stretch_begins_at=parts[-1].start if parts else 0,
    )


def tilt_statistic(smooth: FloatArray, *, weight: float) -> FloatArray:
    """The MEWMA statistic of weighted mean surprises, shape (n, 2), in steady covariance."""
    return np.asarray((smooth**2).sum(axis=1) * (2 - weight) / weight)


def pooled_tilt_noise(
    stretches_mm: Sequence[ArrayLike],
    *,
    default_sd_mm: float = NOISE_SD_MM,
    prior_weight: float = 40.0,
) -> float:
    """Sd of one job's D on one axis, mm, pooled over a shop's stretches and drawn to a default.

    stretches_mm: each shape (n, 2), one fixture between two service events, in cutting order;
        stretches of under two jobs add nothing.
    Robust to a fixture that jumps: for 2-D normal noise the squared length of a successive
    difference has median 4 ln 2 sd^2, and one jump spoils one difference. The m differences' value
    is averaged, as a variance, with the default's counting as prior_weight of them.
    Raises BadInput, NotFinite.
    """
    default_var = require_number(default_sd_mm, what="The default noise", above=0) ** 2
    prior_weight = require_number(prior_weight, what="The prior weight", above=0)
    rows = [require_rows(one, width=2, what="A tilt vector", at_least=0) for one in stretches_mm]
    steps = np.concatenate([np.zeros((0, 2)), *(np.diff(one, axis=0) for one in rows)])
    if len(steps) == 0:
        return math.sqrt(default_var)
    seen_var = float(np.median((steps**2).sum(axis=1))) / (4 * math.log(2))
    pooled = (len(steps) * seen_var + prior_weight * default_var) / (len(steps) + prior_weight)
    return math.sqrt(pooled)


def _change(onset: Onset, *, signalled_at: int, begins_at: int) -> TiltChange:
    return TiltChange(
        signalled_at=signalled_at,
        onset=begins_at + onset.first,
        onset_from=begins_at + onset.earliest,
        onset_to=begins_at + onset.latest,
        after_mm=onset.after,
        after_cov_mm2=onset.after_var * np.eye(2),
        shift_mm=onset.after - onset.before,
    )
