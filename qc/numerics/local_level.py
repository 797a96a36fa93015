"""A level that wanders and is read with noise: y_i = level_i + e_i, level_(i+1) = level_i + w_i.

e ~ N(0, var_noise), w ~ N(0, var_step), nothing known of the first level. Kalman filter and
smoother, likelihood, and auxiliary residuals that tell a stray reading from a jump of the level
(Durbin & Koopman, Time Series Analysis by State Space Methods, chapter 2; Harvey & Koopman 1992).
Missing readings are NaN.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar

from qc.errors import BadInput, TooFewReadings
from qc.numerics.moments import sd_of
from qc.numerics.results import FloatArray
from qc.numerics.series import require_number, require_series


@dataclass(frozen=True, eq=False)
class LocalLevel:
    """Arrays of shape (n,), in order; steps of shape (n - 1,), entry i from reading i to i + 1.

    level, level_var: given readings up to each (filtered). smooth, smooth_var: given all.
    innovation, innovation_var: reading minus its forecast, NaN for the first and for missing ones.
    stray: the noise estimated in each reading over its standard deviation, NaN where missing;
    jump: the same for each step. Either beyond about 3 wants a look.
    forecast, forecast_var: the level after the last reading, before the next.
    log_likelihood: of the readings after the first, the diffuse likelihood without the first's
    constant.
    """

    level: FloatArray
    level_var: FloatArray
    innovation: FloatArray
    innovation_var: FloatArray
    smooth: FloatArray
    smooth_var: FloatArray
    stray: FloatArray
    jump: FloatArray
    forecast: float
    forecast_var: float
    log_likelihood: float


@dataclass(frozen=True)
class LocalLevelFit:
    """Variances of highest likelihood; var_step 0 means the level stayed where it was."""

    var_noise: float
    var_step: float
    log_likelihood: float


def local_level(y: ArrayLike, *, var_noise: float, var_step: float) -> LocalLevel:
    """Filter and smooth with known variances.

    y: shape (n,), n >= 2, two readings at least not NaN. var_noise > 0, var_step >= 0, in y's unit
    squared. Raises TooFewReadings, NotFinite on infinity, BadInput.
    """
    values = _readings(y)
    var_noise = require_number(var_noise, what="The noise variance", above=0)
    var_step = require_number(var_step, what="The step variance", above=-1e-300)
    run = _filtered(values, var_noise, var_step)
    pull, pull_var = _pulls(run)
    first = int(np.flatnonzero(~np.isnan(values))[0])
    smooth, smooth_var = np.empty((2, values.size))
    # The forecast says nothing of the first reading's level: start from that reading itself.
    at, at_var = run.ahead[first:].copy(), run.ahead_var[first:].copy()
    toward, toward_var = pull[first:-1].copy(), pull_var[first:-1].copy()
    at[0], at_var[0] = run.level[first], run.level_var[first]
    toward[0], toward_var[0] = pull[first + 1], pull_var[first + 1]
    smooth[first:], smooth_var[first:] = at + at_var * toward, at_var - at_var**2 * toward_var
    # Before the first reading the level is only known back from it.
    smooth[:first] = smooth[first]
    smooth_var[:first] = smooth_var[first] + var_step * np.arange(first, 0, -1)
    off = run.innovation_share - run.gain * pull[1:]
    off_var = run.inverse_var + run.gain**2 * pull_var[1:]
    return LocalLevel(
        level=run.level,
        level_var=run.level_var,
        innovation=run.innovation,
        innovation_var=run.innovation_var,
        smooth=smooth,
        smooth_var=smooth_var,
        stray=np.where(np.isnan(values), np.nan, _over_sd(off, off_var)),
        jump=_over_sd(pull[1:-1], pull_var[1:-1]),
        forecast=float(run.level[-1]),
        forecast_var=float(run.level_var[-1] + var_step),
        log_likelihood=run.log_likelihood(),
    )


def fit_local_level(y: ArrayLike) -> LocalLevelFit:
    """Both variances by greatest diffuse likelihood.

    y: shape (n,), three readings at least not NaN. The ratio var_step / var_noise is searched from
    1e-7 to 1e7 and at 0; the noise variance follows from it.
    Raises TooFewReadings, NotFinite on infinity, BadInput when all readings are alike.
    """
    values = _readings(y, at_least=3)
    present = values[~np.isnan(values)]
    if sd_of(present) == 0:
        raise BadInput(why="All readings are alike: no variance can be told from them.")

    def noise(ratio: float) -> float:
        run = _filtered(values, 1.0, ratio)
        return float(np.nanmean(run.innovation**2 / run.innovation_var))

    def likelihood(ratio: float) -> float:
        var_noise = noise(ratio)
        return _filtered(values, var_noise, ratio * var_noise).log_likelihood()

    found = minimize_scalar(
        lambda log: -likelihood(math.exp(log)), bounds=(-16.1, 16.1), method="bounded"
    )
    ratio = max((0.0, math.exp(float(found.x))), key=likelihood)
    return LocalLevelFit(noise(ratio), ratio * noise(ratio), likelihood(ratio))


@dataclass(frozen=True, eq=False)
class _Run:
    """One pass forward. ahead, ahead_var: the level forecast before each reading."""

    level: FloatArray
    level_var: FloatArray
    ahead: FloatArray
    ahead_var: FloatArray
    innovation: FloatArray
    innovation_var: FloatArray
    gain: FloatArray  # 1 for the first reading, 0 for a missing one

    @property
    def innovation_share(self) -> FloatArray:
        """Innovation over its variance, 0 where there is none."""
        return np.nan_to_num(self.innovation / self.innovation_var)

    @property
    def inverse_var(self) -> FloatArray:
        return np.nan_to_num(1 / self.innovation_var)

    def log_likelihood(self) -> float:
        known = ~np.isnan(self.innovation)
        v, f = self.innovation[known], self.innovation_var[known]
        return -0.5 * float((math.log(2 * math.pi) + np.log(f) + v**2 / f).sum())


def _filtered(values: FloatArray, var_noise: float, var_step: float) -> _Run:
    n = values.size
    level, level_var, ahead, ahead_var, innovation, innovation_var = np.full((6, n), np.nan)
    gain = np.zeros(n)
    mean, var = math.nan, math.inf
    for i, reading in enumerate(values.tolist()):
        var += var_step
        ahead[i], ahead_var[i] = mean, var
        if reading == reading:
            if mean == mean:
                innovation[i], innovation_var[i] = reading - mean, var + var_noise
                gain[i] = var / (var + var_noise)
                mean, var = mean + gain[i] * (reading - mean), gain[i] * var_noise
            else:
                mean, var, gain[i] = reading, var_noise, 1.0
        level[i], level_var[i] = mean, var
    return _Run(level, level_var, ahead, ahead_var, innovation, innovation_var, gain)


def _pulls(run: _Run) -> tuple[FloatArray, FloatArray]:
    """What later readings say of each level, before and after every reading: shape (n + 1,).

    Entry i is the weighted sum of innovations from reading i on, and its variance; entry n is 0.
    """
    n = run.gain.size
    pull, pull_var = np.zeros(n + 1), np.zeros(n + 1)
    share, inverse = run.innovation_share, run.inverse_var
    for i in range(n - 1, -1, -1):
        kept = 1 - run.gain[i]
        pull[i] = share[i] + kept * pull[i + 1]
        pull_var[i] = inverse[i] + kept**2 * pull_var[i + 1]
    return pull, pull_var


def _over_sd(value: FloatArray, variance: FloatArray) -> FloatArray:
    known = variance > 0
    return np.where(known, value / np.sqrt(np.where(known, variance, 1.0)), np.nan)


def _readings(y: ArrayLike, *, at_least: int = 2) -> FloatArray:
    values = np.atleast_1d(np.asarray(y, dtype=np.float64))
    present = require_series(values[~np.isnan(values)], at_least=0)
    if present.size < at_least:
        raise TooFewReadings(needed=at_least, got=present.size)
    return values
