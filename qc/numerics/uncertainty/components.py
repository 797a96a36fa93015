"""Standard uncertainties of single sources, and their combination (JCGM 100:2008).

Degrees of freedom: None stands for infinitely many, as where a figure comes from a certificate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy.typing as npt
from scipy.special import ndtri, stdtrit

from qc.errors import BadInput
from qc.numerics.checks import require_between, require_finite, require_same_length
from qc.numerics.results import Combined, PooledSpread

Shape = Literal["rectangular", "triangular", "u-shaped"]
DIVISOR: dict[Shape, float] = {
    "rectangular": math.sqrt(3.0),
    "triangular": math.sqrt(6.0),
    "u-shaped": math.sqrt(2.0),
}


def standard_u(half_width: float, *, shape: Shape) -> float:
    """Standard uncertainty of a value known only to lie within +- half_width, same unit.

    Source: JCGM 100:2008 4.3.7 and 4.3.9; the u-shaped (arcsine) divisor from memory.
    """
    width = require_between(half_width, what="A half width", lowest=0.0, highest=math.inf)
    return width / DIVISOR[shape]


def resolution_u(step: float) -> float:
    """Standard uncertainty left by rounding to a step: step / sqrt(12), same unit.

    Source: JCGM 100:2008 F.2.2.1.
    """
    return standard_u(step / 2.0, shape="rectangular")


def mean_u(readings: npt.ArrayLike) -> float:
    """Standard uncertainty of the mean of n >= 2 repeats, s / sqrt(n), with n - 1 freedom.

    Source: JCGM 100:2008 4.2.3. Raises TooFewReadings, NotFinite.
    """
    sample = require_finite(readings, what="A reading", at_least=2)
    return float(sample.std(ddof=1)) / math.sqrt(sample.size)


def pooled_sd(groups: Sequence[npt.ArrayLike]) -> PooledSpread:
    """Standard deviation within groups, each about its own mean, pooled over their freedom.

    Returns PooledSpread(sd_mm, df); df is the sum of (size - 1), and sd_mm is None when that is 0.
    Source: pooled variance as in ISO 5725-2 (from memory). Raises TooFewReadings on an empty group.
    """
    samples = [require_finite(group, what="A reading") for group in groups]
    df = sum(sample.size - 1 for sample in samples)
    if df == 0:
        return PooledSpread(sd_mm=None, df=0)
    squares = math.fsum(float(((sample - sample.mean()) ** 2).sum()) for sample in samples)
    return PooledSpread(sd_mm=math.sqrt(squares / df), df=df)


def combine(u: Sequence[float], df: Sequence[float | None], *, coverage: float = 0.95) -> Combined:
    """Root sum of squares of independent parts, its effective freedom, and the expanded figure.

    u: n >= 1 standard uncertainties already in the unit of the result (sensitivities applied).
    df: degrees of freedom of each, at least 1, None = infinite.
    Returns Combined; k is the two-sided Student factor at the freedom cut down to a whole number.
    Source: JCGM 100:2008 5.1.2, G.4.1 (Welch-Satterthwaite), G.4.2.
    """
    require_same_length(uncertainty=u, freedom=df)
    parts = require_finite(u, what="An uncertainty").tolist()
    if min(parts) < 0 or any(freedom is not None and not freedom >= 1 for freedom in df):
        raise BadInput(why="An uncertainty is never negative and its freedom is 1 or more.")
    require_between(coverage, what="A coverage", lowest=0.5, highest=0.9999)
    u_c = math.hypot(*parts)
    # Shares of the total, so that neither tiny nor huge units lose the fourth power.
    limited = [
        (part / u_c) ** 4 / freedom
        for part, freedom in zip(parts, df, strict=True)
        if freedom is not None and math.isfinite(freedom) and part > 0
    ]
    effective = 1.0 / math.fsum(limited) if limited else None
    k = _coverage_factor(effective, coverage)
    return Combined(u_mm=u_c, df=effective, k=k, expanded_mm=k * u_c)


def _coverage_factor(df: float | None, coverage: float) -> float:
    upper = (1.0 + coverage) / 2.0
    # A single part's own freedom can come back a rounding error short of its whole number.
    return float(ndtri(upper) if df is None else stdtrit(math.floor(df + 1e-9), upper))
