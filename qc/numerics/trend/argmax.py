"""Where a wandering sum with a peak is highest: the law behind a break's interval (Bai 1997)."""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import log_ndtr, ndtr


def argmax_quantile(p: float, ratio: float) -> float:
    """The p-quantile of the place, in units of the left side's variance over step squared."""
    reach = 10.0
    while not argmax_cdf(-reach, ratio) < p < argmax_cdf(reach, ratio):
        reach *= 2
    return float(brentq(lambda v: argmax_cdf(v, ratio) - p, -reach, reach, xtol=1e-8))


def argmax_cdf(v: float, ratio: float) -> float:
    """Where a two-sided Wiener process with drift -|v|/2 is highest; variance 1 on the left and
    `ratio` on the right (Bai 1997, appendix)."""
    if v > 0:
        # The right side is the left one of the process turned round, on its own scale.
        return 1 - argmax_cdf(-v / ratio, 1 / ratio)
    x, root = -v, math.sqrt(-v)
    a = (1 + 1 / ratio) / (2 * ratio)
    b = 0.5 + 1 / ratio
    c = ratio * (ratio + 2) / (ratio + 1)
    d = (ratio + 2) ** 2 / (ratio + 1)
    return (
        -math.sqrt(x / (2 * math.pi)) * math.exp(-x / 8)
        - c * math.exp(a * x + float(log_ndtr(-b * root)))
        + (d - 2 + x / 2) * float(ndtr(-root / 2))
    )
