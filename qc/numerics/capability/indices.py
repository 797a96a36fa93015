"""Capability indices and their intervals, normal readings assumed.

Formulas: Kane (Journal of Quality Technology 1986), Bissell (Applied Statistics 1990), Boyles
(Journal of Quality Technology 1991), ISO 22514-4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from scipy.optimize import brentq
from scipy.special import chdtri, ndtr, ndtri

from qc.errors import BadInput
from qc.numerics.capability.sampling import sd_ratio
from qc.numerics.series import require_number


class Interval(NamedTuple):
    low: float
    high: float


@dataclass(frozen=True)
class CapabilityIndices:
    """None where a limit or the target that it needs is missing.

    cp: tolerance over 6 sd. cpu, cpl: distance from the mean to the upper and lower limit over
    3 sd. cpk: the lesser of those there are. cpm: tolerance over 6 root mean square distance from
    target.
    """

    cp: float | None
    cpu: float | None
    cpl: float | None
    cpk: float
    cpm: float | None


def capability_indices(
    *,
    mean: float,
    sd: float,
    lower: float | None = None,
    upper: float | None = None,
    target: float | None = None,
) -> CapabilityIndices:
    """Indices of a mean and standard deviation, all in one unit, against one or two limits.

    Raises BadInput without a limit, with limits the wrong way round, or for sd = 0: readings all
    alike show an instrument too coarse, not a capable shop.
    """
    mean, sd = require_number(mean, what="The mean"), require_sd(sd)
    require_limits(lower, upper)
    cpu = None if upper is None else (upper - mean) / (3 * sd)
    cpl = None if lower is None else (mean - lower) / (3 * sd)
    cp = cpm = None
    if lower is not None and upper is not None:
        cp = (upper - lower) / (6 * sd)
        if target is not None:
            off = mean - require_number(target, what="The target")
            cpm = (upper - lower) / (6 * math.hypot(sd, off))
    return CapabilityIndices(
        cp=cp, cpu=cpu, cpl=cpl, cpk=min(c for c in (cpu, cpl) if c is not None), cpm=cpm
    )


def cp_interval(cp: float, *, df: float, confidence: float = 0.95) -> Interval:
    """Two-sided interval of Cp or Pp; df: of the sd behind it, n - 1 for the overall one. Exact."""
    df = require_number(df, what="Degrees of freedom", above=0)
    tail = (1 - require_confidence(confidence)) / 2
    # chdtri takes the upper tail.
    return Interval(
        cp * math.sqrt(float(chdtri(df, 1 - tail)) / df),
        cp * math.sqrt(float(chdtri(df, tail)) / df),
    )


def cpk_interval(
    cpk: float, *, n: int, df: float | None = None, confidence: float = 0.95
) -> Interval:
    """Two-sided interval of Cpk or Ppk by Bissell's normal approximation.

    n: readings behind the mean. df: of the sd, n - 1 if None.
    """
    half = _quantile((1 + require_confidence(confidence)) / 2) * _cpk_sd(cpk, n, df)
    return Interval(cpk - half, cpk + half)


def cpk_lower_bound(
    cpk: float, *, n: int, df: float | None = None, confidence: float = 0.95
) -> float:
    """What Cpk is at least, with this confidence, by the same approximation."""
    return cpk - _quantile(require_confidence(confidence)) * _cpk_sd(cpk, n, df)


def cpk_lower_bound_exact(cpk: float, *, n: int, confidence: float = 0.95) -> float:
    """The same exactly for a one-sided limit: 3 sqrt(n) Cpk is noncentral t with n - 1 freedom.

    With two limits it is a safe bound for the nearer one.
    """
    n = _jobs(n)
    root = 3 * math.sqrt(n)
    wanted = require_confidence(confidence)
    ratio, weight = sd_ratio(n - 1)
    seen = require_number(cpk, what="Cpk") * root * ratio

    def excess(true: float) -> float:
        return float(weight @ ndtr(seen - true)) - wanted

    bound = brentq(excess, float(seen.min()) - 9, float(seen.max()) + 9, xtol=1e-10)
    return float(bound) / root


def cpm_interval(
    cpm: float, *, n: int, mean_off_target: float, sd: float, confidence: float = 0.95
) -> Interval:
    """Two-sided interval of Cpm by Boyles' chi-square approximation.

    mean_off_target: mean - target; sd with divisor n - 1, in the same unit.
    """
    n = _jobs(n)
    off = mean_off_target**2 / (require_sd(sd) ** 2 * (n - 1) / n)
    return cp_interval(cpm, df=n * (1 + off) ** 2 / (1 + 2 * off), confidence=confidence)


def require_limits(lower: float | None, upper: float | None) -> None:
    """Raises BadInput unless there is a limit, finite, and the lower is under the upper."""
    given = [require_number(x, what="A limit") for x in (lower, upper) if x is not None]
    if not given:
        raise BadInput(why="Capability needs a lower or an upper limit.")
    if len(given) == 2 and not given[0] < given[1]:
        raise BadInput(why=f"The lower limit {given[0]:g} is not under the upper {given[1]:g}.")


def require_confidence(confidence: float) -> float:
    confidence = require_number(confidence, what="The confidence", above=0)
    if confidence >= 1:
        raise BadInput(why=f"The confidence must be under 1; got {confidence:g}.")
    return confidence


def require_sd(sd: float) -> float:
    sd = require_number(sd, what="The standard deviation", above=-1e-300)
    if sd == 0:
        raise BadInput(why="All readings are alike: the instrument is too coarse to show a spread.")
    return sd


def _cpk_sd(cpk: float, n: int, df: float | None) -> float:
    n = _jobs(n)
    df = n - 1 if df is None else require_number(df, what="Degrees of freedom", above=0)
    return math.sqrt(1 / (9 * n) + require_number(cpk, what="Cpk") ** 2 / (2 * df))


def _jobs(n: int) -> int:
    if n < 2:
        raise BadInput(why=f"An interval needs two readings or more; got {n}.")
    return n


def _quantile(p: float) -> float:
    return float(ndtri(p))
