"""A gauge against a setting standard: is it off, and is it more off at one end of its range?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit

from qc.errors import BadInput
from qc.numerics.capability.indices import Interval, require_confidence
from qc.numerics.checks import require_same_length
from qc.numerics.moments import mean_of, sd_of
from qc.numerics.series import require_number, require_series


@dataclass(frozen=True)
class Bias:
    """bias: mean reading - standard. p: two-sided, None when all readings are alike."""

    bias: float
    standard_error: float
    df: int
    p: float | None
    interval: Interval


@dataclass(frozen=True)
class Linearity:
    """bias = at_middle + slope (standard - middle), middle the mean standard.

    slope is dimensionless: 0.01 is 10 um over 1 mm. p_slope: None if the line fits exactly.
    """

    slope: float
    at_middle: float
    middle: float
    slope_interval: Interval
    p_slope: float | None
    residual_sd: float
    df: int
    confidence: float
    spread: float  # sum of squares of the standards about their middle
    readings: int

    def bias_at(self, standard: float) -> tuple[float, Interval]:
        """The fitted bias there and its interval."""
        off = standard - self.middle
        fitted = self.at_middle + self.slope * off
        error = self.residual_sd * math.sqrt(1 / self.readings + off**2 / self.spread)
        return fitted, _around(fitted, error, self.df, self.confidence)


def gauge_bias(readings: ArrayLike, *, standard: float, confidence: float = 0.95) -> Bias:
    """readings: shape (n,), n >= 2, of one standard of known size, same unit; one-sample t.

    The standard's own uncertainty is not in the interval: add it in the budget.
    Raises TooFewReadings, NotFinite, BadInput.
    """
    values = require_series(readings, at_least=2)
    bias = mean_of(values) - require_number(standard, what="The standard")
    error, df = sd_of(values) / math.sqrt(values.size), values.size - 1
    return Bias(bias, error, df, _p(bias, error, df), _around(bias, error, df, confidence))


def gauge_linearity(
    readings: ArrayLike, *, standards: ArrayLike, confidence: float = 0.95
) -> Linearity:
    """readings, standards: shape (n,), n >= 3, a reading and the size it was of; least squares of
    their difference on the standard.

    Raises TooFewReadings, NotFinite, BadInput when all standards are the same size.
    """
    values = require_series(readings, at_least=3)
    sizes = require_series(standards, what="A standard")
    require_same_length(readings=values, standards=sizes)
    middle = mean_of(sizes)
    off = sizes - middle
    spread = float(off @ off)
    if spread == 0:
        raise BadInput(why="Linearity needs standards of two sizes or more.")
    error = values - sizes
    slope, at_middle = float(off @ error) / spread, float(error.mean())
    df = values.size - 2
    residual_sd = math.sqrt(float(((error - at_middle - slope * off) ** 2).sum()) / df)
    slope_error = residual_sd / math.sqrt(spread)
    return Linearity(
        slope=slope,
        at_middle=at_middle,
        middle=middle,
        slope_interval=_around(slope, slope_error, df, confidence),
        p_slope=_p(slope, slope_error, df),
        residual_sd=residual_sd,
        df=df,
        confidence=require_confidence(confidence),
        spread=spread,
        readings=values.size,
    )


def _p(value: float, error: float, df: int) -> float | None:
    return 2 * float(stdtr(df, -abs(value / error))) if error > 0 else None


def _around(value: float, error: float, df: int, confidence: float) -> Interval:
    half = float(stdtrit(df, (1 + require_confidence(confidence)) / 2)) * error
    return Interval(value - half, value + half)
